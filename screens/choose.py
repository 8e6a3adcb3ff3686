"""Choosing by touch which values stand on the first page, and which on the chart."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.choosing import OWN, Choosing
from screens.pick_page import PickPage
from screens.widgets.key import Key

if TYPE_CHECKING:
    from app.board import Board
    from screens.actions import Actions


class ChoosePage(PickPage):
    """Six things to touch, the way back, and the next six."""

    def __init__(self, actions: Actions, *, kind: str, leads_to: str, **kwargs):
        self._choosing = Choosing(kind)
        self._actions, self._leads_to = actions, leads_to
        super().__init__(**kwargs)
        self._own = Key(text="As the\nfamily", action=lambda: self._pick(OWN))

    def came(self) -> None:
        """See Page."""
        self._choosing.begin()
        self._part = 0

    def show(self, board: Board) -> None:
        """See Page."""
        self._board = board
        choosing = self._choosing
        self.name = f"ride/choose_{choosing.kind}_{choosing.step}"
        self.title, self.note = choosing.title(board), choosing.note()
        self.offer(choosing.entries(board))

    def _last(self, *, more: bool) -> Key | None:
        return self._own if self._choosing.step == "place" else super()._last(more=more)

    def _pick(self, key: str) -> None:
        if self._board is not None:
            self._choosing.pick(key, self._board)
            self._part = 0

    def _go_back(self) -> None:
        self._part = 0
        if not self._choosing.back():
            self._actions.open(self._leads_to)
