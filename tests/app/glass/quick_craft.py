"""A craft for the tests of the quick check: every signal its table knows, all of it sound."""

from __future__ import annotations

from msgspec import structs

from app.diagnosis import ModuleState, Report
from app.messages import Catalogue, Limit, SignalInfo, Value
from app.moment import Moment
from app.ports import View
from app.quick_check import quick_check
from app.reading import Quality

NOW = 1000.0
BEGAN = 990.0

OFF = {"speed": 0.0, "state": "Stopped", "battery": 12.6, "oil": 0.0}
RUNS = {"speed": 1500.0, "state": "Running", "battery": 14.1, "oil": 180.0}
SOUND = {
    "lanyard": "In place", "limited": "Not limited", "key": 40.0, "coolant": 60.0, "exhaust": 40.0,
    "level": "Off", "check": "Off", "hot": "Off", "warning": "Off",
}  # fmt: skip
NAMES = {
    "speed": "Speed", "state": "State", "battery": "Volts", "lanyard": "Cord", "limited": "Limited",
    "key": "Key", "coolant": "CoolantTemperature", "exhaust": "ExhaustTemperature", "oil": "OilPressure",
    "level": "LowOilLevel", "check": "CheckEngine", "hot": "OverTemperature", "warning": "LowOilPressure",
}  # fmt: skip
ROLES = {
    "engine_speed": "Speed", "engine_state": "State", "battery": "Volts", "lanyard": "Cord",
    "limited_power": "Limited", "key_level": "Key",
}  # fmt: skip
UNITS = {"Volts": "V", "Speed": "rev/min", "Key": "%", "OilPressure": "kPa"}


def limit(severity, side, value, engine_above=None, *, generic=False):
    return Limit(severity, side, value, engine_above, "invented", generic)


def report(*faults, unread=(), at=995.0, craft="auk 20417", trouble=""):
    """Read five seconds after the check began."""
    modules = [
        ModuleState(key, label, key not in unread, "It did not answer." if key in unread else "")
        for key, label in (("engine", "Engine controller"), ("display", "Display"))
    ]
    return Report(1, "scan", at, 0.0, craft, [], modules, list(faults), trouble=trouble)


def check(seen, values=None, *, began=BEGAN, **how):
    """The check of this craft; the rest as for ``told_moment``."""
    return quick_check(told_moment(seen, values, **how), began)


def told_moment(seen, values=None, *, limits=None, qualities=None, ages=None, without=(), told=None, **how):
    """The moment that is checked.

    Args:
        seen: the fixture.
        values: what differs from a sound craft with its engine off.
        limits: by key, the family's; it has none of its own otherwise.
        qualities, ages: by key.
        without: keys of signals the family does not offer.
        told: the report, "none" = nothing was read; None = one without faults.
        how: as for the fixture.
    """
    given = OFF | SOUND | (values or {})
    qualities, ages, limits = qualities or {}, ages or {}, limits or {}
    told = report() if told is None else None if told == "none" else told
    keys = [key for key in NAMES if key not in without]
    infos = [_info(key, limits.get(key, [])) for key in keys]
    roles = {role: name for role, name in ROLES.items() if name in {info.name for info in infos}}
    moment = seen(told, catalogue=Catalogue(1, "auk", infos, roles, [], ["Group"]), **how)
    made = [
        Value(index, given[key], NOW - ages.get(key, 0.0), qualities.get(key, Quality.GOOD), 0x120)
        for index, key in enumerate(keys)
        if given[key] is not None and moment.catalogue is not None
    ]
    snapshot = structs.replace(moment.snapshot, values=made)
    return Moment(View(moment.connected, snapshot, moment.catalogue, told), NOW, waited=60.0)


def _info(key, limits):
    name = NAMES[key]
    text = isinstance((OFF | SOUND)[key], str)
    return SignalInfo(name, key, UNITS.get(name, "degC"), "Group", 1, None, None, 0.5, limits, text)


def row(made, key):
    """One row of a check."""
    return next(row for row in made.rows if row.key == key)
