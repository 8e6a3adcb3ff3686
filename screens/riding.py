"""Ride mode: three values to be read at a glance, one key that marks the moment, everything else locked."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kivy.properties import BooleanProperty

from app.ride_words import MARKED_S, SHOWN, mark_key, ride_signals, ride_tile
from screens import layouts
from screens.page import Page
from screens.widgets.grid import Grid
from screens.widgets.hold import ArmKey
from screens.widgets.key import Key
from screens.widgets.value_tile import BigTile

if TYPE_CHECKING:
    from app.board import Board
    from screens.actions import Actions

layouts.load(__file__)

__all__ = ["BigTile", "Grid", "MarkKey", "RidingPage"]


class MarkKey(Key):
    """Knows when the finger came down: that is the moment which is marked."""

    def __init__(self, actions: Actions, **kwargs):
        super().__init__(**kwargs)
        self._clock, self._mark = actions.clock, actions.mark
        self._began = 0.0
        self.marked_at = float("-inf")

    def begin(self) -> None:
        """See Key."""
        self._began = self._clock()

    def act(self) -> None:
        """See Key."""
        self._mark(self._began)
        self.marked_at = self._clock()


class RidingPage(Page):
    """Values above; below them the key, and once the engine idles the key that unlocks the glass."""

    name = "ride/locked"
    full = True
    opens = BooleanProperty(False)

    def __init__(self, actions: Actions, **kwargs):
        self._riding, self._clock = actions.riding, actions.clock
        super().__init__(**kwargs)
        self._cells = [BigTile() for _ in range(SHOWN)]
        for cell in self._cells:
            self.ids.cells.add_widget(cell)
        self._mark = MarkKey(actions, kind="ride_key", here=True)
        self._unlock = ArmKey(kind="title", text="Hold to\nunlock")
        self._unlock.began = lambda: self._riding.hold(actions.clock())
        self._unlock.ended = lambda _cause: self._riding.let_go()
        self.ids.mark.add_widget(self._mark)

    def show(self, board: Board) -> None:
        """See Page."""
        names = ride_signals(board)
        for number, cell in enumerate(self._cells):
            known = number < len(names)
            cell.show(ride_tile(board.tile(names[number]), board.moment) if known else None)
        marked = self._clock() - self._mark.marked_at < MARKED_S
        self._mark.text = mark_key(self._riding, marked=marked)
        self._offer()

    def sweep(self, board: Board) -> None:
        """See Page."""
        del board
        self._unlock.share = self._riding.share(self._clock())

    def _offer(self) -> None:
        """The key that unlocks stands beside the other only while it would do something."""
        if self.opens is not self._riding.may_open:
            self.opens = self._riding.may_open
            self.topic = "may be unlocked" if self.opens else ""
            self.ids.unlock.clear_widgets()
            if self.opens:
                self.ids.unlock.add_widget(self._unlock)
