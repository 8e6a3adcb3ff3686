"""A craft book that is not there: entries as the tool would have made them, without disk or time."""

from __future__ import annotations

from app.entry import Entry, Kind

HERE, OTHER = "auk 20417", "skua 311"
LONG = (
    "Customer says: pulls to the left above half throttle since the last time out; impeller looked at, no "
    "nicks, intake grate free of weed, reverse bucket moves all the way. Ride again with a full tank."
)


def _journal(kind: str, **what) -> tuple[Kind, dict]:
    return Kind(kind), {"what": what, "journal": {"kind": kind, "boot": "b", "mono": 900.0, "wall": None}}


def _report(kind: str, **more) -> tuple[Kind, dict]:
    module = {"key": "engine", "label": "Engine controller", "read": True, "words": ""}
    fault = {
        "module": "engine", "number": 0x011700, "code": "P0117", "text": "Coolant sensor low", "status": 9,
        "failed_now": True, "pending": False, "confirmed": True, "warning": False,
    }  # fmt: skip
    body = {
        "number": 1, "kind": kind, "at": 900.0, "wall": 0.0, "craft": HERE, "identity": [],
        "modules": [module], "faults": [fault],
    }  # fmt: skip
    return Kind(kind), body | more


UNREAD = {"key": "display", "label": "Gauge display", "read": False, "words": "It did not answer."}
INJECTOR = {"output": "injector_1", "label": "Injector 1", "press": 7}
OLDEST_FIRST = (
    ("", "", (Kind.BOOK_BEGUN, {"aside": "", "kept": 0})),
    ("", "Ines", (Kind.SIGN_IN, {"role": "dock"})),
    (OTHER, "Ines", (Kind.CRAFT_SEEN, {"family": "skua", "serial": "311", "hull_number": "XX-AAB00311A031"})),
    (OTHER, "Ines", (Kind.NOTE, {"text": "Back from hire, hull rinsed"})),
    (HERE, "", (Kind.CRAFT_SEEN, {"family": "auk", "serial": "20417", "hull_number": ""})),
    ("", "Mara", (Kind.SIGN_IN, {"role": "technician"})),
    (HERE, "Mara", (Kind.NOTE, {"text": LONG})),
    (HERE, "Mara", _report("scan", modules=[*_report("scan")[1]["modules"], UNREAD])),
    (HERE, "Mara", _report("clear", before=_report("clear")[1]["faults"], faults=[])),
    (HERE, "Mara", _journal("confirm", what="no_smell")),
    (HERE, "Mara", _journal("refused", **INJECTOR, needs=["vented"], cause="Vent 3 min 20 s more")),
    (HERE, "Mara", _journal("output_start", **INJECTOR, cylinder=1, fuel_cm3=0.84)),
    (HERE, "Mara", _journal("output_end", **INJECTOR, fired=True, confirmed=True, cause="Finger lifted")),
    (HERE, "Mara", _journal("output_start", output="coil_2", label="Coil 2", press=8)),
    (
        HERE, "Mara",
        _journal("output_end", output="coil_2", fired=True, confirmed=False, cause="The adapter is gone"),
    ),
    (HERE, "Mara", _journal("locked", words="Coil 2 was not confirmed stopped")),
)  # fmt: skip


def entries(oldest_first=OLDEST_FIRST) -> tuple[Entry, ...]:
    """Newest first."""
    made = [
        Entry(
            device="d", number=number, id=f"id-{number}", craft=craft, visit="", hlc=f"{number:016x}",
            wall_ms=1_795_600_000_000 + number * 60_000, wall_trusted=number != 2, boot="b",
            mono_ms=900_000, operator=operator, kind=kind.value, schema=1, body=body, previous="", hash="",
        )
        for number, (craft, operator, (kind, body)) in enumerate(oldest_first, 1)
    ]  # fmt: skip
    return tuple(reversed(made))


class FakeKeeper:
    """Implements what the glass asks of app.keeper.BookKeeper; in trouble while the scene is."""

    def __init__(self, link) -> None:
        self._link = link
        self.entries = entries()
        self._views = 0
        self._people: list = []
        self._checks: list = []
        self._notes: list = []

    @property
    def trouble(self) -> str:
        full = "The storage is nearly full: 61 MiB are left. Copy recordings away and delete them."
        return full if self._link.scene == "trouble" else ""

    def of(self, craft: str) -> tuple[Entry, ...]:
        return tuple(entry for entry in self.entries if entry.craft == craft)

    def saw(self, _view) -> None:
        self._views += 1

    def signed_in(self, operator) -> None:
        self._people.append(operator and operator.name)

    def checked(self, craft, body) -> None:
        self._checks.append([craft, body])

    def noted(self, kind, craft, body) -> None:
        self._notes.append([kind.value, craft, body])

    def notes(self) -> list:
        """Marks and alarms."""
        return self._notes

    def checks(self) -> list:
        """Every quick check that had a verdict."""
        return self._checks

    def views(self) -> int:
        """How many views were shown."""
        return self._views

    def people(self) -> list:
        """Everybody who signed in."""
        return self._people

    def note(self, *texts: str) -> None:
        """Stand there with these notes as the newest entries; with none as at the beginning."""
        noted = ((HERE, "Mara", (Kind.NOTE, {"text": text})) for text in texts)
        self.entries = entries((*OLDEST_FIRST, *noted))
