"""Family auk: what its controllers say of themselves, which codes they store, what they can move.

The simulator's own table, written by hand from the family's description and not read from the tool's data: a
mistake in either shows as a disagreement. Code numbers are those of SAE J2012 / ISO 15031-6 (openly published
lists; P0544 and P2428 from memory); B1001 to B1003 are the family's own.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from simulator.kinds import THREE
from simulator.outputs import Output, Outputs
from simulator.trouble import Memory
from simulator.uds import Controller, Module
from simulator.uds_shared import (
    FAULTS,
    NOTHING,
    SESSIONS,
    Answering,
    big,
    engine_faults,
    missing_engine,
    seen,
    speed_seen,
)
from simulator.usage import COUNTED

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from simulator.craft import Craft

FUNCTIONAL = 0x7DF
HULL = "AUK04711C526"
"""Hull number by 33 CFR 181.25: maker, serial, March, year 5, model year 26. Invented."""
DISPLAY_SERIAL = 2_200_017
ENGINE_SOFTWARE, DISPLAY_SOFTWARE = "AE-03.12", "AD-01.07"

SENSOR_CODES: Mapping[str, tuple[str, str, str]] = {
    "coolant": ("P0118", "P0117", "P0118"),
    "intake": ("P0113", "P0112", "P0113"),
    "oil": ("P0198", "P0197", "P0198"),
    "exhaust": ("P0544", "P0544", "P0544"),
    "manifold": ("P0107", "P0108", "P0107"),
    "throttle_1": ("P0122", "P0123", "P0122"),
    "throttle_2": ("P0222", "P0223", "P0222"),
    "oil_pressure": ("P0522", "P0523", "P0522"),
    "rail": ("P0190", "P0190", "P0190"),
    "battery": ("P0562", "P0563", "P0562"),
    "supply": ("P0641", "P0641", "P0641"),
    "speed": ("P0335", "P0335", "P0335"),
}
"""Code of a sensor that reads under its range, over it, and not at all. A temperature sensor's resistance
falls with heat: far too cold is an open wire (its voltage high), far too hot a short one."""

CONDITION_CODES: Mapping[str, tuple[str, bool]] = {
    "coolant high": ("P0217", True),
    "exhaust high": ("P2428", False),
    "oil pressure low": ("P0524", False),
    "rail low": ("P0087", False),
    "battery low": ("P0562", True),
    "sensor supply": ("P0641", True),
    "throttle tracks differ": ("P2135", True),
}
"""Condition of the controller's protection to its code, and whether it shows without the engine running.
Knock has none: no generic number says "too much of it"."""

# fmt: off
ENGINE_CODES = (
    "P0087", "P0107", "P0108", "P0112", "P0113", "P0117", "P0118", "P0122", "P0123", "P0190",
    "P0197", "P0198", "P0201", "P0202", "P0203", "P0217", "P0219", "P0222", "P0223", "P0300",
    "P0301", "P0302", "P0303", "P0325", "P0335", "P0351", "P0352", "P0353", "P0513", "P0522",
    "P0523", "P0524", "P0544", "P0562", "P0563", "P0606", "P0627", "P0641", "P0685", "P2135",
    "P2428",
)
# fmt: on
DISPLAY_CODES = ("U0100", "B1001", "B1002", "B1003")
LOST_ENGINE = "U0100"
LOST_AFTER_S, LOST_FROM_KEY_S = 1.0, 2.0
"""The display misses the engine's frames for so long, and not before so long after key-on."""

OUTPUTS = (
    *(
        Output(f"injector_{n}", 0xD100 + n, "injector", 200.0, n, flow_cm3_min=THREE.injector_cm3_min)
        for n in (1, 2, 3)
    ),
    *(Output(f"coil_{n}", 0xD110 + n, "coil", 250.0, n) for n in (1, 2, 3)),
    Output("fan", 0xD121, amps=11.0),
    Output("horn", 0xD122, amps=5.0),
    Output("fuel_pump", 0xD123, amps=4.0),
    Output("bilge_pump", 0xD124, amps=3.5),
    Output("throttle_plate", 0xD125, amps=1.5, plate=40.0),
    Output("fuel_inhibit", 0xD141, "inhibit", holds_off="fuel"),
    Output("spark_inhibit", 0xD142, "inhibit", holds_off="spark"),
)

ENGINE_OFFERED = (
    *SESSIONS,
    *FAULTS,
    "22(f190|f18c|f195|f1a0|f1b[0-6]|f1c[0-3]|d141|d142)",
    "2fd1(01|02|03|11|12|13)03....",
    "2fd1(21|22|23|24|25)03..",
    "2fd1(41|42)03",
    "2fd1(01|02|03|11|12|13|21|22|23|24|25|41|42)00",
)
DISPLAY_OFFERED = (*SESSIONS, *FAULTS, "22(f18c|f195)")


def snapshot(craft: Craft) -> bytes:
    """The engine controller's snapshot record after its number: a count, then identifiers with values."""

    def number(name: str, scale: float, offset: float = 0.0) -> int:
        value = seen(craft, name)
        return NOTHING if value is None else round((value - offset) * scale)

    values = (
        (0xF40C, 2, number("speed", 4.0)),
        (0xF405, 1, number("coolant", 1.0, -40.0)),
        (0xF442, 2, number("battery", 1000.0)),
        (0xF411, 1, number("throttle_1", 2.55)),
        (0xF40B, 1, number("manifold", 1.0)),
        (0xD010, 4, round(craft.engine.hours / 0.05)),
        (0xD011, 2, int(craft.bench.key_age)),
    )
    return bytes([len(values)]) + b"".join(
        did.to_bytes(2, "big") + big(value, size) for did, size, value in values
    )


def display_snapshot(craft: Craft) -> bytes:
    """The display's: it knows its own supply and the time."""
    volts = round((craft.engine.battery.volts - 0.15) * 1000.0)
    age = int(craft.bench.key_age)
    return b"\x02\xf4\x42" + big(volts, 2) + b"\xd0\x11" + big(age, 2)


BANDS, COUNTERS = 0xF1B0, 0xF1C0
"""The first of the identifiers of hours by engine speed, and of what is counted."""


def _band_hours(craft: Craft, band: int) -> bytes:
    return big(round(craft.engine.usage.hours[band] / 0.05), 4)


def engine_module(craft: Craft, hull: Callable[[], str]) -> Module:
    """The engine controller."""
    identity: dict[int, Callable[[], bytes]] = {
        0xF190: lambda: hull().encode(),
        0xF18C: lambda: str(craft.bench.serial).encode(),
        0xF195: ENGINE_SOFTWARE.encode,
        0xF1A0: lambda: big(round(craft.engine.hours / 0.05), 4),
        **{
            COUNTERS + at: partial(lambda what: big(craft.engine.usage.times[what], 4), what)
            for at, what in enumerate(COUNTED)
        },
        **{BANDS + band: partial(_band_hours, craft, band) for band in range(len(craft.engine.kind.edges))},
    }
    return Module("engine", 0x7E0, 0x7E8, FUNCTIONAL, identity, ENGINE_OFFERED)


def display_module() -> Module:
    """The display."""
    identity: dict[int, Callable[[], bytes]] = {
        0xF18C: str(DISPLAY_SERIAL).encode,
        0xF195: DISPLAY_SOFTWARE.encode,
    }
    return Module("display", 0x7E1, 0x7E9, FUNCTIONAL, identity, DISPLAY_OFFERED)


def controllers(craft: Craft, hull: Callable[[], str], outputs: Outputs) -> list[Controller]:
    """The controllers of a craft of this family.

    Args:
        craft: the craft they are in.
        hull: reads the hull number that is stored.
        outputs: what the engine controller can move.
    """
    codes = Memory(ENGINE_CODES, lambda: snapshot(craft))
    engine = Controller(
        engine_module(craft, hull), codes, outputs, may_clear=lambda: speed_seen(craft) == 0.0
    )
    codes = Memory(DISPLAY_CODES, lambda: display_snapshot(craft))
    return [engine, Controller(display_module(), codes, None, may_clear=lambda: True)]


ANSWERING = Answering(
    HULL,
    OUTPUTS,
    controllers,
    {
        "engine": lambda craft: engine_faults(craft, CONDITION_CODES, SENSOR_CODES),
        "display": lambda craft: missing_engine(
            craft, LOST_ENGINE, after_s=LOST_AFTER_S, from_key_s=LOST_FROM_KEY_S
        ),
    },
)
