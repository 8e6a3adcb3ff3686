"""How the values are worked out that the craft does not send: formula and where it comes from."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.about_words import about_lines
from screens.sheet import Sheet
from screens.widgets.key import Key

if TYPE_CHECKING:
    from app.board import Board
    from screens.actions import Actions


class AboutPage(Sheet):
    """A row for each value of this craft."""

    name = "ride/about"

    def __init__(self, actions: Actions, **kwargs):
        super().__init__(**kwargs)
        self._back = Key(text="Back", action=lambda: actions.open("more"))

    def show(self, board: Board) -> None:
        """See Page."""
        self.fill("Worked out here, not sent by the craft", about_lines(board.moment), [self._back])
