"""The four lanes at the bottom of every screen; black is where you are."""

from __future__ import annotations

from typing import TYPE_CHECKING

from screens.widgets.grid import Grid
from screens.widgets.key import Key

if TYPE_CHECKING:
    from collections.abc import Callable

LANES = ("Ride", "Check", "Bench", "Book")


class Lanes(Grid):
    """Four keys in a row."""

    def __init__(self, go: Callable[[str], None], **kwargs):
        super().__init__(columns=[1] * len(LANES), rows=[1], **kwargs)
        self.keys = {lane: Key(text=lane, action=lambda lane=lane: go(lane)) for lane in LANES}
        for key in self.keys.values():
            self.add_widget(key)

    def mark(self, here: str) -> None:
        """Blacken the lane that is open."""
        for lane, key in self.keys.items():
            key.here = lane == here
