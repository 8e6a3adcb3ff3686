"""A ride as the glass sees it, moment by moment: a few signals, and time that passes when told to."""

from __future__ import annotations

from app.board import Board
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
from app.ports import View
from app.reading import Quality

STEP_S = 0.05

SIGNALS = (
    ("Speed", "rev/min", (0, 9000), [("alarm", "above", 8000.0, None)]),
    ("Coolant", "degC", (0, 120), [("watch", "above", 95.0, None), ("alarm", "above", 102.0, None)]),
    ("Oil", "kPa", (0, 700), [("alarm", "below", 70.0, 1000.0)]),
    ("Volts", "V", (8, 16), [("alarm", "below", 11.5, None)]),
    ("Way", "km/h", (0, 130), []),
)


def catalogue(number=1):
    signals = [
        SignalInfo(
            name, name.lower(), unit, "Engine", 0, *scale, 0.5,
            [Limit(*limit, "invented", generic=False) for limit in limits], enumerated=False,
        )
        for name, unit, scale, limits in SIGNALS
    ]  # fmt: skip
    roles = {"engine_speed": "Speed", "craft_speed": "Way", "battery": "Volts"}
    return Catalogue(number, "auk", signals, roles, ["Speed", "Coolant", "Oil", "Volts"], ["Engine"])


class Ride:
    """Values stay as they are until they are set; a value of None is not sent any more."""

    def __init__(self):
        self.now = 1000.0
        self.values = {"Speed": 3000.0, "Coolant": 70.0, "Oil": 300.0, "Volts": 14.0, "Way": 40.0}
        self.qualities: dict[str, Quality] = {}
        self.state = LinkState.FOUND
        self.recording: Recording | None = None
        self.catalogue = catalogue()
        self.board = Board(self.now)
        self.tick()

    @property
    def raised(self):
        return self.board.raised

    def view(self):
        values = [
            Value(index, self.values[info.name], self.now, self.qualities.get(info.name, Quality.GOOD), 1)
            for index, info in enumerate(self.catalogue.signals)
            if self.values[info.name] is not None
        ]
        link = Link(self.state, self.now)
        craft = Craft("auk", "Auk", "20417")
        snapshot = Snapshot(self.now, link, Mode.LIVE, craft, self.recording, self.catalogue.number, values)
        return View(True, snapshot, self.catalogue)

    def tick(self):
        self.board.take(self.view(), self.now)

    def run(self, seconds, **values):
        self.values |= values
        for _ in range(round(seconds / STEP_S)):
            self.now += STEP_S
            self.tick()

    def told(self):
        """What happened since the last time: ("raised", "Coolant") …"""
        events, self.raised.events = self.raised.events, []
        return [(event, alarm.info.name) for event, alarm in events]
