"""The four lanes at the bottom of every screen; black is where you are. No door leads nowhere."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kivy.uix.widget import Widget

from screens.widgets.grid import Grid
from screens.widgets.key import Key

if TYPE_CHECKING:
    from collections.abc import Callable

LANES = ("Ride", "Check", "Bench", "Book")
TESTS = "Bench"
"""The lane of a craft that has something to test."""


class Lanes(Grid):
    """Four keys in a row."""

    def __init__(self, go: Callable[[str], None], **kwargs):
        super().__init__(columns=[1] * len(LANES), rows=[1], **kwargs)
        self.keys = {lane: Key(text=lane, action=lambda lane=lane: go(lane)) for lane in LANES}
        self.shown: list[Key] = []

    def mark(self, here: str, *, tests: bool = True) -> None:
        """Blacken the lane that is open.

        Args:
            here: its name.
            tests: False: this craft has nothing to test. The others keep their places.
        """
        for lane, key in self.keys.items():
            key.here = lane == here
        shown = [key for lane, key in self.keys.items() if tests or key.here or lane != TESTS]
        if shown != self.shown:
            self.shown = shown
            self.clear_widgets()
            for key in self.keys.values():
                self.add_widget(key if key in shown else Widget())
