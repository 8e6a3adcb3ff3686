"""Asks before faults are cleared."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.bench_words import technicians
from app.clear_words import clear_words
from app.output_messages import ClearFaults, ReadFaults
from app.report_age import craft_report
from screens.sheet import Sheet
from screens.widgets.key import Key

if TYPE_CHECKING:
    from collections.abc import Callable

    from app.board import Board
    from app.clear_words import ClearWords
    from app.diagnosis import Report
    from screens.actions import Actions

LOOK_S = 0.7
"""A second touch this soon after the page or its keys changed was meant for what stood there before (our own
figure: longer than a double touch, shorter than it takes to read the page)."""


class ClearPage(Sheet):
    """Of the report that was the newest when the page was opened; its key clears that one or nothing."""

    name = "check/clear"

    def __init__(self, actions: Actions, **kwargs):
        self._actions = actions
        self._shown: Report | None = None
        self._since = 0.0
        super().__init__(**kwargs)
        self._keep = Key(text="Keep", action=lambda: actions.open(""))
        self._clear = Key(action=lambda: self._looked(self._clear_now))
        self._reread = Key(text="Read again", action=lambda: self._looked(self._read_again))
        person = technicians()[0]
        self._who = Key(
            text=f"Sign in\n{person.name}", action=lambda: self._looked(lambda: actions.sign_in(person))
        )
        self.fbind("parent", self._left)

    def show(self, board: Board) -> None:
        """See Page."""
        if self._shown is None:
            self._shown = craft_report(board.moment)
            self.name = ""
        said = clear_words(board.moment, self._shown)
        if said.name != self.name:
            self.name, self._since = said.name, self._actions.clock()
        self._clear.text = f"Clear {said.clears}\nnow"
        self.fill(said.title, said.lines, self._foot(said))

    def _foot(self, said: ClearWords) -> list[Key | None]:
        middle = self._who if said.sign_in else self._reread if said.read else None
        return [self._keep, middle, self._clear if said.clears else None]

    def _looked(self, act: Callable[[], None]) -> None:
        if self._actions.clock() - self._since >= LOOK_S:
            act()

    def _clear_now(self) -> None:
        if self._shown is not None:
            self._actions.ask(ClearFaults(self._shown.number, self._actions.clock()))
            self._actions.open("")

    def _read_again(self) -> None:
        self._actions.ask(ReadFaults())
        self._actions.open("")

    def _left(self, _page: ClearPage, parent: object) -> None:
        if parent is None:
            self._shown = None
