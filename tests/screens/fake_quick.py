"""Scenes for the quick check: the faults are read at once when the glass asks for them."""

from __future__ import annotations

from fake_reports import ALONE, LABELS, STRANGE, TOGETHER, job, one, report
from msgspec import structs

from app.messages import LinkState, Value
from app.output_messages import ReadFaults
from app.reading import Quality

REST = {
    "EngineSpeed": 0.0,
    "EngineSpeedDisplay": 0.0,
    "EngineState": "Stopped",
    "CraftSpeed": 0.0,
    "OilPressure": 0.0,
    "BatteryVoltage": 12.6,
    "CoolantTemperature": 24.0,
    "ExhaustTemperature": 22.0,
    "LimitedPower": "Not limited",
    "KeyLevel": 40.0,
}
RUNS = {
    "EngineSpeed": 1480.0,
    "EngineState": "Running",
    "BatteryVoltage": 14.1,
    "OilPressure": 180.0,
    "CoolantTemperature": 71.0,
}
SILENT = {"display": "Display did not answer. Check its fuse and its plug, read again."}
ALL_BAD = {
    "BatteryVoltage": 11.2,
    "CoolantTemperature": 104.0,
    "ExhaustTemperature": 82.0,
    "LimitedPower": "Overheat",
    "Lanyard": "Pulled",
}
BEFORE: dict[float, int] = {}
"""How many readings were asked for before a scene began."""
TOLD: dict[int, float] = {}
"""When each request that was asked was answered."""

SIGNALS = ("BatteryVoltage", "CoolantTemperature", "ExhaustTemperature", "OilPressure", "Lanyard", "KeyLevel")


def view(link, *, changed=None, faults=(), read=None, answers=True, aged=(), reading=None, **how):
    """One view; ``aged``: signals whose newest value is 12 s old; ``answers``: a reading brings a report."""
    seen = link.view(changed=REST | (changed or {}), **how)
    every = [request for request in link.asked if isinstance(request, ReadFaults)]
    asked = every[BEFORE.setdefault(link.set_at, len(every)) :]
    told = None
    if every and answers:
        at = TOLD.setdefault(id(every[-1]), link.clock())
        told = report(faults, number=len(every), at=at, read=read)
    catalogue = seen.catalogue and structs.replace(seen.catalogue, modules=list(LABELS.values()))
    names = [info.name for info in link.catalogue.signals]
    values = [
        Value(value.signal, value.value, value.at - 12.0, Quality.STALE, value.source)
        if names[value.signal] in aged
        else value
        for value in seen.snapshot.values
    ]
    since = seen.snapshot.link.since if how.get("state") else link.began - 400.0
    snapshot = structs.replace(
        seen.snapshot,
        values=values,
        job=reading if asked else None,
        report=0 if told is None else told.number,
        link=structs.replace(seen.snapshot.link, since=since),
    )
    return structs.replace(seen, snapshot=snapshot, catalogue=catalogue, report=told)


_HOW = {
    "fit": {},
    "fit_running": {"changed": RUNS},
    "battery_low": {"changed": {"BatteryVoltage": 11.9}},
    "not_charging": {"changed": RUNS | {"BatteryVoltage": 12.5}},
    "too_hot": {"changed": RUNS | {"CoolantTemperature": 104.0}},
    "oil_low": {"changed": RUNS | {"OilPressure": 62.0}},
    "oil_slow": {"changed": RUNS | {"EngineSpeed": 900.0}},
    "stored": {"faults": [ALONE]},
    "failing": {"faults": [*TOGETHER, one("P0335", 0x24, 977.2, 1, 40)]},
    "strange": {"faults": [STRANGE]},
    "silent_module": {"read": SILENT},
    "lanyard": {"changed": {"Lanyard": "Pulled"}},
    "limited": {"changed": {"LimitedPower": "Low oil pressure"}},
    "all_bad": {"changed": ALL_BAD, "faults": TOGETHER},
    "old": {"aged": SIGNALS},
    "sensor": {"qualities": {"CoolantTemperature": Quality.ERROR, "OilPressure": Quality.NOT_AVAILABLE}},
    "no_speed": {"qualities": {"EngineSpeed": Quality.ERROR}},
    "lost": {"state": LinkState.LOST, "age": 12.0},
    "hung": {"connected": False, "snapshot_age": 4.0},
    "reading": {
        "answers": False,
        "reading": job("scan", "Engine controller: reading its faults", 4, 9),
    },
    "no_answer": {"answers": False},
}
QUICK_SCENES = {f"quick_{name}": lambda link, how=how: view(link, **how) for name, how in _HOW.items()}
_ALARMS = ("quick_oil_low", "quick_too_hot")
"""An alarm takes the glass first."""
QUICK_VIEWS = [
    *(f"{scene}:Check+Quick" for scene in QUICK_SCENES if scene not in ("quick_no_answer", *_ALARMS)),
    *(f"{scene}:seen+Check+Quick" for scene in _ALARMS),
    "quick_no_answer:Check+Quick+wait+wait",
    "quick_fit:Check",
    "silent:Check+Quick",
    "starting:Check+Quick",
]
"""Every verdict, and what it may come from."""
