"""What moves at the stern and the bars: reverse gate, trim and steering, where the craft has them."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from simulator.driver import Driver

SWEEP_S: Mapping[str, float] = {"gate": 1.6, "trim": 3.0}
"""From one end to the other, sound and free (invented)."""
FORWARD, REVERSE, LEVEL = 0.0, 100.0, 50.0
"""Percent: the gate up, the gate down, the nozzle level."""


class Stern:
    """Positions and what drives them.

    Attributes:
        at: position by part, percent of its way.
        free: share of its speed by part: 1 sound, 0 stuck (a stone in the gate, a seized rod).
        driven: +1 or -1 by part that a controller was asked to move; without it the gate follows the reverse
            lever, and the trim its switch.
        steering: degrees, to starboard positive.
    """

    def __init__(self) -> None:
        self.at = {"gate": FORWARD, "trim": LEVEL}
        self.free = {"gate": 1.0, "trim": 1.0}
        self.driven: dict[str, float] = {}
        self.steering = 0.0

    def step(self, dt_s: float, driver: Driver) -> None:
        """Move on."""
        self.steering = driver.steering
        for part, sweep_s in SWEEP_S.items():
            way = dt_s * 100.0 / sweep_s * self.free[part]
            towards = self.driven.get(part, driver.trim if part == "trim" else 0.0)
            if towards:
                wanted = 100.0 if towards > 0 else 0.0
            elif part == "gate" and driver.key:
                wanted = REVERSE if driver.reverse else FORWARD
            else:
                continue
            self.at[part] += min(max(wanted - self.at[part], -way), way)
