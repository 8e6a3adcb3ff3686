"""Family tern: the groups of an invented two-cylinder engine on SAE J1939, laid out by hand.

Layout from shared/reference/standards.md 5.3, as far as this engine has the sensor; the rest of each group is
all ones (not available). The DBC file of the family is not read here, so that the two can be held against
each other; only the names of the signals are the same.
"""

from __future__ import annotations

import dataclasses
import functools
from typing import TYPE_CHECKING

from simulator.codec import ERROR, EXTENDED, NOT_AVAILABLE, Field, Message
from simulator.sensors import crank_speed, noise, throttle_track

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from simulator.bench import Bench

SOURCE = 0
"""Bus address of the engine (the usual one of a first engine, from memory)."""
MARK = int.from_bytes(b"TERN", "little")
"""What the invented make says of itself, in a group that the standard leaves to makers (FF10)."""
RESERVED = 0xFB
"""From here on the highest byte of a number says that there is none."""

EEC1, ET1, EFLP1, HOURS, LFE, IC1, VEP1, IDENTITY, SHAFT = (
    61_444, 65_262, 65_263, 65_253, 65_266, 65_270, 65_271, 65_296, 65_297,
)  # fmt: skip

Values = dict[str, float | str | None]


@dataclasses.dataclass(frozen=True)
class Spn(Field):
    """A field with the reserved codes of SAE J1939: by its highest byte, FF not available, FE error."""

    @functools.cached_property
    def codes(self) -> dict[str, int]:
        """See Field."""
        if self.length < 8:
            return {NOT_AVAILABLE: self.top, ERROR: self.top - 1}
        return {NOT_AVAILABLE: self.top, ERROR: 0xFE << self.length - 8}

    @functools.cached_property
    def _ends(self) -> tuple[int, int]:
        return 0, (RESERVED << self.length - 8) - 1 if self.length >= 8 else self.top - 2

    def meaning(self, raw: int) -> float | str:
        """See Field."""
        top = raw >> self.length - 8 if self.length >= 8 else raw | 0xF0
        return {0xFF: NOT_AVAILABLE, 0xFE: ERROR}.get(top) or self.physical(raw)


def identifier(group: int, priority: int = 6) -> int:
    """The 29-bit identifier of a group that is sent to everybody, EXTENDED set."""
    return EXTENDED | priority << 26 | group << 8 | SOURCE


def _message(name: str, group: int, cycle_ms: int, *fields: Field, priority: int = 6) -> Message:
    return Message(
        name,
        identifier(group, priority),
        8,
        cycle_ms=cycle_ms,
        sender="Engine",
        fields=list(fields),
        base=(1 << 64) - 1,
    )


def messages() -> list[Message]:
    """The groups with their packing plans."""
    return [
        _message(
            "EEC1",
            EEC1,
            50,
            Spn("TorqueMode", 0, 4),
            Spn("DriverDemandTorque", 8, 8, offset=-125.0),
            Spn("ActualTorque", 16, 8, offset=-125.0),
            Spn("EngineSpeed", 24, 16, scale=0.125),
            Spn("StarterMode", 48, 4),
            priority=3,
        ),
        _message(
            "ET1",
            ET1,
            1000,
            Spn("CoolantTemperature", 0, 8, offset=-40.0),
            Spn("FuelTemperature", 8, 8, offset=-40.0),
            Spn("OilTemperature", 16, 16, scale=0.03125, offset=-273.0),
        ),
        _message(
            "EFLP1",
            EFLP1,
            500,
            Spn("FuelDeliveryPressure", 0, 8, scale=4.0),
            Spn("OilPressure", 24, 8, scale=4.0),
        ),
        _message("HOURS", HOURS, 1000, Spn("EngineHours", 0, 32, scale=0.05)),
        _message(
            "LFE", LFE, 100, Spn("FuelRate", 0, 16, scale=0.05), Spn("ThrottlePosition", 48, 8, scale=0.4)
        ),
        _message(
            "IC1",
            IC1,
            500,
            Spn("IntakeTemperature", 16, 8, offset=-40.0),
            Spn("AirInletPressure", 24, 8, scale=2.0),
            Spn("ExhaustGasTemperature", 40, 16, scale=0.03125, offset=-273.0),
        ),
        _message(
            "VEP1",
            VEP1,
            500,
            Spn("BatteryVoltage", 32, 16, scale=0.05),
            Spn("KeySwitchVoltage", 48, 16, scale=0.05),
        ),
        _message(
            "TernIdentity",
            IDENTITY,
            100,
            Field("MakeMark", 0, 32, reserved=False),
            Spn("ControllerSerial", 32, 32),
        ),
        _message("TernShaft", SHAFT, 50, Spn("ShaftSpeed", 0, 16, scale=0.125)),
    ]


def _eec1(bench: Bench) -> Values:
    """Whoever asks for the torque, and how the starter stands, is not told."""
    engine = bench.engine
    return {
        "TorqueMode": None,
        "DriverDemandTorque": engine.driver.lever,
        "ActualTorque": None if engine.state != "Running" else engine.indicated_nm / 0.8,
        "EngineSpeed": crank_speed(engine),
        "StarterMode": None,
    }


def _et1(bench: Bench) -> Values:
    heat, tick = bench.engine.heat, bench.engine.tick
    return {
        "CoolantTemperature": heat.coolant + 0.05 * noise(tick, 6),
        "FuelTemperature": heat.fuel,
        "OilTemperature": heat.oil + 0.05 * noise(tick, 7),
    }


def _eflp1(bench: Bench) -> Values:
    engine = bench.engine
    return {"FuelDeliveryPressure": engine.rail.pressure, "OilPressure": engine.oil.pressure}


def _ic1(bench: Bench) -> Values:
    engine = bench.engine
    return {
        "IntakeTemperature": engine.heat.intake,
        "AirInletPressure": engine.baro,
        "ExhaustGasTemperature": engine.heat.exhaust + 0.1 * noise(engine.tick, 8),
    }


def _vep1(bench: Bench) -> Values:
    volts = bench.engine.battery.volts
    return {"BatteryVoltage": volts, "KeySwitchVoltage": volts - 0.1 if bench.engine.driver.key else 0.0}


READ: Mapping[str, Callable[[Bench], Values]] = {
    "EEC1": _eec1,
    "ET1": _et1,
    "EFLP1": _eflp1,
    "HOURS": lambda bench: {"EngineHours": bench.engine.hours},
    "LFE": lambda bench: {
        "FuelRate": bench.engine.litres_h,
        "ThrottlePosition": throttle_track(bench.engine, 1),
    },
    "IC1": _ic1,
    "VEP1": _vep1,
    "TernIdentity": lambda bench: {"MakeMark": float(MARK), "ControllerSerial": float(bench.serial)},
    "TernShaft": lambda bench: {"ShaftSpeed": bench.engine.speed},
}

WATCHED: Mapping[str, str] = {
    "coolant": "CoolantTemperature",
    "oil_pressure": "OilPressure",
    "exhaust": "ExhaustGasTemperature",
    "rail": "FuelDeliveryPressure",
    "battery": "BatteryVoltage",
    "throttle_1": "ThrottlePosition",
    "speed": "EngineSpeed",
    "intake": "IntakeTemperature",
    "oil": "OilTemperature",
}
"""What the controller's protection looks at, by the signal that shows it."""
