"""What else there is beside the values: last minute, least and most, another six, and the settings."""

from __future__ import annotations

from typing import TYPE_CHECKING

from screens.key_grid import KeyGrid
from screens.widgets.key import Key

if TYPE_CHECKING:
    from app.board import Board
    from screens.actions import Actions

NOTE = "“=” before a name: not sent by the craft, worked out here."


class MorePage(KeyGrid):
    """A key for each, and the way back to the page it was opened from."""

    name = "ride/more"

    def __init__(self, actions: Actions, **kwargs):
        super().__init__(**kwargs)
        self.title = "More"
        doors = {
            "Chart of the\nlast minute": "chart",
            "Least and\nmost seen": "most",
            "Choose\nsix": "choose_six",
            "How it is\nworked out": "about",
            "On the\ntrailer": "trailer",
            "Settings": "settings",
        }
        keys = [Key(text=text, action=lambda to=to: actions.open(to)) for text, to in doors.items()]
        lock = Key(text="Lock for\nriding", action=actions.riding.enter)
        self.put([*keys[:4], keys[4], lock, keys[5], Key(text="Back", action=lambda: actions.open(""))])

    def show(self, board: Board) -> None:
        """See Page."""
        self.note = board.choices.notice or NOTE
