"""Hours by engine speed, as the engine controller counts them."""

from __future__ import annotations

from bisect import bisect_right

EDGES = (0, 1500, 3000, 4500, 6000, 7000, 8000)
"""rev/min where the bands begin; the last has no end."""

PAST = (0.31, 0.12, 0.14, 0.16, 0.12, 0.12, 0.03)
"""Shares of the hours before the simulation began (invented: much idling, some full throttle)."""


class Usage:
    """What the controller has counted.

    Attributes:
        hours: of each band.
    """

    def __init__(self, hours: float) -> None:
        self.hours = [hours * share for share in PAST]

    def run(self, speed: float, hours: float) -> None:
        """The engine runs so long at this speed, rev/min."""
        self.hours[max(0, bisect_right(EDGES, speed) - 1)] += hours
