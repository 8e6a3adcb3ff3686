"""Keeps the craft book while the screen runs, on a thread of its own: the glass never waits for the disk."""

from __future__ import annotations

import contextlib
import sys
import threading
from collections import deque
from typing import TYPE_CHECKING, Any

from app.entry import Kind
from app.errors import BoathookError, StorageError
from app.heard_words import told_body
from app.messages import LinkState, Mode

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from app.book import Book
    from app.diagnosis import Report
    from app.entry import Entry
    from app.messages import Snapshot
    from app.operators import Operator
    from app.ports import View

LOOK_S = 2.0
"""Between looks into the bus side's journal."""

AGAIN_S = 5.0
"""Before what failed is tried again."""

AWAY_S = 4 * 3600.0
"""A craft not heard for longer is noted again: its next visit begins (app.book.VISIT_GAP_MS)."""

TOLD_AGAIN_S = 10.0
"""Between two entries of what an engine tells of its faults: a loose wire must not fill the book."""

SHOWN = 60
"""Newest entries held ready for the glass."""

MOST_WAITING = 500
"""Entries that may wait for a book that cannot be written; a day's work (our own figure)."""

STOP_S = 4.0
"""How long the end may take; whoever ends the kiosk waits for 5 s."""


class BookKeeper:
    """Notices what is new, and puts it into the book.

    ``saw``, ``signed_in``, ``checked``, ``noted`` and every attribute are for the thread that draws; none of
    them waits.

    Args:
        data: folder of the journal and the book.
        open_book: opens the book; called again after every failure.
        again_s: seconds before what failed is tried again.

    Attributes:
        entries: the newest, newest first; empty until the book is open. Replaced as a whole.
        trouble: one sentence if the book is not kept, or soon will not be; empty if all is well.
    """

    def __init__(
        self, data: Path, *, open_book: Callable[[Path], Book] | None = None, again_s: float = AGAIN_S
    ) -> None:
        self._data = data
        self._open_book = open_book or _open
        self._again_s = again_s
        self._thread = threading.Thread(target=self._run, name="book", daemon=True)
        self._ending = threading.Event()
        self._stir = threading.Event()
        self._waiting: deque[Callable[[Book], object]] = deque()
        self._craft, self._heard_at = "", 0.0
        self._report: tuple[int, float] | None = None
        self._told: tuple[str, dict[str, Any]] = ("", {})
        self._told_at = 0.0
        self._operator = ""
        self._played = False
        self._book: Book | None = None
        self._changed = False
        self._of_craft: tuple[str, tuple[Entry, ...]] = ("", ())
        self._left_out = self._room = self._notice = ""
        self.entries: tuple[Entry, ...] = ()
        self.trouble = ""

    def start(self) -> None:
        """Begin; returns at once."""
        self._thread.start()

    def stop(self) -> None:
        """Write what waits, take the journal once more, end."""
        self._ending.set()
        self._stir.set()
        if self._thread.is_alive():
            self._thread.join(STOP_S)
        if self._waiting:
            left = f"Not in the craft book are the last {len(self._waiting)} things that were to be added."
            print(f"{left} {self.trouble}", file=sys.stderr, flush=True)

    def saw(self, view: View) -> None:
        """Look at the newest view; call it once a tick."""
        snapshot = view.snapshot
        if not view.connected or snapshot is None:
            return
        self._played = snapshot.mode is Mode.REPLAY
        if self._played:
            return
        self._operator = snapshot.operator
        self._see_craft(snapshot)
        self._see_told(snapshot)
        if view.report is not None and view.report.number == snapshot.report:
            self._see_report(view.report, snapshot.operator)

    def signed_in(self, operator: Operator | None) -> None:
        """Somebody works with the tool now; nobody, and who is signed in already, makes no entry."""
        if operator is not None and operator.name != self._operator and not self._played:
            self._put(lambda book: book.sign_in(operator))

    def checked(self, craft: str, body: dict[str, Any]) -> None:
        """A quick check of a craft has a verdict (body: app.quick_words.entry_body)."""
        self.noted(Kind.QUICK_CHECK, craft, body)

    def noted(self, kind: Kind, craft: str, body: dict[str, Any]) -> None:
        """Something about a craft for the book (craft: as app.book_words.craft_of says it)."""
        if not self._played:
            who = self._operator
            self._put(lambda book: book.add(kind, craft, who, body))

    def of(self, craft: str) -> tuple[Entry, ...]:
        """The newest entries of one craft (family and serial in words), newest first."""
        name, entries = self._of_craft
        return entries if name == craft else tuple(entry for entry in self.entries if entry.craft == craft)

    def _see_craft(self, snapshot: Snapshot) -> None:
        craft, who = snapshot.craft, snapshot.operator
        if craft is None or not craft.serial or snapshot.link.state is not LinkState.FOUND:
            return
        family, serial = craft.family, craft.serial
        name = f"{family} {serial}"
        if name != self._craft or snapshot.at - self._heard_at > AWAY_S:
            self._put(lambda book: book.add_craft(family, serial, operator=who))
        self._craft, self._heard_at = name, snapshot.at

    def _see_told(self, snapshot: Snapshot) -> None:
        """Faults an engine tells come once a second; others are noted, but not each flicker of one."""
        craft = self._craft
        if snapshot.link.state is not LinkState.FOUND or snapshot.craft is None or not snapshot.heard:
            return
        if craft != f"{snapshot.craft.family} {snapshot.craft.serial}":
            return
        body = told_body(snapshot.heard)
        of, known = self._told
        before = known if of == craft else told_body(())
        if _which(body) == _which(before) or (of == craft and snapshot.at - self._told_at < TOLD_AGAIN_S):
            return
        self._told, self._told_at = (craft, body), snapshot.at
        self.noted(Kind.FAULTS_TOLD, craft, body)

    def _see_report(self, report: Report, who: str) -> None:
        known = (report.number, report.at)
        if known == self._report:
            return
        self._report = known
        if report.kind == "scan":
            self._put(lambda book: book.add_scan(report, who))
        elif report.kind == "clear":
            self._put(lambda book: book.add_clear(report, who))

    def _put(self, job: Callable[[Book], object]) -> None:
        if len(self._waiting) >= MOST_WAITING:
            self._left_out = f"More than {MOST_WAITING} entries wait for the craft book: later ones are lost."
            return
        self._waiting.append(job)
        self._stir.set()

    def _run(self) -> None:
        while not self._ending.is_set():
            self._stir.clear()
            if not self._work():
                self._ending.wait(self._again_s)
            elif not self._ending.is_set():
                self._stir.wait(LOOK_S)
        self._work()
        self._close()

    def _work(self) -> bool:
        """Do all there is to do. False if something failed; it waits."""
        failure = ""
        try:
            if self._book is None:
                self._book, self._changed = self._open_book(self._data), True
                self._notice = self._book.notice or self._notice
            self._add_waiting(self._book)
            self._show(self._book)
            self._changed = self._book.take_journal(self._data / "journal.jsonl").added > 0
            self._show(self._book)
            self._room = self._book.trouble()
        except Exception as error:  # noqa: BLE001 - whatever it is, what comes later must be kept
            failure = str(error) if isinstance(error, BoathookError) else f"The craft book fails: {error!r}."
            self._close()
        self.trouble = failure or self._left_out or self._room or self._notice
        return not failure

    def _add_waiting(self, book: Book) -> None:
        while self._waiting:
            try:
                self._waiting[0](book)
            except (StorageError, OSError):
                raise
            except Exception as error:  # noqa: BLE001 - the same will happen at every try: the next ones count
                self._left_out = f"Something could not be put into the craft book: {error}."
                print(self._left_out, file=sys.stderr, flush=True)
            self._waiting.popleft()
            self._changed = True

    def _show(self, book: Book) -> None:
        craft = self._craft
        if self._changed:
            self.entries = tuple(book.entries(limit=SHOWN))
        if craft and (self._changed or craft != self._of_craft[0]):
            self._of_craft = craft, tuple(book.entries(craft, SHOWN))
        self._changed = False

    def _close(self) -> None:
        """After a failure nothing is taken for granted: the book is opened anew."""
        if self._book is not None:
            with contextlib.suppress(Exception):  # it failed already
                self._book.close()
            self._book = None


def _which(body: dict[str, Any]) -> tuple[set[tuple[int, int, int]], list[str]]:
    """The codes and lamps of an entry, without how often they were active."""
    return {(one["source"], one["spn"], one["fmi"]) for one in body["active"]}, body["lamps"]


def _open(data: Path) -> Book:
    from app.book import Book  # noqa: PLC0415 - the window is there before the database is read

    return Book.open(data)
