"""What is on a bus that no family explains, frame by frame."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.raw_words import raw_words
from screens.sheet import Sheet
from screens.widgets.key import Key

if TYPE_CHECKING:
    from app.board import Board
    from screens.actions import Actions


class RawPage(Sheet):
    """Nothing is sent for it, and nothing is named."""

    name = "check/raw"

    def __init__(self, actions: Actions, **kwargs):
        super().__init__(**kwargs)
        self._back = Key(text="Back", action=lambda: actions.open("connection"))

    def show(self, board: Board) -> None:
        """See Page."""
        title, lines = raw_words(board.moment)
        self.fill(title, lines, [self._back])
