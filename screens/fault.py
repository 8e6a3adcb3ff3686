"""One fault with every value that came with it."""

from __future__ import annotations

from typing import TYPE_CHECKING

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
        super().__init__(**kwargs)
        self._back = Key(text="Back", action=lambda: actions.open(""))
        self._previous = Key(text="Previous", action=lambda: self._go(-1))
        self._next = Key(text="Next", action=lambda: self._go(1))

    def show(self, board: Board) -> None:
        """See Page."""
        report = craft_report(board.moment)
        self._faults = in_rows(report)
        if report is None or not self._faults:
            self.fill("No faults to show", [Words("Go back and read them.")], [self._back])
            return
        title, lines = fault_words(board.moment, report, self._faults, self._place())
        others = [self._previous, self._next] if len(self._faults) > 1 else []
        self.fill(title, lines, [self._back, *others])

    def _place(self) -> int:
        keys = [(one.module, one.number) for one in self._faults]
        return keys.index(self._shown) if self._shown in keys else 0

    def _go(self, by: int) -> None:
        if self._faults:
            one = self._faults[(self._place() + by) % len(self._faults)]
            self._shown = one.module, one.number
