"""Family skua: which number of the engine goes into which signal of its DBC file.

What its controller measures as that of auk does is read by the functions of simulator.auk.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator import auk
from simulator.sensors import noise

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from simulator.bench import Bench
    from simulator.physics import Engine

Values = dict[str, float | str | None]

HEATED_K_KPA = 1.1
"""Kelvin that the charger adds to the air for each kPa of boost (invented, near a charger of 65 %)."""
COOLED = 0.7
"""Share of the way to the cooling water that the intercooler brings the air at full flow (invented)."""
BYPASS_KPA = 60.0
"""Boost at which the bypass opens."""
ENDS = 2.0
"""Percent of its way within which the gate counts as at its end."""


def charger_outlet(engine: Engine) -> float:
    """Air behind the charger, degC."""
    return engine.heat.intake + HEATED_K_KPA * max(engine.boost, 0.0)


def charge_air(engine: Engine) -> float:
    """Air behind the intercooler, degC; with its water blocked it stays hot."""
    outlet = charger_outlet(engine)
    return outlet - COOLED * engine.heat.raw_water * max(outlet - engine.heat.sea, 0.0) * bool(engine.boost)


def charge(bench: Bench) -> Values:
    """Charge."""
    engine = bench.engine
    return {
        "ManifoldPressure": engine.manifold.pressure + 0.05 * noise(engine.tick, 4),
        "BarometricPressure": engine.baro,
        "BoostPressure": engine.boost + 0.1 * noise(engine.tick, 11),
        "AirMassFlow": engine.manifold.drawn,
        "BypassValve": min(max(5.0 * (engine.boost - BYPASS_KPA), 0.0), 100.0),
    }


def charge_heat(bench: Bench) -> Values:
    """ChargeHeat."""
    engine = bench.engine
    return {
        "ChargerOutletTemperature": charger_outlet(engine),
        "IntakeAirTemperature": charge_air(engine) + 0.05 * noise(engine.tick, 5),
        "IntercoolerWaterTemperature": engine.heat.sea + 0.1 * max(engine.boost, 0.0),
    }


def switches(bench: Bench) -> Values:
    """Switches."""
    hands, protection = bench.engine.driver, bench.protection
    return {
        "Lanyard": "Pulled" if hands.lanyard_pulled else "In place",
        "StartSwitch": "Pressed" if hands.start else "Released",
        "StopSwitch": "Pressed" if hands.stop else "Released",
        "FuelPumpRelay": "On" if bench.engine.rail.pump else "Off",
        "LimitedPower": protection.reason,
        "ActiveFaults": float(protection.count),
        "SpeedLimit": bench.engine.governor.limit,
    }


def stern(bench: Bench) -> Values:
    """Stern, by the module of gate and trim."""
    parts, hands = bench.stern, bench.engine.driver
    gate = parts.at["gate"]
    ends = gate <= ENDS or gate >= 100.0 - ENDS
    stuck = parts.free["gate"] == 0.0 and not ends
    return {
        "GatePosition": gate,
        "TrimPosition": parts.at["trim"],
        "ReverseSwitch": "Reverse" if hands.reverse else "Forward",
        "SteeringAngle": parts.steering,
        "GateState": "Obstructed" if stuck else "At rest" if ends else "Moving",
    }


def key(bench: Bench) -> Values:
    """Key, by the key module."""
    hands = bench.engine.driver
    held = "Key in place" if hands.key_level > 0 else "Wrong key"
    return {"KeyLevel": float(hands.key_level), "KeyState": held if hands.key else "No key"}


READ: Mapping[str, Callable[[Bench], Values]] = {
    "Crank": auk.fast,
    "Charge": charge,
    "ChargeHeat": charge_heat,
    "Spark": auk.spark,
    "Heat": auk.thermal,
    "Fluids": auk.fluids,
    "Switches": switches,
    "Stern": stern,
    "DisplayMain": auk.display,
    "DisplayPages": auk.pages,
    "Key": key,
}
"""Message to the function that reads its signals from the craft."""

COUNTERS, PLAIN, WATCHED = auk.COUNTERS, auk.PLAIN, auk.WATCHED
"""The signals that these name have the same names here."""
