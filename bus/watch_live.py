"""Live values on the command line: attached to a running bus process, or reading the adapter itself."""

from __future__ import annotations

import select
import sys
import time
from typing import TYPE_CHECKING, TextIO

from app.messages import LinkState
from app.reading import Quality, Reading
from bus.gate import Gate
from bus.hub import Hub
from bus.watch_file import reading_line, reading_text
from bus.way import Way

if TYPE_CHECKING:
    from collections.abc import Sequence

    from app.messages import Catalogue, Snapshot
    from bus.adapter import Adapter
    from bus.client import WallClient
    from bus.family import Family

TURN_S = 0.05


def attached(client: WallClient, out: TextIO, *, as_json: bool, until: float) -> int:
    """Print every value that is new in a snapshot, until the clock says ``until`` or the bus process ends.

    The bus process hands out the newest value of each signal at most 20 times a second; a value that changed
    more often in between is not printed.
    """
    printed: dict[int, tuple[float, Quality]] = {}
    number = 0
    while time.monotonic() < until:
        view = client.poll()
        if not view.connected:
            print("The bus process has ended.", file=sys.stderr)
            return 1
        if view.snapshot is not None and view.catalogue is not None:
            if view.catalogue.number != number:
                printed.clear()
                number = view.catalogue.number
            for reading in _news(view.snapshot, view.catalogue, printed):
                _print(reading, out, as_json=as_json)
            out.flush()
        select.select([client.fileno()], [], [], TURN_S)
    return 0


def _news(
    snapshot: Snapshot, catalogue: Catalogue, printed: dict[int, tuple[float, Quality]]
) -> list[Reading]:
    readings = []
    for value in snapshot.values:
        key = (value.at, value.quality)
        if printed.get(value.signal) != key:
            printed[value.signal] = key
            info = catalogue.signals[value.signal]
            readings.append(Reading(info.name, value.value, info.unit, value.at, value.quality, value.source))
    return readings


def alone(adapter: Adapter, families: Sequence[Family], out: TextIO, *, as_json: bool, until: float) -> int:
    """Open the adapter read-only and print every reading in the order of the frames."""
    gate = Gate(adapter)
    hub = Hub(gate, gate.outlet(), families, lambda: None)
    gate.start()
    said = ""
    try:
        while time.monotonic() < until:
            for reading in hub.pump():
                _print(reading, out, as_json=as_json)
            out.flush()
            said = say_link(hub, gate, said)
            time.sleep(TURN_S)
    finally:
        gate.stop()
    return 0 if hub.catalogue is not None else 1


def say_link(hub: Hub, gate: Gate, said: str) -> str:
    """Tell on stderr what is being waited for, once per change."""
    state = hub.snapshot().link.state
    status = gate.status
    words = {
        LinkState.NO_ADAPTER: status.reason,
        LinkState.NEED_RATE: f"{status.reason} Name the bit rate with --bitrate.",
        LinkState.SILENT: "Nothing is heard. Turn the key on." if status.way is not Way.NO_ADAPTER else "",
        LinkState.UNKNOWN_CRAFT: "There is traffic, but no family explains it.",
    }.get(state, "")
    if words and words != said:
        print(words, file=sys.stderr, flush=True)
    return words


def _print(reading: Reading, out: TextIO, *, as_json: bool) -> None:
    """One line, with the time turned from the monotonic to the wall clock, as recordings carry it."""
    if reading.at is not None:
        wall = round(reading.at + time.time() - time.monotonic(), 6)
        reading = Reading(reading.signal, reading.value, reading.unit, wall, reading.quality, reading.source)
    out.write((reading_line(reading) if as_json else reading_text(reading)) + "\n")
