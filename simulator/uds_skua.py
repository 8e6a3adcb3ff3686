"""Family skua: what its controllers say of themselves, which codes they store, what they can move.

The simulator's own table, written by hand from the family's description and not read from the tool's data: a
mistake in either shows as a disagreement. Identifiers have 29 bits: normal fixed addressing of ISO 15765-2
(from memory). Code numbers are those of SAE J2012 / ISO 15031-6 (openly published lists; P0234, P0299, P0544
and P2428 from memory); C1101 to C1105, B1001 and B1002 are the family's own.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from simulator.codec import EXTENDED
from simulator.kinds import FOUR
from simulator.outputs import Output, Outputs
from simulator.trouble import Memory
from simulator.uds import Controller, Module
from simulator.uds_auk import CONDITION_CODES, SENSOR_CODES
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

TESTER = 0xF1
ADDRESSES: Mapping[str, int] = {"engine": 0x10, "gate": 0x2A, "display": 0x60}
FUNCTIONAL = EXTENDED | 0x18DB33F1
FILLER = 0xAA
RECORDS = (0x03, 0x04)
HULL = "SKU20815K626"
"""Hull number by 33 CFR 181.25: maker, serial, November, year 6, model year 26. Invented."""
GATE_SERIAL, DISPLAY_SERIAL = "GT-00318", "2200044"
SOFTWARE: Mapping[str, str] = {"engine": "SE 7.2.1", "gate": "SG 1.4", "display": "SD 3.0"}

# fmt: off
ENGINE_CODES = (
    "P0087", "P0107", "P0108", "P0112", "P0113", "P0117", "P0118", "P0122", "P0123", "P0190",
    "P0197", "P0198", "P0201", "P0202", "P0203", "P0204", "P0217", "P0219", "P0222", "P0223",
    "P0234", "P0299", "P0300", "P0301", "P0302", "P0303", "P0304", "P0325", "P0335", "P0351",
    "P0352", "P0353", "P0354", "P0513", "P0522", "P0523", "P0524", "P0544", "P0562", "P0563",
    "P0606", "P0627", "P0641", "P2135", "P2428",
)
# fmt: on
GATE_CODES = ("U0100", "C1101", "C1102", "C1103", "C1104", "C1105")
DISPLAY_CODES = ("U0100", "B1001", "B1002")
CODES: Mapping[str, tuple[str, ...]] = {
    "engine": ENGINE_CODES,
    "gate": GATE_CODES,
    "display": DISPLAY_CODES,
}
LOST_ENGINE = "U0100"
LOST_AFTER_S, LOST_FROM_KEY_S = 1.0, 2.0
GATE_CODE, TRIM_CODE, LOW_BOOST = "C1101", "C1102", "P0299"
LOW_BOOST_SHARE, JUDGED_ABOVE = 0.8, 5000.0
"""Below this share of the boost that belongs to its speed (rev/min), from this speed on, the code is set."""

OUTPUTS = (
    *(
        Output(
            f"injector_{n}", 0x0300 + n, "injector", 250.0, n,
            flow_cm3_min=FOUR.injector_cm3_min, width_first=True,
        )
        for n in (1, 2, 3, 4)
    ),
    *(Output(f"coil_{n}", 0x0310 + n, "coil", 250.0, n, width_first=True) for n in (1, 2, 3, 4)),
    Output("fuel_pump", 0x0321, amps=5.0),
    Output("throttle_plate", 0x0322, amps=1.5, plate=40.0),
    Output("bilge_pump", 0x0331, amps=3.5, module="gate"),
    Output("gate_down", 0x0332, amps=6.0, module="gate", moves=("gate", 1.0)),
    Output("gate_up", 0x0333, amps=6.0, module="gate", moves=("gate", -1.0)),
    Output("trim_up", 0x0334, amps=5.0, module="gate", moves=("trim", 1.0)),
    Output("trim_down", 0x0335, amps=5.0, module="gate", moves=("trim", -1.0)),
    Output("warning_lamp", 0x0341, amps=0.2, module="display"),
    Output("gauges", 0x0342, amps=0.2, module="display"),
    Output("fuel_inhibit", 0x0351, "inhibit", holds_off="fuel", status_did=0x0361, held_value=0xA5),
    Output("spark_inhibit", 0x0352, "inhibit", holds_off="spark", status_did=0x0362, held_value=0xA5),
)  # fmt: skip

OFFERED: Mapping[str, tuple[str, ...]] = {
    "engine": (
        "22(f190|f18c|f195|0201|021[0-5]|022[0-3]|0361|0362)",
        "2f03(01|02|03|04|11|12|13|14)03....",
        "2f03(21|22)03..",
        "2f03(51|52)03",
        "2f03(01|02|03|04|11|12|13|14|21|22|51|52)00",
    ),
    "gate": ("22(f18c|f195)", "2f03(31|32|33|34|35)03..", "2f03(31|32|33|34|35)00"),
    "display": ("22(f18c|f195)", "2f03(41|42)03..", "2f03(41|42)00"),
}


def snapshot(craft: Craft) -> bytes:
    """A snapshot record after its number, of whatever controller: a count, then identifiers with values."""

    def number(name: str, scale: float) -> int:
        value = seen(craft, name)
        return NOTHING if value is None else round(value * scale)

    coolant = seen(craft, "coolant")
    values = (
        (0x0101, big(number("speed", 2.0), 2)),
        (0x0102, b"\x7f\xff" if coolant is None else round(coolant * 10.0).to_bytes(2, "big", signed=True)),
        (0x0103, big(number("battery", 500.0), 2)),
        (0x0104, big(number("manifold", 100.0), 2)),
        (0x0105, big(round(craft.bench.stern.at["gate"] * 2.0), 1)),
        (0x0106, big(round(craft.engine.hours * 10.0), 4)),
    )
    return bytes([len(values)]) + b"".join(did.to_bytes(2, "big") + value for did, value in values)


def _engine_faults(craft: Craft) -> dict[str, bool]:
    """Those of the protection, and boost that does not belong to its speed."""
    found = engine_faults(craft, CONDITION_CODES, SENSOR_CODES)
    engine = craft.engine
    if engine.state == "Running" and engine.speed > JUDGED_ABOVE and engine.belt < LOW_BOOST_SHARE:
        found[LOW_BOOST] = False
    return found


def _gate_faults(craft: Craft) -> dict[str, bool]:
    """A part that is asked to move and does not; and the engine controller that is missed."""
    found = _lost(craft)
    free = craft.bench.stern.free
    for part, code in (("gate", GATE_CODE), ("trim", TRIM_CODE)):
        if free[part] == 0.0:
            found[code] = True
    return found


def _lost(craft: Craft) -> dict[str, bool]:
    return missing_engine(craft, LOST_ENGINE, after_s=LOST_AFTER_S, from_key_s=LOST_FROM_KEY_S)


def _tenths(hours: float) -> bytes:
    return big(round(hours * 10.0), 4)


def _says(craft: Craft, hull: Callable[[], str]) -> dict[str, dict[int, Callable[[], bytes]]]:
    """What each controller says of itself."""
    bands = {
        0x0210 + band: partial(lambda number: _tenths(craft.engine.usage.hours[number]), band)
        for band in range(len(craft.engine.kind.edges))
    }
    counters = {
        0x0220 + at: partial(lambda what: big(craft.engine.usage.times[what], 2), what)
        for at, what in enumerate(COUNTED)
    }
    software = {key: {0xF195: text.encode} for key, text in SOFTWARE.items()}
    return {
        "engine": {
            0xF190: lambda: hull().encode(),
            0xF18C: lambda: str(craft.bench.serial).encode(),
            **software["engine"],
            0x0201: lambda: _tenths(craft.engine.hours),
            **bands,
            **counters,
        },
        "gate": {0xF18C: GATE_SERIAL.encode, **software["gate"]},
        "display": {0xF18C: DISPLAY_SERIAL.encode, **software["display"]},
    }


def controllers(craft: Craft, hull: Callable[[], str], outputs: Outputs) -> list[Controller]:
    """The controllers of a craft of this family; see uds_shared.Answering."""
    made = []
    for key, says in _says(craft, hull).items():
        address = ADDRESSES[key]
        module = Module(
            key,
            EXTENDED | 0x18DA0000 | address << 8 | TESTER,
            EXTENDED | 0x18DA0000 | TESTER << 8 | address,
            FUNCTIONAL,
            says,
            (*SESSIONS, *FAULTS, *OFFERED[key]),
            RECORDS,
            FILLER,
        )
        memory = Memory(CODES[key], lambda: snapshot(craft))
        made.append(Controller(module, memory, outputs, may_clear=lambda: speed_seen(craft) == 0.0))
    return made


ANSWERING = Answering(
    HULL, OUTPUTS, controllers, {"engine": _engine_faults, "gate": _gate_faults, "display": _lost}
)
