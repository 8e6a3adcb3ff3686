"""A page of things to touch, part by part, with a way back: what is touched leads to the next step."""

from __future__ import annotations

from typing import TYPE_CHECKING

from screens.key_grid import CELLS, KeyGrid
from screens.widgets.key import Key

if TYPE_CHECKING:
    from app.board import Board
    from app.choosing import Entry

PLACES = CELLS - 2
"""Things to touch on one part: the last two places hold Back and the key for the next part."""


class PickPage(KeyGrid):
    """Six things to touch, the way back, and the next six; who derives says what they are and do."""

    def __init__(self, **kwargs):
        self._board: Board | None = None
        self._part = 0
        self._shown: tuple[list[Entry], int] | None = None
        super().__init__(**kwargs)
        self._back = Key(text="Back", action=self._go_back)
        self._next = Key(action=self._turn)

    def offer(self, entries: list[Entry]) -> None:
        """Show these; the same ones again change nothing."""
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
        self.put([*keys, self._back, self._last(more=more)])

    def _last(self, *, more: bool) -> Key | None:
        """The key of the last place."""
        return self._next if more else None

    def _turn(self) -> None:
        self._part += 1

    def _pick(self, key: str) -> None:
        raise NotImplementedError

    def _go_back(self) -> None:
        raise NotImplementedError
