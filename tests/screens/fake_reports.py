"""What invented controllers of an auk tell, and scenes of it for the faults pages.

Code texts as in the family data; B3FFF-1A is on no list.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import structs

from app.diagnosis import CameBack, IdentityLine, JobState, ModuleState, Report, SnapshotLine
from app.faults import code_number, fault
from app.messages import LinkState

if TYPE_CHECKING:
    from fake_craft import FakeLink

    from app.ports import View

LABELS = {"engine": "Engine controller", "display": "Display"}
TEXTS = {
    "P0087": "Fuel rail pressure too low",
    "P0107": "Manifold pressure sensor circuit low",
    "P0117": "Coolant temperature sensor circuit low",
    "P0122": "Throttle sensor 1 circuit low",
    "P0201": "Injector 1 circuit open",
    "P0301": "Misfire in cylinder 1",
    "P0335": "Crankshaft position sensor circuit",
    "P0562": "System voltage low",
    "P0641": "Sensor supply circuit open",
    "U0100": "Lost communication with the engine controller",
    "B1001": "Display fuel level sensor circuit",
}
NOW, WAS, ONCE, KEPT = 0x2F, 0x28, 0x24, 0x20
"""Status: failing now; confirmed; pending; only failed since it was cleared."""


def one(code, status, hours, count, age, *, module="engine"):
    """A fault with its snapshot; without hours it is one of which nothing else is told."""
    number = code_number(code)
    found = fault(module, number, status, {code_number(known): text for known, text in TEXTS.items()})
    if hours is None:
        return found
    values = [
        SnapshotLine("Engine speed", "0", "rev/min"),
        SnapshotLine("Coolant", "-40", "degC"),
        SnapshotLine("Battery", "9.2", "V"),
        SnapshotLine("Throttle", "not known"),
        SnapshotLine("Manifold pressure", "101", "kPa"),
        SnapshotLine("Engine hours", f"{hours:.1f}", "h"),
        SnapshotLine("Since key on", "3", "s"),
    ]
    return structs.replace(found, hours=hours, count=count, age=age, snapshot=values)


TOGETHER = [
    one("P0117", NOW, 1142.3, 12, 0),
    one("P0107", WAS, 1142.3, 1, 3),
    one("P0641", NOW, 1142.25, 2, 0),
]
ALONE = one("P0301", ONCE, 1098.0, 1, 14)
STRANGE = one("B3FFF-1A", WAS, None, None, None, module="display")
NINE = [
    *TOGETHER,
    ALONE,
    one("P0087", WAS, 1120.4, 3, 8),
    one("P0122", WAS, 1101.0, 255, 9),
    one("P0201", NOW, 1139.9, 4, 1),
    one("P0335", ONCE, 977.2, 1, 40),
    one("U0100", KEPT, None, None, None, module="display"),
]


def modules(**unread):
    """Both controllers; ``engine`` or ``display`` with the reason why it was not read."""
    return [ModuleState(key, label, key not in unread, unread.get(key, "")) for key, label in LABELS.items()]


IDENTITY = [
    IdentityLine("engine", "Hull number", "US-ABC12345D404"),
    IdentityLine("engine", "Engine controller serial", "20417"),
    IdentityLine("engine", "Engine controller software", "AUK-3.2.1"),
    IdentityLine("engine", "Engine hours", "1142.3", "h"),
    IdentityLine("display", "Display serial", "D-7731"),
    IdentityLine("display", "Display software", ""),
]
BANDS = ((0, 1500), (1500, 3000), (3000, 4500), (4500, 6000), (6000, 7000), (7000, 8000), (8000, 9000))
HOURS = [
    IdentityLine("engine", f"Hours at {low} to {high} rev/min", hours, "h" if hours else "", (low, high))
    for (low, high), hours in zip(
        BANDS, ("354.1", "137.1", "159.9", "182.8", "137.1", "137.1", "34.2"), strict=True
    )
]
COUNTERS = [
    IdentityLine("engine", label, value, counter=True)
    for label, value in (
        ("Starts", "2960"),
        ("Over-speed", "22"),
        ("Overheat", "9"),
        ("Low oil pressure", ""),
    )
]
FOREIGN = [
    *IDENTITY[:2],
    IdentityLine("engine", "Engine controller software", "AE-99.1 stage 2", foreign=True),
]
MISWRITTEN = [IdentityLine("engine", "Hull number", "ABC1234OL495"), *IDENTITY[1:]]


def report(faults=(), *, number=1, kind="scan", at=990.0, craft="auk 20417", read=None, **more):
    """A report; ``read`` as for ``modules``."""
    states = modules(**(read or {}))
    more = {"identity": IDENTITY} | more
    return Report(number, kind, at, 1_938_244_447.0, craft, modules=states, faults=list(faults), **more)


def told(link: FakeLink, what: Report | None = None, *, job=None, operator="", ago=132.0, **view) -> View:
    """A view of a craft at rest with this report, read so many seconds before the scene began."""
    seen = link.view(changed={"EngineSpeed": 0.0, "EngineState": "Stopped", "BatteryVoltage": 12.6}, **view)
    catalogue = seen.catalogue and structs.replace(seen.catalogue, modules=list(LABELS.values()))
    if what is not None:
        what = structs.replace(what, at=link.set_at - ago)
    number = 0 if what is None else what.number
    began = structs.replace(seen.snapshot.link, since=link.began - 400.0)
    lost = seen.snapshot.link.state is LinkState.LOST
    snapshot = structs.replace(
        seen.snapshot,
        job=job,
        report=number,
        operator=link.signed_in or operator,
        link=seen.snapshot.link if lost else began,
    )
    return structs.replace(seen, snapshot=snapshot, catalogue=catalogue, report=what)


SILENT = "Display did not answer. Check its fuse and its plug, read again."
NEEDS = [
    "Engine speed 1180 rev/min. Stop the engine, wait 2 s",
    "Battery at 11.9 V. Charge it to 12.2 V",
    "Another tester talks. Unplug it",
]
REFUSED = f"Clearing the faults of the engine controller is refused: {'; '.join(NEEDS)}"
CUT = "Clearing auk 20417 was cut short: what it holds now is not known. Read the faults again."
NOT_SINCE = "Not read since clearing was cut short."
HARD = [*TOGETHER[:1]]


def job(kind, words, done, steps, *, waiting=False):
    return JobState(kind, words, done, steps, 990.0, waiting)


def _scenes():
    three = report([*TOGETHER, ALONE])
    back = [CameBack("engine", "P0117", TEXTS["P0117"], 0.4)]
    cleared = {"number": 2, "kind": "clear", "before": TOGETHER}
    recent = {"ago": 20.0}
    mara = {"operator": "Mara"}
    reading = job("scan", "Engine controller: reading its faults", 4, 9)
    return {
        "unread": (None, {}),
        "reading": (None, {"job": reading}),
        "reading_waits": (
            None,
            {"job": job("scan", "The controller asks for more time", 4, 9, waiting=True)},
        ),
        "clearing": (three, {"job": job("clear", "Engine controller: clearing", 3, 8)}),
        "none": (report(), {}),
        "miswritten": (report(identity=MISWRITTEN), {}),
        "hours": (report(identity=[*IDENTITY, *HOURS]), {}),
        "counters": (report(identity=[*IDENTITY, *COUNTERS]), {}),
        "foreign": (report(identity=[*FOREIGN, *COUNTERS]), {}),
        "foreign_mara": (report(identity=[*FOREIGN, *COUNTERS]), mara),
        "hours_gap": (report(identity=[*HOURS[:6], structs.replace(HOURS[6], value="", unit="")]), {}),
        "together": (three, {}),
        "together_mara": (three, mara | recent),
        "together_ines": (three, {"operator": "Ines"} | recent),
        "together_nobody": (three, recent),
        "together_stale": (three, mara),
        "newer": (report([ALONE], number=2), mara | recent),
        "nine": (report(NINE), mara | recent),
        "strange": (report([STRANGE]), {}),
        "one_unread": (report(TOGETHER, read={"display": SILENT}), {}),
        "all_unread": (report(read={"engine": "Engine controller did not answer.", "display": SILENT}), {}),
        "half_read": (report(TOGETHER, read={"engine": "It was cut off."}), mara | recent),
        "cleared": (report([], **cleared), recent),
        "came_back": (report(HARD, **cleared, came_back=back), {"ago": 3.0}),
        "clear_refused": (report(TOGETHER, number=2, kind="clear", trouble=REFUSED, needs=NEEDS), recent),
        "clear_cut": (
            report(**cleared, trouble=CUT, read={"engine": NOT_SINCE, "display": NOT_SINCE}),
            recent,
        ),
        "reading_lost": (three, {"state": LinkState.LOST, "age": 12.0}),
        "reading_hung": (three, {"connected": False, "snapshot_age": 4.0}),
        "another_craft": (report(TOGETHER, craft="auk 20418"), {}),
    }


FAULT_SCENES = {
    f"faults_{name}": lambda link, what=what, how=how: told(link, what, **how)
    for name, (what, how) in _scenes().items()
}
TOUCHED = {
    "faults_unread": ["Check", "Check+Connection", "Check+Connection+Identity"],
    "faults_together": [
        "Check",
        "Check+More?",
        "Check+Details",
        "Check+Details+More?",
        "Check+Details+Next",
        "Check+Details+Note",
        "Check+More?+Connection+Identity",
    ],
    "faults_nine": ["Check", "Check+More", "Check+More+More", "Check+Clear", "Check+Details+Next+Next"],
    "faults_strange": ["Check", "Check+Details"],
    "faults_came_back": ["Check", "Check+Details"],
    "faults_reading_lost": ["Check", "Check+Details"],
    **{f"faults_together_{who}": ["Check+Clear"] for who in ("mara", "ines", "nobody", "stale")},
    "faults_half_read": ["Check", "Check+Clear", "Check+More?+Connection+Identity"],
    "faults_none": ["Check", "Check+Connection+Identity", "Check+Connection+Hours"],
    "faults_hours": ["Check+Connection+Hours", "Check+Connection+Identity"],
    "faults_counters": ["Check+Connection+Identity+Counters"],
    "faults_foreign": ["Check", "Check+Connection+Identity", "Ride", "Ride+Page"],
    "faults_foreign_mara": [
        "Check+Connection+Identity+Limits",
        "Check+Connection+Identity+Limits+Page",
        "Check+Connection+Identity+Limits+Engine speed",
        "Check+Connection+Identity+Limits+Engine speed+Take it",
    ],
    "faults_hours_gap": ["Check+Connection+Hours"],
    "faults_miswritten": ["Check+Connection+Identity"],
}
"""What leads from a scene to the pages of it that are worth a look; the list alone where nothing is said."""

FAULT_VIEWS = [f"{scene}:{taps}" for scene in FAULT_SCENES for taps in TOUCHED.get(scene, ["Check"])]
