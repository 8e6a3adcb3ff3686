"""What the quick check before hire looks at, in the order in which it is mended.

Data only, and nothing here knows a family: what a family does not offer is in no row. Limits are those of the
family; the ones of this table hold only where a family names none.
"""

from __future__ import annotations

from collections.abc import Mapping

import msgspec

from app.messages import Limit
from app.quick_row import Verdict


class Number(msgspec.Struct, frozen=True):
    """A value that is held against limits.

    Attributes:
        key: what it is, for the words.
        role: of its signal; empty where there is no role for it.
        name: of its signal where no role names one.
        limits: where the family has none.
        unit: of these limits.
        running: held against these too while the engine runs; it is then called ``running_key``.
        rest: what it means depends on whether the engine runs.
    """

    key: str
    role: str = ""
    name: str = ""
    limits: tuple[Limit, ...] = ()
    unit: str = ""
    running: tuple[Limit, ...] = ()
    running_key: str = ""
    rest: bool = False


class Says(msgspec.Struct, frozen=True):
    """A text of the craft.

    Attributes:
        key, role, name: see Number.
        fine: the text with which all is well, in lower case.
        bad: other texts and what follows from them.
        others: what follows from a text that is in neither; None = it is not understood.
        running: it says something only while the engine runs.
    """

    key: str
    fine: str
    bad: Mapping[str, Verdict] = {}
    others: Verdict | None = None
    role: str = ""
    name: str = ""
    running: bool = False


def _generic(severity: str, side: str, value: float, source: str, engine_above: float | None = None) -> Limit:
    return Limit(severity, side, value, engine_above, f"generic default: {source}", generic=True)


_REST = "12.2 V at rest is about half charged, 11.5 V stops any work, above 15.0 V is over-charge"
_CHARGING = "12.8 V or more at idle while it charges (common practice, no source)"
_CLOSED = "closed loop watch 95, alarm 100 to 105 degC (common practice, no source)"
_WET = "wet exhaust watch 80 degC (common practice), 93 degC (200 degF) in marine practice"
_OIL = "10 psi (69 kPa) per 1000 rev/min, hot"
_KEY = "0 % is no valid key"

BATTERY = Number(
    "battery",
    role="battery",
    limits=(
        _generic("watch", "below", 12.2, _REST),
        _generic("alarm", "below", 11.5, _REST),
        _generic("watch", "above", 15.0, _REST),
    ),
    unit="V",
    running=(_generic("watch", "below", 12.8, _CHARGING),),
    running_key="charging",
    rest=True,
)
COOLANT = Number(
    "coolant",
    name="CoolantTemperature",
    limits=(_generic("watch", "above", 95.0, _CLOSED), _generic("alarm", "above", 102.0, _CLOSED)),
    unit="degC",
)
EXHAUST = Number(
    "exhaust",
    name="ExhaustTemperature",
    limits=(_generic("watch", "above", 80.0, _WET), _generic("alarm", "above", 93.0, _WET)),
    unit="degC",
)
OIL_PRESSURE = Number(
    "oil_pressure",
    name="OilPressure",
    limits=(
        _generic("watch", "below", 100.0, _OIL, engine_above=1000.0),
        _generic("alarm", "below", 70.0, _OIL, engine_above=1000.0),
    ),
    unit="kPa",
)
KEY_LEVEL = Number("key_level", role="key_level", limits=(_generic("watch", "below", 1.0, _KEY),), unit="%")

TABLE: tuple[tuple[str, tuple[Number | Says, ...]], ...] = (
    ("battery", (BATTERY,)),
    (
        "key",
        (
            Says("lanyard", "in place", {"pulled": Verdict.LOOK}, role="lanyard"),
            KEY_LEVEL,
            Says("limited_power", "not limited", others=Verdict.ASHORE, role="limited_power"),
        ),
    ),
    ("faults", (Says("check_engine", "off", {"on": Verdict.LOOK}, name="CheckEngine"),)),
    (
        "heat",
        (COOLANT, EXHAUST, Says("over_temperature", "off", {"on": Verdict.ASHORE}, name="OverTemperature")),
    ),
    (
        "oil",
        (
            OIL_PRESSURE,
            Says("oil_level", "off", {"on": Verdict.LOOK}, name="LowOilLevel"),
            Says("oil_warning", "off", {"on": Verdict.ASHORE}, name="LowOilPressure", running=True),
        ),
    ),
)
"""Rows in the order to mend them; before them stand the age of all their values and the stored faults, with
which the warning that stands for them is one row.
Signals without a role go by the name that the shipped families give them."""
