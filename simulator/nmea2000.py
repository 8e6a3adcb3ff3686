"""Family nmea2000: two parameter groups of an engine on NMEA 2000, laid out by hand.

Layout from the open CANboat database (Apache-2.0, commit 01d0dc3d): 127488 engine rapid update in one frame,
127489 engine dynamic parameters as a fast packet of 26 bytes. The DBC file of the family is not read here, so
that the two can be held against each other; only the names of the signals are the same.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.codec import EXTENDED, Field, Message
from simulator.sensors import crank_speed

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from simulator.bench import Bench

SOURCE = 16
"""Bus address of the engine."""
PRIORITY = 2
RAPID, DYNAMIC = 127_488, 127_489
KELVIN = 273.15

STATUS_1 = (
    "CheckEngine",
    "OverTemperature",
    "LowOilPressure",
    "LowOilLevel",
    "LowFuelPressure",
    "LowSystemVoltage",
    "LowCoolantLevel",
    "WaterFlow",
    "WaterInFuel",
    "ChargeIndicator",
    "PreheatIndicator",
    "HighBoostPressure",
    "RevLimitExceeded",
    "EgrSystem",
    "ThrottlePositionSensor",
    "EmergencyStop",
)
STATUS_2 = (
    "WarningLevel1",
    "WarningLevel2",
    "PowerReduction",
    "MaintenanceNeeded",
    "EngineCommError",
    "SubThrottle",
    "NeutralStartProtect",
    "EngineShuttingDown",
)

INSTANCE = {0: "Single Engine or Dual Engine Port", 1: "Dual Engine Starboard"}

Values = dict[str, float | str | None]


def identifier(group: int) -> int:
    """The 29-bit identifier of a parameter group that is sent to everybody, EXTENDED set."""
    return EXTENDED | PRIORITY << 26 | group << 8 | SOURCE


def _flags() -> list[Field]:
    names = [*((160, STATUS_1), (176, STATUS_2))]
    texts = {0: "Off", 1: "On"}
    return [Field(name, start + n, 1, texts=texts) for start, bits in names for n, name in enumerate(bits)]


def messages() -> list[Message]:
    """Both groups with their packing plans; unused bits are ones."""
    rapid = [
        Field("EngineInstance", 0, 8, texts=INSTANCE),
        Field("EngineSpeed", 8, 16, scale=0.25, low=0.0),
        Field("BoostPressure", 24, 16, scale=100.0),
        Field("TiltTrim", 40, 8, signed=True),
    ]
    dynamic = [
        Field("DynamicEngineInstance", 0, 8, texts=INSTANCE),
        Field("OilPressure", 8, 16, scale=100.0),
        Field("OilTemperature", 24, 16, scale=0.1),
        Field("CoolantTemperature", 40, 16, scale=0.01),
        Field("AlternatorVoltage", 56, 16, signed=True, scale=0.01),
        Field("FuelRate", 72, 16, signed=True, scale=0.1),
        Field("EngineHours", 88, 32),
        Field("CoolantPressure", 120, 16, scale=100.0),
        Field("FuelPressure", 136, 16, scale=1000.0),
        *_flags(),
        Field("EngineLoad", 192, 8, signed=True),
        Field("EngineTorque", 200, 8, signed=True),
    ]
    return [
        Message(
            "EngineRapid",
            identifier(RAPID),
            8,
            cycle_ms=100,
            sender="Engine",
            fields=rapid,
            base=(1 << 64) - 1,
        ),
        # status bits beyond the 24 that are named are zeroes, as engines send them
        Message(
            "EngineDynamic",
            identifier(DYNAMIC),
            26,
            cycle_ms=500,
            sender="Engine",
            fields=dynamic,
            base=0xFF << 152,
        ),
    ]


def rapid(bench: Bench) -> Values:
    """127488; no boost and no trim on this craft."""
    return {
        "EngineInstance": 0.0,
        "EngineSpeed": crank_speed(bench.engine),
        "BoostPressure": None,
        "TiltTrim": None,
    }


def dynamic(bench: Bench) -> Values:
    """127489; pressures in Pa, temperatures in K, running time in s."""
    engine, protection = bench.engine, bench.protection
    on = set(protection.active)
    lit = {
        "CheckEngine": bool(on),
        "OverTemperature": "coolant high" in on,
        "LowOilPressure": "oil pressure low" in on,
        "LowFuelPressure": "rail low" in on,
        "LowSystemVoltage": "battery low" in on,
        "RevLimitExceeded": engine.governor.cut,
        "ThrottlePositionSensor": "throttle tracks differ" in on,
        "EmergencyStop": engine.driver.lanyard_pulled,
        "PowerReduction": protection.reason != "Not limited",
        "EngineShuttingDown": engine.state == "Stopping",
    }
    return {
        "DynamicEngineInstance": 0.0,
        "OilPressure": engine.oil.pressure * 1000.0,
        "OilTemperature": engine.heat.oil + KELVIN,
        "CoolantTemperature": engine.heat.coolant + KELVIN,
        "AlternatorVoltage": engine.battery.volts,
        "FuelRate": engine.litres_h,
        "EngineHours": engine.hours * 3600.0,
        "CoolantPressure": None,
        "FuelPressure": engine.rail.pressure * 1000.0,
        **{name: "On" if lit.get(name) else "Off" for name in (*STATUS_1, *STATUS_2)},
        "EngineLoad": engine.governor.load,
        "EngineTorque": None if engine.state != "Running" else engine.indicated_nm / 0.8,
    }


READ: Mapping[str, Callable[[Bench], Values]] = {"EngineRapid": rapid, "EngineDynamic": dynamic}

WATCHED: Mapping[str, str] = {}
"""The controller's protection looks at its own sensors, not at what this bus shows."""


def fast_packet(data: bytes, sequence: int) -> list[bytes]:
    """Cut a message of 9 to 223 bytes into frames.

    Args:
        data: the whole message.
        sequence: 0 to 7, another one for every message of the group.
    """
    frames = [bytes([sequence << 5, len(data)]) + data[:6]]
    for number, start in enumerate(range(6, len(data), 7), start=1):
        frames.append(bytes([sequence << 5 | number]) + data[start : start + 7].ljust(7, b"\xff"))
    return frames
