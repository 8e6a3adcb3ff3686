"""Battery, starter and charging. Volts, amperes, seconds.

Rest voltages of a 12 V flooded lead-acid battery by charge: 12.65 V full, 12.45 V three quarters, 12.24 V
half, 12.06 V a quarter, 11.89 V empty (published table of a battery trade body). Resistances and currents are
invented so that cranking pulls a good battery to about 10 V.
"""

from __future__ import annotations

import itertools

REST_VOLTS = ((0.0, 11.89), (0.25, 12.06), (0.5, 12.24), (0.75, 12.45), (1.0, 12.65))

CAPACITY_AH = 20.0
DISCHARGE_OHM, CHARGE_OHM = 0.0165, 0.15
STARTER_A, STARTER_STALL_A = 115.0, 105.0
"""Turning at its free speed, and what standing still adds."""
STARTER_FREE_SPEED = 380.0
"""rev/min of the crank at which the starter gives no more torque."""
STARTER_STALL_NM = 36.0
"""At the crank, standing still, at 12 V."""
CONTROLLER_A, PUMP_A, RUNNING_A = 2.0, 4.0, 3.0
STATOR_A, STATOR_SPEED = 22.0, 1500.0
"""Most current of the stator, and the speed (rev/min) that gives 63 % of it."""
REGULATED_V = 14.2


def rest_volts(charge: float) -> float:
    """Voltage of the battery at rest.

    Args:
        charge: 0 empty to 1 full.
    """
    for (low, below), (high, above) in itertools.pairwise(REST_VOLTS):
        if charge <= high:
            return below + (above - below) * max(charge - low, 0.0) / (high - low)
    return REST_VOLTS[-1][1]


def starter_torque(speed: float, volts: float) -> float:
    """Torque of the starter at the crank, N·m, at an engine speed (rev/min) and battery voltage."""
    return max(0.0, STARTER_STALL_NM * (1.0 - speed / STARTER_FREE_SPEED)) * volts / 12.0


class Battery:
    """The battery and what hangs on it.

    Attributes:
        charge: 0 to 1.
        volts: at the terminals.
        charging: 0 to 1, how much of its current the stator gives (0 = a broken one).
        extra_a: current of everything that is switched on besides.
    """

    def __init__(self, charge: float = 0.9) -> None:
        self.charge = charge
        self.charging = 1.0
        self.extra_a = 0.0
        self.volts = rest_volts(charge)
        self._polarised = 0.0

    def step(self, dt_s: float, *, speed: float, cranking: bool, key: bool, pump: bool, runs: bool) -> None:
        """Move on by ``dt_s`` seconds; ``speed`` in rev/min."""
        draw = CONTROLLER_A * key + PUMP_A * pump + RUNNING_A * runs + self.extra_a
        starter = (
            STARTER_A + STARTER_STALL_A * max(0.0, 1.0 - speed / STARTER_FREE_SPEED) if cranking else 0.0
        )
        ratio = speed / STATOR_SPEED
        stator = self.charging * STATOR_A * ratio / (ratio + 0.6) if runs else 0.0
        surplus = stator - draw
        self._polarised += dt_s * (max(surplus, 0.0) * CHARGE_OHM - self._polarised) / 0.3
        rest = rest_volts(self.charge)
        self._polarised = min(self._polarised, max(REGULATED_V - rest, 0.0))
        self.volts = rest + self._polarised - (max(-surplus, 0.0) + starter) * DISCHARGE_OHM
        flows = self._polarised / CHARGE_OHM if surplus > 0 else surplus
        self.charge = min(1.0, max(0.0, self.charge + dt_s * (flows - starter) / (CAPACITY_AH * 3600.0)))
