"""Fuel rail, oil pressure and the fuel in the tank. kPa above the air's pressure, litres, seconds."""

from __future__ import annotations

import math

RAIL_TARGET = 300.0
PRIME_S = 2.5
"""The pump runs so long after key on (2 to 3 s is usual), then waits for the crank to turn."""
RAIL_LEAK = 0.0005
"""Share of the pressure that a sound rail loses each second with the pump off: 3 % a minute."""
FUEL_DENSITY = 745.0
"""g/l, petrol."""
TANK_L = 50.0

OIL_KPA_PER_1000 = 100.0
"""Hot. The old rule is 69 kPa (10 psi) for each 1000 rev/min; a sound engine has more."""
OIL_RELIEF = 560.0
OIL_HOT, OIL_THICK = 90.0, 120.0
"""degC at which the figure above holds, and the cooling (K) that makes the pressure e times as high."""


class Rail:
    """The fuel rail and its pump.

    Attributes:
        pressure: kPa above the air's.
        pump: whether the pump's relay is on.
        leak: share of the pressure lost each second with the pump off.
        primed_for: seconds the pump has run since key on.
        forced: the pump's relay is held on from outside.
    """

    def __init__(self, pressure: float = 0.0) -> None:
        self.pressure = pressure
        self.pump = False
        self.leak = RAIL_LEAK
        self.primed_for = 0.0
        self.forced = False

    def step(self, dt_s: float, *, key: bool, turns: bool, volts: float, litres_h: float) -> None:
        """Move on; ``turns`` says whether the crank turns, ``litres_h`` what the engine burns."""
        self.primed_for = self.primed_for + dt_s if key else 0.0
        self.pump = key and (turns or self.forced or self.primed_for < PRIME_S)
        if self.pump:
            target = (RAIL_TARGET + 4.0 - 0.25 * litres_h) * min(1.0, volts / 10.0)
            self.pressure += dt_s * (target / (1.0 + 20.0 * self.leak) - self.pressure) / 0.35
        self.pressure -= dt_s * self.leak * self.pressure


class Oil:
    """Oil pressure behind the pump.

    Attributes:
        pressure: kPa above the air's.
        health: 1 sound; less with worn bearings or little oil.
    """

    def __init__(self) -> None:
        self.pressure = 0.0
        self.health = 1.0

    def step(self, dt_s: float, *, speed: float, temperature: float) -> None:
        """Move on; ``speed`` in rev/min, ``temperature`` of the oil in degC."""
        thickness = min(3.0, math.exp((OIL_HOT - temperature) / OIL_THICK))
        wanted = OIL_KPA_PER_1000 * speed / 1000.0 * thickness * self.health
        relieved = OIL_RELIEF * math.tanh(wanted / OIL_RELIEF)
        lag = 0.2 if relieved > self.pressure else 0.6
        self.pressure += dt_s * (relieved - self.pressure) / lag
