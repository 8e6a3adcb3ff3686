"""Scenes of a craft whose engine tells its faults by itself."""

from __future__ import annotations

from fake_reports import report
from fake_reports import told as read_then
from msgspec import structs

from app.diagnosis import CameBack, Fault, HeardFault, HeardFaults, ModuleState
from app.faults import NO_STATUS

TWO = [
    HeardFault(110, 0, 2, active=True),
    HeardFault(168, 4, 1, active=True),
    HeardFault(100, 1, 3, active=False),
    HeardFault(500_248, 7, None, active=False, certain=False),
]


def told(link, faults, lamps=(), *, ago=0.4):
    view = link.view()
    at = link.clock() - ago
    snapshot = structs.replace(view.snapshot, heard=[HeardFaults(0, at, at - 2.0, list(lamps), list(faults))])
    return structs.replace(view, snapshot=snapshot, catalogue=structs.replace(view.catalogue, outputs=[]))


def asked(view, lamps=("red stop",), faults=TWO):
    """The same of a craft whose engine can be asked and cleared too."""
    catalogue = structs.replace(view.catalogue, modules=["Engine controller"], tells=True, outputs=[])
    at = view.snapshot.at - 0.4
    heard = [HeardFaults(0, at, at - 2.0, list(lamps), list(faults))]
    return structs.replace(view, catalogue=catalogue, snapshot=structs.replace(view.snapshot, heard=heard))


def stored(spn, fmi, text, times, *, active):
    code = f"SPN\u00a0{spn} FMI\u00a0{fmi}"
    flags = {"failed_now": active, "pending": False, "confirmed": False, "warning": False}
    return Fault("engine", spn << 5 | fmi, code, text, NO_STATUS, count=times, **flags)


STORED = [
    stored(110, 0, "Coolant temperature: above normal, most severe", 2, active=True),
    stored(100, 1, "Oil pressure: below normal, most severe", 3, active=False),
    stored(500_248, 7, "", None, active=False),
]
ENGINE = [ModuleState("engine", "Engine controller", read=True)]
NOTHING_ELSE = {"identity": []}


def read(link, faults, lamps, told, **more):
    made = structs.replace(report(faults, **NOTHING_ELSE, **more), modules=ENGINE)
    return asked(read_then(link, made, operator="Mara", ago=20.0), lamps, told)


BACK = [CameBack("engine", STORED[0].code, STORED[0].text, 1.1)]

HEARD_SCENES = {
    "heard_asked": lambda link: asked(link.view()),
    "heard_read": lambda link: read(link, STORED, ("red stop",), TWO),
    "heard_clean": lambda link: read(link, [], (), ()),
    "heard_back": lambda link: read(
        link, STORED[:1], ("red stop",), TWO[:1], number=2, kind="clear", before=STORED, came_back=BACK
    ),
    "heard_two": lambda link: told(link, TWO, ("amber warning", "red stop")),
    "heard_none": lambda link: told(link, ()),
    "heard_old": lambda link: told(link, TWO[:1], ("red stop",), ago=40.0),
}
HEARD_VIEWS = (
    "heard_asked:Check",
    "heard_read:Check",
    "heard_read:Check+Details",
    "heard_read:Check+Clear",
    "heard_clean:Check",
    "heard_back:Check",
    "heard_read:Check+Quick",
    "heard_clean:Check+Connection+Identity",
    "heard_two:Check",
    "heard_none:Check",
    "heard_old:Check",
    "heard_two:Check+Quick",
    "heard_two:Check+Connection+Identity",
)
