"""What the controllers count."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.book_words import craft_of
from app.counter_words import Counter, counter_words, counters_of
from app.visits import last_visit
from screens.sheet import Sheet
from screens.widgets.key import Key

if TYPE_CHECKING:
    from app.board import Board
    from app.entry import Entry
    from screens.actions import Actions


class CountersPage(Sheet):
    """Of the craft that is plugged in, as they were read with its faults."""

    name = "check/counters"

    def __init__(self, actions: Actions, **kwargs):
        self._keeper = actions.keeper
        self._entries: tuple[Entry, ...] = ()
        self._before: list[Counter] = []
        super().__init__(**kwargs)
        self._back = Key(text="Back", action=lambda: actions.open("identity"))

    def show(self, board: Board) -> None:
        """See Page."""
        if self._keeper is not None and (entries := self._keeper.of(craft_of(board.moment))) != self._entries:
            self._entries, self._before = entries, last_visit(entries, counters_of)
        title, lines = counter_words(board.moment, self._before)
        self.fill(title, lines, [self._back])
