"""Hours by engine speed, as the engine controller counts them."""

from __future__ import annotations

from bisect import bisect_right
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from simulator.kinds import EngineKind


class Usage:
    """What the controller has counted.

    Attributes:
        hours: of each band.
    """

    def __init__(self, kind: EngineKind, hours: float) -> None:
        self._edges = kind.edges
        self.hours = [hours * share for share in kind.past]

    def run(self, speed: float, hours: float) -> None:
        """The engine runs so long at this speed, rev/min."""
        self.hours[max(0, bisect_right(self._edges, speed) - 1)] += hours
