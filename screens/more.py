"""What else can be seen of the values: their last minute, their least and most, another six."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.output_words import Line
from screens.sheet import Sheet
from screens.widgets.key import Key

if TYPE_CHECKING:
    from app.board import Board
    from screens.actions import Actions

LINES = (
    Line("Chart", "the last 60 s of up to four values."),
    Line("Least, most", "of every value since this craft was found."),
    Line("Choose six", "which big values stand on the first page."),
    Line("= Name:", "not sent by the craft, worked out here."),
)


class MorePage(Sheet):
    """A key for each, and the way back to the page it was opened from."""

    name = "ride/more"

    def __init__(self, actions: Actions, **kwargs):
        super().__init__(**kwargs)
        self._doors = [
            Key(text="Back", action=lambda: actions.open("")),
            Key(text="Chart", action=lambda: actions.open("chart")),
            Key(text="Least,\nmost", action=lambda: actions.open("most")),
            Key(text="Choose\nsix", action=lambda: actions.open("choose_six")),
        ]

    def show(self, board: Board) -> None:
        """See Page."""
        notice = board.choices.notice
        lines = (Line("", notice, "triangle"),) if notice else LINES
        self.fill("More about the values", lines, self._doors)
