"""What the engine controller watches: counts active faults, limits power, switches the fan.

It judges what its sensors say, planted faults among it, not the truth. The limits are invented for this
engine; those for battery and exhaust follow common practice.
"""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

from simulator.governor import LIMITER, TOP_SPEED
from simulator.sensors import crank_speed, throttle_track

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from simulator.physics import Engine

NOT_LIMITED = "Not limited"
OVERHEAT, LOW_OIL, SENSOR, LOW_BATTERY, KNOCK = (
    "Overheat",
    "Low oil pressure",
    "Sensor fault",
    "Low battery",
    "Knock",
)
SPEED_UNDER = {OVERHEAT: 3500.0, LOW_OIL: 3500.0, SENSOR: 4500.0, LOW_BATTERY: 5500.0, KNOCK: 5500.0}
"""Highest speed allowed for each reason, rev/min; in the order in which one is named before another."""

HOLDS_S = 1.0
"""A condition must last so long before it counts."""
TRACKS_APART = 4.0
"""Percent between the two throttle tracks."""
FAN_ON, FAN_OFF = 88.0, 84.0
"""Coolant, degC."""


@dataclasses.dataclass(frozen=True)
class Check:
    """One condition: the fault is there when ``of`` is below ``low`` or above ``high``."""

    name: str
    of: str
    reason: str | None
    low: float = float("-inf")
    high: float = float("inf")
    running: bool = False


CHECKS = (
    Check("coolant high", "coolant", OVERHEAT, high=102.0),
    Check("exhaust high", "exhaust", OVERHEAT, high=93.0),
    Check("oil pressure low", "oil_pressure", LOW_OIL, low=70.0, running=True),
    Check("rail low", "rail", None, low=240.0, running=True),
    Check("battery low", "battery", LOW_BATTERY, low=11.5),
    Check("knock", "knock", KNOCK, high=5.0),
    Check("sensor supply", "supply", SENSOR, low=4.8, high=5.2),
)

PLAUSIBLE: Mapping[str, tuple[float, float]] = {
    "coolant": (-39.0, 140.0),
    "oil_pressure": (-1.0, 900.0),
    "exhaust": (-39.0, 198.0),
    "rail": (-1.0, 700.0),
    "battery": (5.0, 18.0),
    "supply": (0.0, 6.0),
    "throttle_1": (-1.0, 101.0),
    "throttle_2": (-1.0, 101.0),
    "speed": (-1.0, 9500.0),
    "intake": (-39.0, 140.0),
    "manifold": (4.0, 250.0),
    "oil": (-39.0, 170.0),
}
"""What a sound sensor can say; beyond it the sensor or its wire is at fault."""


def truths(engine: Engine) -> dict[str, float]:
    """What every sensor of the protection measures, by the names of PLAUSIBLE."""
    return {
        "coolant": engine.heat.coolant,
        "oil_pressure": engine.oil.pressure,
        "exhaust": engine.heat.exhaust,
        "rail": engine.rail.pressure,
        "battery": engine.battery.volts,
        "knock": engine.governor.knock,
        "supply": 5.0,
        "throttle_1": throttle_track(engine, 1),
        "throttle_2": throttle_track(engine, 2),
        "speed": crank_speed(engine),
        "intake": engine.heat.intake,
        "manifold": engine.manifold.pressure,
        "oil": engine.heat.oil,
    }


class Protection:
    """The controller's view of its own health.

    Attributes:
        active: names of the faults that count now.
        reason: why power is limited, "Not limited" if it is not.
        fan: whether the fan's relay is on.
    """

    def __init__(self) -> None:
        self._forget()

    def _forget(self) -> None:
        self.active: tuple[str, ...] = ()
        self.reason = NOT_LIMITED
        self.fan = False
        self._since: dict[str, float] = {}

    @property
    def count(self) -> int:
        """How many faults are active."""
        return len(self.active)

    def step(self, engine: Engine, seen: Callable[[str, float], float | None]) -> None:
        """Judge.

        Args:
            engine: what there is; limits are set in its governor.
            seen: what the sensor says by name and true value; None = it says nothing.
        """
        if not engine.driver.key:
            self._forget()
            return
        said = {name: seen(name, value) for name, value in truths(engine).items()}
        now = self._faults(said, engine)
        self._since = {name: self._since.get(name, engine.t) for name in now}
        lasting = {name: why for name, why in now.items() if engine.t - self._since[name] >= HOLDS_S - 1e-6}
        self.active = tuple(lasting)
        reasons = set(lasting.values())
        self.reason = next((reason for reason in SPEED_UNDER if reason in reasons), NOT_LIMITED)
        level = engine.driver.key_level
        allowed = LIMITER if level >= 100 else TOP_SPEED * level / 100.0
        engine.governor.limit = min(allowed, SPEED_UNDER.get(self.reason, LIMITER))
        coolant = said["coolant"]
        self.fan = coolant is None or coolant > (FAN_OFF if self.fan else FAN_ON)

    @staticmethod
    def _faults(said: Mapping[str, float | None], engine: Engine) -> dict[str, str | None]:
        """Every fault of this moment with the reason it limits power for, if it does."""
        found: dict[str, str | None] = {}
        bad = set()
        for name, (low, high) in PLAUSIBLE.items():
            value = said[name]
            if value is None or not low <= value <= high:
                bad.add(name)
                found[f"{name} sensor"] = SENSOR
        runs = engine.state == "Running" and engine.speed > 1000.0
        for check in CHECKS:
            value = said[check.of]
            if value is None or check.of in bad or (check.running and not runs):
                continue
            if check.name == "battery low" and engine.state == "Cranking":
                continue
            if not check.low <= value <= check.high:
                found[check.name] = check.reason
        first, second = said["throttle_1"], said["throttle_2"]
        if first is not None and second is not None and abs(first - second) > TRACKS_APART:
            found["throttle tracks differ"] = SENSOR
        return found
