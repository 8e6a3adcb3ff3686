"""Hours by engine speed, as the engine controller counts them."""

from __future__ import annotations

from bisect import bisect_right
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from simulator.kinds import EngineKind


COUNTED = ("starts", "overspeed", "overheat", "low_oil")
PAST_H = {"starts": 2.6, "overspeed": 0.02, "overheat": 0.008, "low_oil": 0.004}
"""How often in an hour before the simulation began (invented)."""


class Usage:
    """What the controller has counted.

    Attributes:
        hours: of each band.
        times: how often, by COUNTED.
    """

    def __init__(self, kind: EngineKind, hours: float) -> None:
        self._edges = kind.edges
        self.hours = [hours * share for share in kind.past]
        self.times = {what: int(hours * often) for what, often in PAST_H.items()}
        self._now: frozenset[str] = frozenset()

    def run(self, speed: float, hours: float) -> None:
        """The engine runs so long at this speed, rev/min."""
        self.hours[max(0, bisect_right(self._edges, speed) - 1)] += hours

    def watch(self, now: frozenset[str]) -> None:
        """What is the case at this moment; each is counted when it begins."""
        for what in now - self._now:
            self.times[what] += 1
        self._now = now
