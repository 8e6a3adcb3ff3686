"""For every folder: waiting for a condition, recorded traffic of real boats and how it was as CAN frames."""

import datetime as dt
import sys
import time
from collections import defaultdict
from pathlib import Path

import pytest
from hypothesis import settings

from bus.frame import EXTENDED, Frame
from bus.recording import candump_line

sys.path.insert(0, str(Path(__file__).parent))  # for processes, which tests of several folders share

settings.register_profile("shared machine", deadline=None)
settings.load_profile("shared machine")
"""How long one example takes says nothing on a machine that others use too."""

FAST = {127489, 127497}
"""Parameter groups that travel as fast packets."""


@pytest.fixture(scope="session")
def nmea_data():
    """The folder of recorded traffic beside the repository (its SOURCE.txt names where it comes from)."""
    for parent in Path(__file__).resolve().parents:
        folder = parent / "shared" / "data" / "nmea2000"
        if folder.is_dir():
            return folder
    pytest.skip("the recorded NMEA 2000 traffic (shared/data/nmea2000) is not on this machine")


@pytest.fixture
def as_frames():
    """Turns reassembled messages into the CAN frames they were: single ones, and fast packets whose
    sequence counter rises from packet to packet of a sender."""
    sequences = defaultdict(int)

    def split(pgn, priority, source, payload, at=0.0):
        ident = EXTENDED | priority << 26 | pgn << 8 | source
        if pgn not in FAST:
            return [Frame(at, ident, payload)]
        sequence = sequences[source, pgn] % 8
        sequences[source, pgn] += 1
        parts = [bytes([len(payload)]) + payload[:6]]
        parts += [payload[start : start + 7] for start in range(6, len(payload), 7)]
        return [
            Frame(at, ident, bytes([sequence << 5 | number]) + part.ljust(7, b"\xff"))
            for number, part in enumerate(parts)
        ]

    return split


@pytest.fixture
def raw_lines(as_frames):
    """Frames of lines "timestamp,priority,pgn,source,destination,length,bytes"."""

    def parse(line):
        stamp, priority, pgn, source, _, length, *data = line.strip().split(",")
        payload = bytes.fromhex("".join(data))
        assert len(payload) == int(length)
        when = dt.datetime.fromisoformat(stamp) if "T" in stamp else None
        at = when.timestamp() if when is not None and when.year > 1970 else 0.0
        return as_frames(int(pgn), int(priority), int(source), payload, at)

    return parse


@pytest.fixture
def write_candump(tmp_path):
    def write(frames):
        path = tmp_path / "traffic.log"
        path.write_bytes(b"".join(candump_line(frame.at, "can0", frame) for frame in frames))
        return path

    return write


@pytest.fixture
def wait_until():
    def wait(condition, seconds=5.0):
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            if condition():
                return True
            time.sleep(0.005)
        return condition()

    return wait
