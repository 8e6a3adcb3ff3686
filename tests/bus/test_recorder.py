"""The recorder: every frame kept, readable whenever the power goes."""

import json
import random
import shutil
import signal
import subprocess
import sys
import textwrap
import time
from types import SimpleNamespace

import can
import pytest

from bus.frame import EXTENDED, Frame
from bus.recorder import Recorder
from bus.recording import RecordingReader
from bus.way import Outlet


class Clocks:
    def __init__(self):
        self.mono, self.wall = 100.0, 1_800_000_000.0


@pytest.fixture
def clocks():
    return Clocks()


@pytest.fixture
def make(tmp_path, clocks):
    def build(**options):
        outlet = Outlet()
        recorder = Recorder(
            tmp_path / "recordings",
            outlet,
            lambda: {"adapter": "test", "bitrate": 500_000},
            clock=lambda: clocks.mono,
            wall=lambda: clocks.wall,
            **options,
        )
        return recorder, outlet

    return build


def frames(clocks, count=10):
    return [Frame(clocks.mono, 0x120 + n, bytes([n] * 8)) for n in range(count)]


def written(tmp_path):
    return sorted((tmp_path / "recordings").glob("*.log"))


def test_no_frame_makes_no_file(make, tmp_path):
    recorder, _ = make()
    recorder._step([])
    recorder._close()
    assert written(tmp_path) == []
    assert recorder.state is None


def test_every_frame_can_be_read_back_by_us_and_by_python_can(make, clocks, tmp_path):
    recorder, _ = make()
    wanted = [*frames(clocks), Frame(clocks.mono, 0x19F20110 | EXTENDED, b"\x01\x02")]
    recorder._step(wanted)
    recorder._close()
    (path,) = written(tmp_path)
    assert [(f.ident, f.data) for f in RecordingReader(path)] == [(f.ident, f.data) for f in wanted]
    # python-can as the outside reader of the candump format
    with can.CanutilsLogReader(path) as reader:
        outside = [
            (m.arbitration_id | (EXTENDED if m.is_extended_id else 0), bytes(m.data), m.timestamp)
            for m in reader
        ]
    assert [(i, d) for i, d, _ in outside] == [(f.ident, f.data) for f in wanted]
    assert outside[0][2] == pytest.approx(clocks.wall, abs=1e-5)


def test_a_clock_that_is_set_bends_nothing_and_is_noted(make, clocks, tmp_path):
    recorder, _ = make()
    recorder._step(frames(clocks, 1))
    clocks.mono += 1
    clocks.wall += 1 - 14 * 86_400  # the clock is set back two weeks
    recorder._step(frames(clocks, 1))
    recorder._close()
    (path,) = written(tmp_path)
    times = [frame.at for frame in RecordingReader(path)]
    assert times[1] - times[0] == pytest.approx(1.0, abs=1e-5)
    notes = [json.loads(line) for line in path.with_suffix(".notes.jsonl").read_text().splitlines()]
    assert [note["kind"] for note in notes] == ["start", "clock"]
    assert notes[0]["adapter"] == "test"
    step = (notes[1]["wall"] - notes[1]["mono"]) - (notes[0]["wall"] - notes[0]["mono"])
    assert step == pytest.approx(-14 * 86_400, abs=0.01)


def test_a_mark_stands_in_the_notes_at_the_time_of_the_frames_of_then(make, clocks, tmp_path):
    recorder, _ = make()
    recorder.mark(7, clocks.mono - 5.0)  # of a ride before this recording
    recorder._step(frames(clocks, 1))
    clocks.mono += 2
    clocks.wall += 2
    at = clocks.mono
    recorder.mark(1, at)
    recorder._step(frames(clocks, 1))
    recorder._close()
    (path,) = written(tmp_path)
    notes = [json.loads(line) for line in path.with_suffix(".notes.jsonl").read_text().splitlines()]
    (mark,) = [note for note in notes if note["kind"] == "mark"]
    assert (mark["number"], mark["at"]) == (1, at)
    last = [frame.at for frame in RecordingReader(path)][-1]
    assert mark["at_wall"] == pytest.approx(last, abs=1e-5)


def test_a_bit_rate_found_later_is_noted(tmp_path, clocks):
    told = {"adapter": "test", "bitrate": None}
    recorder = Recorder(
        tmp_path / "recordings",
        Outlet(),
        lambda: dict(told),
        clock=lambda: clocks.mono,
        wall=lambda: clocks.wall,
    )
    recorder._step(frames(clocks, 1))
    told["bitrate"] = 500_000
    recorder._step(frames(clocks, 1))
    recorder._step(frames(clocks, 1))
    recorder._close()
    (path,) = written(tmp_path)
    notes = [json.loads(line) for line in path.with_suffix(".notes.jsonl").read_text().splitlines()]
    assert [(note["kind"], note["bitrate"]) for note in notes] == [("start", None), ("adapter", 500_000)]


def test_a_nearly_full_storage_is_said_and_not_filled(make, clocks, tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(shutil, "disk_usage", lambda _: SimpleNamespace(free=1))
    recorder, _ = make()
    recorder._step(frames(clocks))
    recorder._step(frames(clocks))
    assert written(tmp_path) == []
    assert "nearly full" in recorder.state.trouble
    assert capsys.readouterr().err.count("nearly full") == 1
    monkeypatch.undo()
    recorder._step(frames(clocks))
    assert recorder.state.trouble == ""
    recorder._close()


def test_a_disk_that_refuses_is_said_and_tried_again(make, clocks, tmp_path, capsys):
    recorder, _ = make()
    (tmp_path / "recordings").write_text("a file where the folder should be")
    recorder._step(frames(clocks))
    assert recorder.state.trouble
    (tmp_path / "recordings").unlink()
    recorder._step(frames(clocks))
    assert recorder.state.trouble == ""
    recorder._close()
    assert len(written(tmp_path)) == 1


def test_a_new_file_is_begun_when_one_is_large(make, clocks, tmp_path, monkeypatch):
    monkeypatch.setattr("bus.recorder.FILE_BYTES", 400)
    recorder, _ = make()
    for _ in range(30):
        recorder._step(frames(clocks, 5))
        clocks.mono += 0.1
        clocks.wall += 0.1
    recorder._close()
    assert len(written(tmp_path)) > 3
    assert sum(1 for path in written(tmp_path) for _ in RecordingReader(path)) == 150


def test_what_waits_when_it_is_stopped_is_written(make, clocks, tmp_path):
    recorder, outlet = make()
    recorder.start()
    for _ in range(500):
        outlet.put(frames(clocks))
    recorder.stop()
    assert sum(1 for path in written(tmp_path) for _ in RecordingReader(path)) == 5000


KILLED = textwrap.dedent(
    """
    import sys, time
    from pathlib import Path
    from bus.frame import Frame
    from bus.recorder import Recorder
    from bus.way import Outlet
    outlet = Outlet()
    recorder = Recorder(Path(sys.argv[1]), outlet, dict)
    recorder.start()
    number = 0
    while True:
        now = time.monotonic()
        outlet.put([Frame(now, 0x100, (number + n).to_bytes(8, "big")) for n in range(5)])
        number += 5
        print(number, now, flush=True)
        time.sleep(0.005)
    """
)


def test_after_a_kill_every_frame_older_than_a_second_is_there(tmp_path):
    """Fifty kills at random moments, ten recorders at a time: what is left is whole, in order, complete."""
    dice = random.Random(7)
    for turn in range(5):
        folders = [tmp_path / f"{turn}-{number}" for number in range(10)]
        children = [_started(folder) for folder in folders]
        for folder in folders:
            while not folder.with_suffix(".said").stat().st_size:
                time.sleep(0.01)
        time.sleep(1.0)
        for child in children:
            time.sleep(dice.uniform(0.0, 0.1))
            child.send_signal(signal.SIGKILL)
            child.wait()
        for folder in folders:
            _whole_up_to_a_second(folder)


def _started(folder):
    with folder.with_suffix(".said").open("w") as out:
        return subprocess.Popen([sys.executable, "-c", KILLED, str(folder)], stdout=out)


def _whole_up_to_a_second(folder):
    said = [
        line.split()
        for line in folder.with_suffix(".said").read_text().splitlines(keepends=True)
        if line.endswith("\n")
    ]
    last = float(said[-1][1])
    due = max((int(number) for number, at in said if last - float(at) > 1.0), default=0)
    got = []
    for path in sorted(folder.glob("*.log")):
        got += [int.from_bytes(frame.data, "big") for frame in RecordingReader(path)]
    assert got == list(range(len(got)))
    assert len(got) >= due > 0
