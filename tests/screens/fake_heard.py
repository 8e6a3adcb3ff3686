"""Scenes of a craft whose engine tells its faults by itself."""

from __future__ import annotations

from msgspec import structs

from app.diagnosis import HeardFault, HeardFaults

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
    return structs.replace(view, snapshot=snapshot)


HEARD_SCENES = {
    "heard_two": lambda link: told(link, TWO, ("amber warning", "red stop")),
    "heard_none": lambda link: told(link, ()),
    "heard_old": lambda link: told(link, TWO[:1], ("red stop",), ago=40.0),
}
HEARD_VIEWS = (
    "heard_two:Check",
    "heard_none:Check",
    "heard_old:Check",
    "heard_two:Check+Quick",
    "heard_two:Check+Connection+Identity",
)
