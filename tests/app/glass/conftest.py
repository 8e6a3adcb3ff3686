"""Views of a small invented craft: four signals, everything else by keyword."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest
from msgspec import structs

from app.board import Board
from app.entry import Entry
from app.messages import (
    Catalogue,
    Craft,
    Limit,
    Link,
    LinkState,
    Mode,
    Recording,
    SignalInfo,
    Snapshot,
    Value,
)
from app.moment import Moment
from app.ports import View
from app.reading import Quality

sys.path.insert(0, str(Path(__file__).parent))  # for what several test modules share

NOW = 1000.0


class Maker:
    """Makes what the models take; every default is a good, live ride."""

    now = NOW

    def limit(self, severity="watch", side="above", value=80.0, engine_above=None, *, generic=False):
        return Limit(severity, side, value, engine_above, "invented", generic)

    def info(self, name="Coolant", unit="degC", decimals=0, *, limits=(), group="Heat", scale=(0, 120)):
        low, high = scale
        return SignalInfo(name, name.lower(), unit, group, decimals, low, high, 0.5, list(limits), False)

    def value(self, value=71.0, quality=Quality.GOOD, age=0.0):
        return Value(0, value, NOW - age, quality, 0x120)

    def signals(self):
        return [
            self.info("Speed", "rev/min", group="Engine", scale=(0, 9000)),
            self.info("State", "", group="Engine", scale=(None, None)),
            self.info("Volts", "V", 1, group="Electrics", scale=(8, 16)),
            self.info("Key", "%", group="Switches", scale=(0, 100)),
        ]

    def catalogue(self, signals=None, *, number=1, ride=("Speed", "Volts"), groups=("Engine", "Electrics")):
        roles = {"engine_speed": "Speed", "engine_state": "State", "battery": "Volts", "key_level": "Key"}
        return Catalogue(number, "auk", signals or self.signals(), roles, list(ride), list(groups))

    def view(
        self,
        *,
        state=LinkState.FOUND,
        connected=True,
        age=0.0,
        speed=3480.0,
        said="Running",
        volts=14.1,
        key=100.0,
        qualities=None,
        value_age=0.0,
        craft=None,
        recording=None,
        mode=Mode.LIVE,
        number=1,
        catalogue=None,
        **link,
    ):
        known = state in (LinkState.FOUND, LinkState.LOST)
        catalogue = catalogue or self.catalogue(number=number)
        qualities = qualities or {}
        given = {"Speed": speed, "State": said, "Volts": volts, "Key": key}
        values = [
            Value(
                index, given[info.name], NOW - age - value_age, qualities.get(info.name, Quality.GOOD), 0x120
            )
            for index, info in enumerate(catalogue.signals)
            if given.get(info.name) is not None
        ]
        snapshot = Snapshot(
            NOW - age,
            Link(**{"state": state, "since": NOW - 30, "adapter": "slcan on /dev/ttyACM0", **link}),
            mode,
            (craft or Craft("auk", "Auk three-cylinder", "20417")) if known else None,
            recording,
            number if known else 0,
            values if known else [],
        )
        return View(connected, snapshot, catalogue if known else None)

    def nothing(self, *, connected=False):
        return View(connected, None, None)

    def moment(self, view=None, *, now=NOW, waited=60.0, **said):
        return Moment(self.view(**said) if view is None else view, now, waited=waited)

    def after_reading(self, told=None, *, job=None, operator="", since=600.0, modules=None, **view):
        """A moment with this report, which the bus side names; the link has been as it is since then."""
        made = self.view(**view)
        snapshot = structs.replace(
            made.snapshot,
            job=job,
            operator=operator,
            report=0 if told is None else told.number,
            link=structs.replace(made.snapshot.link, since=since),
        )
        asked = ["Engine controller", "Display"] if modules is None else modules
        catalogue = made.catalogue and structs.replace(made.catalogue, modules=list(asked))
        return self.moment(structs.replace(made, snapshot=snapshot, catalogue=catalogue, report=told))

    def recording(self, *, trouble="", started=NOW - 402, file="a.log"):
        return Recording(file, started, 175_338, trouble)

    def board(self):
        return Board(NOW)


@pytest.fixture(scope="session")
def make():
    return Maker()


@pytest.fixture(scope="session")
def seen(make):
    """Makes a moment after a report has come."""
    return make.after_reading


@pytest.fixture
def make_entry():
    """An entry of the book with this body, as it would be after it was written."""

    def make(kind, body):
        return Entry(
            "d",
            1,
            "i",
            "auk 1",
            "",
            "0",
            0,
            True,
            "b",
            0,
            "",
            kind.value,
            1,
            json.loads(json.dumps(body)),
            "",
            "",
        )

    return make
