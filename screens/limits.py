"""Limits of one craft: which, its number, and why."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.book_words import craft_of
from app.entry import Kind
from app.limiting import BACK_TO_FAMILY, Limiting
from screens.pick_page import PickPage

if TYPE_CHECKING:
    from app.board import Board
    from screens.actions import Actions


class LimitsPage(PickPage):
    """The list of limits; then keys that move the number; then the reasons for it."""

    def __init__(self, actions: Actions, **kwargs):
        self._limiting, self._actions = Limiting(), actions
        super().__init__(**kwargs)

    def came(self) -> None:
        """See Page."""
        self._part = 0
        self._limiting.begin()

    def show(self, board: Board) -> None:
        """See Page."""
        self._board = board
        limiting = self._limiting
        self.name = f"check/limits_{limiting.step}"
        self.title, self.note = limiting.title(board), limiting.note(board)
        self.offer(limiting.entries(board))

    def _pick(self, key: str) -> None:
        if self._board is None:
            return
        limiting, board = self._limiting, self._board
        if key == BACK_TO_FAMILY:
            _note(self._actions, board, limiting.take_back(board))
        elif limiting.step == "reason":
            _note(self._actions, board, limiting.reason(key, board))
        elif limiting.step == "number":
            limiting.move(key)
        else:
            limiting.pick(key, board)

    def _go_back(self) -> None:
        if self._limiting.step == "limit":
            self._actions.open("identity")
        self._limiting.begin()


def _note(actions: Actions, board: Board, text: str) -> None:
    if text and actions.keeper is not None:
        actions.keeper.noted(Kind.NOTE, craft_of(board.moment), {"text": f"Limit of this craft: {text}"})
