"""What the controllers say of themselves."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.identity_words import identity_words
from screens.sheet import Sheet
from screens.widgets.key import Key

if TYPE_CHECKING:
    from app.board import Board
    from screens.actions import Actions


class IdentityPage(Sheet):
    """Of the craft that is plugged in, as it was read with its faults."""

    name = "check/identity"

    def __init__(self, actions: Actions, **kwargs):
        super().__init__(**kwargs)
        self._back = Key(text="Back", action=lambda: actions.open("connection"))
        self._limits = Key(text="Limits", action=lambda: actions.open("limits"))
        self._counters = Key(text="Counters", action=lambda: actions.open("counters"))

    def show(self, board: Board) -> None:
        """See Page."""
        title, lines = identity_words(board.moment)
        self.fill(title, lines, [self._back, self._counters, self._limits])
