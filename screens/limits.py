"""Limits of one craft: which, its number on a pad, and why."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.book_words import craft_of
from app.entry import Kind
from screens.key_grid import CELLS, KeyGrid
from screens.page import Page
from screens.widgets.key import Key
from screens.widgets.number_pad import NumberPad

if TYPE_CHECKING:
    from app.board import Board
    from app.choosing import Entry
    from app.limiting import Limiting
    from screens.actions import Actions

PLACES = CELLS - 2
"""Things to touch on one part: the last two places hold Back and the key for the next part."""


class LimitsPage(KeyGrid):
    """The list of limits, and after the number the reasons for it."""

    def __init__(self, actions: Actions, limiting: Limiting, **kwargs):
        self._limiting, self._actions = limiting, actions
        self._board: Board | None = None
        self._part = 0
        self._shown: tuple[list[Entry], int] | None = None
        super().__init__(**kwargs)
        self._back = Key(text="Back", action=self._go_back)
        self._next = Key(action=self._turn)

    def came(self) -> None:
        """See Page."""
        self._part = 0
        if self._limiting.step != "reason":
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
        if self._limiting.step == "reason":
            _note(self._actions, self._board, self._limiting.reason(key, self._board))
            return
        self._limiting.pick(key, self._board)
        if self._limiting.step == "number":
            self._actions.open("limit_pad")

    def _turn(self) -> None:
        self._part += 1

    def _go_back(self) -> None:
        if self._limiting.step == "reason":
            self._limiting.begin()
        else:
            self._actions.open("identity")


class LimitPadPage(Page):
    """The number, on a pad over the whole glass."""

    name = "check/limit_pad"
    full = True

    def __init__(self, actions: Actions, limiting: Limiting, **kwargs):
        self._limiting, self._actions = limiting, actions
        super().__init__(**kwargs)
        self._pad = NumberPad(self._taken, lambda: actions.open("limits"))
        self.add_widget(self._pad)

    def came(self) -> None:
        """See Page."""
        asked = self._limiting.asked()
        if asked is not None:
            self._pad.ask(*asked)

    def show(self, board: Board) -> None:
        """See Page."""
        self._pad.see(board.moment.turning)

    def _taken(self, value: float) -> None:
        self._limiting.number(value)
        self._actions.open("limits")


def _note(actions: Actions, board: Board, text: str) -> None:
    if text and actions.keeper is not None:
        actions.keeper.noted(Kind.NOTE, craft_of(board.moment), {"text": f"Limit of this craft: {text}"})
