"""A page of signals of one subsystem."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kivy.properties import NumericProperty, StringProperty

from app.link_words import banner
from app.pages import TILES
from screens import layouts
from screens.page import Page
from screens.page_keys import PageKeys
from screens.widgets.banner import Banner
from screens.widgets.grid import Grid
from screens.widgets.value_tile import ValueTile
from screens.widgets.writing import Writing

if TYPE_CHECKING:
    from app.board import Board
    from screens.actions import Actions

layouts.load(__file__)

__all__ = ["Banner", "Grid", "SignalsPage", "Writing"]


class SignalsPage(Page):
    """Up to eight tiles under the name of their subsystem."""

    title = StringProperty("")
    foot = NumericProperty(0)

    def __init__(self, actions: Actions, **kwargs):
        super().__init__(**kwargs)
        self._number = 2
        self._cells = [ValueTile() for _ in range(TILES)]
        self._turning = PageKeys(actions.turn)
        for widget in (*self._cells, self._turning):
            self.ids.cells.add_widget(widget)

    def open(self, number: int) -> None:
        """See Page."""
        self._number = number
        self.name = f"ride/{number}"

    def show(self, board: Board) -> None:
        """See Page."""
        page = board.pages[self._number - 1]
        self.title = page.title
        for number, cell in enumerate(self._cells):
            cell.show(board.tile(page.signals[number]) if number < len(page.signals) else None)
        self._turning.show(self._number, len(board.pages))
        self.ids.banner.text = banner(board.moment)

    def words(self) -> list[str]:
        """See Page."""
        return [text for text in (self.title, self.ids.banner.text) if text]
