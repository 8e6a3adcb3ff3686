"""One fault with every value that came with it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.book_words import craft_of
from app.entry import Kind
from app.fault_notes import CHOICES, note_body, note_lines
from app.fault_words import fault_words, in_rows
from app.output_words import Line as Words
from app.report_age import craft_report
from screens.sheet import Sheet
from screens.widgets.key import Key

if TYPE_CHECKING:
    from app.board import Board
    from app.diagnosis import Fault
    from screens.actions import Actions


class FaultPage(Sheet):
    """Of the faults of the newest reading, in the order of the list; a new reading changes not which."""

    name = "check/fault"

    def __init__(self, actions: Actions, **kwargs):
        self._faults: list[Fault] = []
        self._shown: tuple[str, int] | None = None
        self._keeper, self._craft = actions.keeper, ""
        super().__init__(**kwargs)
        self._back = Key(text="Back", action=lambda: actions.open(""))
        self._next = Key(text="Next", action=self._go)
        self._note = Key(text="Note", action=self._write)
        self._leave = Key(text="Back", action=self._stop)
        self._choices = [
            Key(text=text, action=lambda words=words: self._put_down(words))
            for words, text in CHOICES.items()
        ]
        self._noting = False

    def came(self) -> None:
        """See Page."""
        self._noting = False

    def show(self, board: Board) -> None:
        """See Page."""
        report = craft_report(board.moment)
        self._craft = craft_of(board.moment)
        self._faults = in_rows(report)
        if report is None or not self._faults:
            self.fill("No faults to show", [Words("Go back and read them.")], [self._back])
            return
        if self._noting:
            kept = "It stands in the book with time and name, and beside this fault."
            what = [Words("Touch what was done.", kept)]
            first, *others = self._choices  # a double touch of Note must meet no choice, so Back stands there
            self.fill(f"Note on {self._one.code}", what, [first, self._leave, *others])
            return
        entries = () if self._keeper is None else self._keeper.of(self._craft)
        notes = note_lines(entries, self._one)
        title, lines = fault_words(board.moment, report, self._faults, self._place(), notes)
        note = self._note if self._keeper is not None else None
        self.fill(title, lines, [self._back, note, self._next if len(self._faults) > 1 else None])

    @property
    def _one(self) -> Fault:
        return self._faults[self._place()]

    def _place(self) -> int:
        keys = [(one.module, one.number) for one in self._faults]
        return keys.index(self._shown) if self._shown in keys else 0

    def _go(self) -> None:
        """Behind the last comes the first."""
        if self._faults:
            one = self._faults[(self._place() + 1) % len(self._faults)]
            self._shown = one.module, one.number

    def _write(self) -> None:
        self._noting = True

    def _stop(self) -> None:
        self._noting = False

    def _put_down(self, words: str) -> None:
        self._noting = False
        if self._keeper is not None and self._faults:
            self._keeper.noted(Kind.NOTE, self._craft, note_body(self._one, words))
