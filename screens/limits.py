"""Limits of one craft: which, its number, and why."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.book_words import craft_of
from app.entry import Kind
from app.limiting import BACK_TO_FAMILY, Limiting
from screens.key_grid import CELLS, KeyGrid
from screens.widgets.key import Key

if TYPE_CHECKING:
    from app.board import Board
    from app.choosing import Entry
    from screens.actions import Actions

PLACES = CELLS - 2
"""Things to touch on one part: the last two places hold Back and the key for the next part."""


class LimitsPage(KeyGrid):
    """The list of limits; then keys that move the number; then the reasons for it."""

    def __init__(self, actions: Actions, **kwargs):
        self._limiting, self._actions = Limiting(), actions
        self._board: Board | None = None
        self._part = 0
        self._shown: tuple[list[Entry], int] | None = None
        super().__init__(**kwargs)
        self._back = Key(text="Back", action=self._go_back)
        self._next = Key(action=self._turn)

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
        entries = limiting.entries(board)
        parts = max(1, -(-len(entries) // PLACES))
        self._part %= parts
        self._next.text = f"Page\n{self._part + 1} / {parts}"
        if (entries, self._part) != self._shown:
            self._shown = (entries, self._part)
            self._lay(entries[self._part * PLACES :][:PLACES], more=parts > 1)

    def _lay(self, entries: list[Entry], *, more: bool) -> None:
        keys: list[Key | None] = []
        for entry in entries:
            key = Key(text=entry.text, action=lambda which=entry.key: self._pick(which))
            key.here = entry.here
            keys.append(key)
        keys += [None] * (PLACES - len(keys))
        self.put([*keys, self._back, self._next if more else None])

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

    def _turn(self) -> None:
        self._part += 1

    def _go_back(self) -> None:
        if self._limiting.step == "limit":
            self._actions.open("identity")
        self._limiting.begin()


def _note(actions: Actions, board: Board, text: str) -> None:
    if text and actions.keeper is not None:
        actions.keeper.noted(Kind.NOTE, craft_of(board.moment), {"text": f"Limit of this craft: {text}"})
