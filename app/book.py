"""The craft book: what was seen and done, on which craft, by whom. Entries are added and never changed."""

from __future__ import annotations

import uuid
from typing import TYPE_CHECKING, Any

import msgspec

from app.boot import boot_id
from app.canonical import canonical
from app.chain import Broken, check
from app.clocks import Clocks
from app.entry import Draft, Entry, Kind
from app.errors import UsageError
from app.journal_draft import NAMES, JournalDrafts, Taken
from app.journal_file import read_journal
from app.store_open import open_store, read_store

if TYPE_CHECKING:
    from pathlib import Path

    from app.diagnosis import Report
    from app.operators import Operator
    from app.store import Store

VISIT_GAP_MS = 4 * 3600 * 1000
"""A craft not heard of for longer begins a new visit (our own figure)."""


class Book:
    """An open book.

    Attributes:
        notice: one sentence to be shown to a person after opening; empty if all is well.
    """

    def __init__(self, store: Store, clocks: Clocks, *, notice: str = "") -> None:
        self._store = store
        self._clocks = clocks
        self._drafts = JournalDrafts(store.start_of)
        self.notice = notice

    @classmethod
    def open(cls, data: Path, clocks: Clocks | None = None) -> Book:
        """Open the book of a data folder for writing, begin one if there is none.

        Raises:
            StorageError: it cannot be opened.
        """
        opened = open_store(data)
        notice = ""
        if opened.aside:
            some = (
                f"{opened.kept} entries could be read and stand" if opened.kept else "nothing readable stands"
            )
            notice = (
                f"The craft book was damaged. It was put aside as {opened.aside} and a new one was begun: "
                f"{some} in it."
            )
        book = cls(opened.store, clocks or Clocks(boot_id()), notice=notice)
        book._add_beginning(opened.aside, opened.kept)
        return book

    @classmethod
    def read(cls, data: Path) -> Book:
        """Open the book of a data folder for reading only.

        Raises:
            StorageError: there is none, or it cannot be read.
        """
        return cls(read_store(data), Clocks(boot_id()))

    def close(self) -> None:
        """Close the file."""
        self._store.close()

    @property
    def device(self) -> str:
        """UUID of this book."""
        return self._store.device

    def trouble(self) -> str:
        """A sentence if the storage is nearly full, else empty."""
        return self._store.room()

    def add(self, kind: Kind, craft: str, operator: str, body: dict[str, Any]) -> Entry:
        """Add an entry; it is on the disk when this returns.

        Args:
            kind: what it tells of.
            craft: family and serial in words, empty = of no craft.
            operator: name, empty = nobody was signed in.
            body: JSON values.

        Raises:
            StorageError: it was not added.
            ValueError: the body holds something JSON cannot say.
        """
        draft = Draft(str(uuid.uuid4()), craft, self._visit(craft), operator, kind, body)
        return self._store.append([draft], self._clocks)[0]

    def sign_in(self, operator: Operator) -> Entry:
        """Somebody works with the tool now."""
        return self.add(Kind.SIGN_IN, "", operator.name, {"role": operator.role.value})

    def add_scan(self, report: Report, operator: str = "") -> Entry:
        """Keep a reading of identity and faults; the same report is kept once.

        Raises:
            StorageError: it was not added.
            ValueError: the report is none of a reading.
        """
        return self._add_report(Kind.SCAN, report, operator)

    def add_clear(self, report: Report, operator: str = "") -> Entry:
        """Keep what a clearing did; the same report is kept once.

        Raises:
            StorageError: it was not added.
            ValueError: the report is none of a clearing.
        """
        return self._add_report(Kind.CLEAR, report, operator)

    def add_craft(self, family: str, serial: str, hull_number: str = "", operator: str = "") -> Entry:
        """A craft was seen: begin a visit, unless one is under way and nothing is new.

        Args:
            family: folder name of the family.
            serial: of the engine controller, as text.
            hull_number: as a person read it off the hull; empty keeps the one known.
            operator: name.

        Returns:
            The entry that holds now; its id names the visit.

        Raises:
            StorageError: it was not added.
        """
        craft = f"{family} {serial}"
        seen = self._store.newest(craft, Kind.CRAFT_SEEN)
        known = "" if seen is None else str(seen.body.get("hull_number", ""))
        body = {"family": family, "serial": serial, "hull_number": hull_number or known}
        last = self._store.newest(craft)
        if seen is not None and last is not None and seen.body == body and self._still_here(last):
            return seen
        own = str(uuid.uuid4())
        visit = own if seen is None or last is None or not self._still_here(last) else seen.visit
        draft = Draft(own, craft, visit, operator, Kind.CRAFT_SEEN, body)
        return self._store.append([draft], self._clocks)[0]

    def newest(self, craft: str) -> Entry | None:
        """What is known about a craft: its newest "craft seen" by logical time; None if it never was."""
        return self._store.newest(craft, Kind.CRAFT_SEEN)

    def crafts(self) -> list[Entry]:
        """The newest "craft seen" of every craft, newest first."""
        return self._store.newest_of_each(Kind.CRAFT_SEEN)

    def entries(
        self,
        craft: str | None = None,
        limit: int = 50,
        before: Entry | None = None,
        *,
        audit: bool = False,
    ) -> list[Entry]:
        """Newest first by logical time, of one craft or of all.

        Args:
            craft: family and serial in words, None = all.
            limit: at most so many.
            before: only what is older than this one: the last entry of the page above.
            audit: those of app.entry.AUDIT too.
        """
        return self._store.entries(craft, limit, before, audit=audit)

    def hidden(self, craft: str | None = None) -> int:
        """How many entries ``entries`` leaves out, of one craft or of all."""
        return self._store.hidden(craft)

    def entry(self, number: int, device: str | None = None) -> Entry:
        """One entry, of this device if no other is named.

        Raises:
            UsageError: there is none with this number.
        """
        entry = self._store.by_number(number, device)
        if entry is None:
            raise UsageError(
                f"There is no entry {number} in the craft book. See what there is: boathook book list"
            )
        return entry

    def verify(self) -> list[Broken]:
        """Everything in the book that is not as it was written; empty if all is well."""
        return list(check(self._store.in_order()))

    def count(self) -> int:
        """How many entries there are, of all devices."""
        return self._store.count()

    def take_journal(self, path: Path) -> Taken:
        """Add what the bus side's journal says and the book does not know yet: once, in its order.

        How far it was read stands in the book, so that the next start goes on there.

        Raises:
            StorageError: the journal cannot be read, or the book takes no more; nothing was added.
        """
        part = read_journal(path, self._store.mark(path.name))
        visits: dict[str, str] = {}

        def visit_of(craft: str) -> str:
            if craft not in visits:
                visits[craft] = self._visit(craft)
            return visits[craft]

        drafts = [self._drafts.draft(line, visit_of) for line in part.lines]
        added = self._store.append(drafts, self._clocks, (path.name, part.mark)) if drafts else []
        damaged = sum(entry.kind == Kind.JOURNAL_DAMAGED for entry in added)
        return Taken(len(added), damaged, part.waiting)

    def _add_beginning(self, aside: str, kept: int) -> None:
        if self._store.by_number(1) is None:
            own = str(uuid.uuid5(NAMES, self.device))
            draft = Draft(own, "", "", "", Kind.BOOK_BEGUN, {"aside": aside, "kept": kept}, once=True)
            self._store.append([draft], self._clocks)

    def _add_report(self, kind: Kind, report: Report, operator: str) -> Entry:
        if report.kind != kind.value:
            raise ValueError(f"a report of a {report.kind} is no {kind.value}")
        body = msgspec.to_builtins(report)
        own = str(uuid.uuid5(NAMES, canonical(body)))
        draft = Draft(own, report.craft, self._visit(report.craft), operator, kind, body, once=True)
        added = self._store.append([draft], self._clocks)
        known = added[0] if added else self._store.by_id(own)
        assert known is not None
        return known

    def _visit(self, craft: str) -> str:
        """The visit of this craft that is under way; empty if it was never seen."""
        seen = self._store.newest(craft, Kind.CRAFT_SEEN) if craft else None
        return "" if seen is None else seen.visit

    def _still_here(self, last: Entry) -> bool:
        """Whether the newest entry of a craft is so fresh that the visit goes on."""
        since_boot = int(self._clocks.mono() * 1000) - last.mono_ms
        if last.boot == self._clocks.boot != "" and 0 <= since_boot < VISIT_GAP_MS:
            return True
        return last.wall_trusted and 0 <= int(self._clocks.wall() * 1000) - last.wall_ms < VISIT_GAP_MS
