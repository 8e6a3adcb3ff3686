"""A page of signals of one subsystem, whose figures can be stopped."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kivy.properties import NumericProperty, StringProperty
from kivy.uix.widget import Widget

from app.derived import BY_NAME
from app.link_words import banner
from app.pages import TILES
from app.show import frozen_words
from screens import layouts, theme
from screens.page import Page
from screens.page_keys import INSET_MM, PageKeys
from screens.widgets.banner import Banner
from screens.widgets.grid import Grid
from screens.widgets.key import Key
from screens.widgets.value_tile import ValueTile
from screens.widgets.writing import Writing

if TYPE_CHECKING:
    from app.board import Board
    from screens.actions import Actions

layouts.load(__file__)

__all__ = ["Banner", "Grid", "SignalsPage", "Writing"]


WORKED_OUT = "= worked out, not sent"
"""What the mark before some labels means; said on every page that has one."""


class SignalsPage(Page):
    """Up to seven tiles under the name of their subsystem."""

    title = StringProperty("")
    beside = StringProperty("")
    foot = NumericProperty(0)

    def __init__(self, actions: Actions, **kwargs):
        super().__init__(**kwargs)
        self._number = 2
        self._cells = [ValueTile() for _ in range(TILES)]
        self._board: Board | None = None
        self._freeze = Key(action=self._stop_or_go)
        # The last column has no width: its gap keeps More away from Back in the next cell.
        doing = Grid(rows=[1], columns=[1, 1, 0], gap=theme.mm(3), inset=theme.mm(INSET_MM))
        for widget in (self._freeze, Key(text="More", action=lambda: actions.open("more")), Widget()):
            doing.add_widget(widget)
        self._turning = PageKeys(actions.turn)
        for widget in (*self._cells, doing, self._turning):
            self.ids.cells.add_widget(widget)

    def open(self, number: int) -> None:
        """See Page."""
        self._number = number
        self.name = f"ride/{number}"

    def show(self, board: Board) -> None:
        """See Page."""
        self._board = board
        page = board.pages[self._number - 1]
        self.title = page.title
        self.beside = WORKED_OUT if any(name in BY_NAME for name in page.signals) else ""
        for number, cell in enumerate(self._cells):
            cell.show(board.tile(page.signals[number]) if number < len(page.signals) else None)
        self._turning.show(self._number, len(board.pages))
        frozen = board.frozen_at is not None
        self._freeze.text = "Go live" if frozen else "Freeze"
        self._freeze.here = frozen
        line: Banner = self.ids.banner
        if board.frozen_at is None:
            line.loud, line.shape, line.title = False, "triangle", self.title
            line.text = banner(board.moment)
            return
        alarms = board.alarms()
        line.loud, line.shape, line.title = bool(alarms), "square" if alarms else "bars", ""
        line.text = frozen_words(board.moment.now - board.frozen_at, alarms)

    def words(self) -> list[str]:
        """See Page."""
        return [text for text in (self.title, self.ids.banner.text or self.beside) if text]

    def _stop_or_go(self) -> None:
        if self._board is not None:
            if self._board.frozen_at is None:
                self._board.freeze()
            else:
                self._board.thaw()
