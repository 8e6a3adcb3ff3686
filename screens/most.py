"""The least and the most of every value since this craft was found."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.extremes import extreme_rows, number_pages
from app.pages import TILES, SignalPage
from app.show import age_words
from screens import layouts
from screens.page import Page
from screens.widgets.grid import Grid
from screens.widgets.key import Key
from screens.widgets.table import Table

if TYPE_CHECKING:
    from app.board import Board
    from screens.actions import Actions

layouts.load(__file__)

__all__ = ["Grid", "MostPage", "Table"]

SURE_S = 4.0
"""The second touch must come so soon; later the first is forgotten."""


class MostPage(Page):
    """One subsystem a page: what, least, most; a key that begins anew asks once more."""

    name = "ride/most"

    def __init__(self, actions: Actions, **kwargs):
        super().__init__(**kwargs)
        self._clock = actions.clock
        self._number = 0
        self._asked: float | None = None
        self._board: Board | None = None
        self._reset = Key(action=self._begin_anew)
        self._next = Key(action=self._turn)
        back = Key(text="Back", action=lambda: actions.open("more"))
        for key in (back, self._reset, Key(text="Earlier", action=lambda: self._turn(-1)), self._next):
            self.ids.foot.add_widget(key)

    def came(self) -> None:
        """See Page."""
        self._number, self._asked = 0, None

    def show(self, board: Board) -> None:
        """See Page."""
        self._board = board
        moment = board.moment
        if moment.catalogue is None:
            return
        pages = number_pages(board.pages, moment.catalogue) or [SignalPage("No numbers", ())]
        self._number %= len(pages)
        page = pages[self._number]
        since = age_words(max(1.0, moment.now - board.extremes.since))
        head = (page.title, "least", "most", f"in {since}")
        self.ids.table.show(head, [tuple(row) for row in extreme_rows(page, board.extremes, moment)], TILES)
        self._next.text = f"Page\n{self._number + 1} / {len(pages)}"
        if self._asked is not None and moment.now - self._asked > SURE_S:
            self._asked = None
        self._reset.text = "Sure?\nTouch again" if self._asked is not None else "Begin\nanew"
        self._reset.here = self._asked is not None

    def words(self) -> list[str]:
        """See Page."""
        return list(self.ids.table.texts)

    def _turn(self, by: int = 1) -> None:
        self._number += by
        self._asked = None

    def _begin_anew(self) -> None:
        now = self._clock()
        if self._asked is None:
            self._asked = now
        elif self._board is not None:
            self._board.extremes.reset(now)
            self._asked = None
