"""Choosing by touch which values stand on the first page, and which on the chart."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.choosing import OWN, Choosing
from screens.key_grid import CELLS, KeyGrid
from screens.widgets.key import Key

if TYPE_CHECKING:
    from app.board import Board
    from app.choosing import Entry
    from screens.actions import Actions

PLACES = CELLS - 2
"""Things to touch on one part: the last two places hold Back and the key for the next part."""


class ChoosePage(KeyGrid):
    """Six things to touch, the way back, and the next six."""

    def __init__(self, actions: Actions, *, kind: str, leads_to: str, **kwargs):
        self._choosing = Choosing(kind)
        self._actions, self._leads_to = actions, leads_to
        self._board: Board | None = None
        self._part = 0
        self._shown: tuple[list[Entry], int] | None = None
        super().__init__(**kwargs)
        self._back = Key(text="Back", action=self._go_back)
        self._next = Key(action=self._turn)
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
        entries = choosing.entries(board)
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
        last = self._own if self._choosing.step == "place" else self._next if more else None
        self.put([*keys, self._back, last])

    def _pick(self, key: str) -> None:
        if self._board is not None:
            self._choosing.pick(key, self._board)
            self._part = 0

    def _turn(self) -> None:
        self._part += 1

    def _go_back(self) -> None:
        self._part = 0
        if not self._choosing.back():
            self._actions.open(self._leads_to)
