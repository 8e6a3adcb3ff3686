"""What sensors make of the engine: small noise, the ripple of cranking, and the display's own view of speed.

Noise comes from a fixed table by step number: the same craft gives the same frames, and a frozen craft
gives frozen values.
"""

from __future__ import annotations

import math
import random
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from simulator.physics import Engine

_TABLE = tuple(random.Random(1997).uniform(-1.0, 1.0) for _ in range(1997))  # noqa: S311 (noise, not a secret)


def noise(tick: int, salt: int) -> float:
    """Between -1 and 1; ``salt`` keeps two sensors from moving alike."""
    return _TABLE[(tick * 31 + salt * 613) % 1997]


def crank_speed(engine: Engine) -> float:
    """Engine speed as the crank sensor sees it, rev/min; compression makes it swing while cranking."""
    speed = engine.speed
    if speed <= 0.0:
        return 0.0
    if engine.state == "Cranking":
        return speed * (1.0 + 0.05 * math.sin(1.5 * engine.angle))
    return speed + 4.0 * noise(engine.tick, 1)


def throttle_track(engine: Engine, track: int) -> float:
    """The plate as one of its two potentiometers sees it, percent."""
    return max(0.0, engine.plate + (0.25 if track == 2 else 0.0) + 0.05 * noise(engine.tick, 1 + track))


class Tachometer:
    """The display counts pulses of its own wire: a second source, slower and rounded to 10 rev/min.

    Attributes:
        shown: rev/min.
    """

    PULSES_PER_TURN = 3
    GATE_S = 0.25
    """Pulses are counted for so long: one pulse more or less is 80 rev/min before smoothing."""
    SMOOTHING_S = 0.25

    def __init__(self) -> None:
        self.shown = 0.0
        self._pulses = 0.0
        self._counted = 0
        self._gate = 0.0
        self._smooth = 0.0

    def step(self, dt_s: float, speed: float) -> None:
        """Move on by ``dt_s`` seconds at a crank speed of ``speed`` rev/min."""
        self._pulses += speed / 60.0 * self.PULSES_PER_TURN * dt_s
        self._gate += dt_s
        if self._gate < self.GATE_S - 1e-9:
            return
        counted = math.floor(self._pulses)
        measured = (counted - self._counted) / self.PULSES_PER_TURN / self._gate * 60.0
        self._counted, self._gate = counted, 0.0
        if measured == 0.0 or self._smooth == 0.0:
            self._smooth = measured
        else:
            self._smooth += (measured - self._smooth) * min(
                1.0, self.GATE_S / (self.SMOOTHING_S + self.GATE_S)
            )
        self.shown = round(self._smooth / 10.0) * 10.0
