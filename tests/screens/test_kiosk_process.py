"""The kiosk as a process: its event log, its signals, real clicks, and how it ends."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

pytestmark = pytest.mark.glass

ROOT = Path(__file__).parents[2]
DEADLINE_S = 30


class Kiosk:
    def __init__(self, scene, folder):
        self.log = folder / "events.jsonl"
        self.home = folder / "home"
        self.home.mkdir()
        script = str(Path(__file__).with_name("fake_craft.py"))
        self.process = subprocess.Popen(
            [sys.executable, script, "--scene", scene, "--event-log", str(self.log)],
            env=dict(os.environ, PYTHONPATH=str(ROOT), HOME=str(self.home)),
            stderr=subprocess.PIPE,
            text=True,
        )

    def lines(self):
        """Whole lines only; each is flushed as it is written, so no other may be seen."""
        text = self.log.read_text("utf-8") if self.log.exists() else ""
        return [json.loads(line) for line in text.splitlines()]

    def wait(self, wanted):
        """The lines, once ``wanted`` holds of them."""
        until = time.monotonic() + DEADLINE_S
        while time.monotonic() < until:
            lines = self.lines()
            if wanted(lines):
                return lines
            assert self.process.poll() is None, self.process.stderr.read()
            time.sleep(0.02)
        raise AssertionError(f"waited in vain; seen: {self.lines()}")

    def screens(self):
        return [line["screen"] for line in self.lines() if "screen" in line]

    def end(self, number=signal.SIGTERM):
        self.process.send_signal(number)
        _, said = self.process.communicate(timeout=DEADLINE_S)
        return self.process.returncode, said


@pytest.fixture
def kiosk(display, tmp_path):
    started = []

    def start(scene):
        started.append(Kiosk(scene, tmp_path))
        return started[-1]

    yield start
    for each in started:
        if each.process.poll() is None:
            each.process.kill()
        each.process.communicate()


def test_the_event_log_tells_the_page_its_keys_and_its_values(kiosk):
    running = kiosk("good")
    line = running.wait(lambda lines: lines)[0]
    assert line["screen"] == "ride/1"
    assert [key["text"] for key in line["keys"]] == ["More", "Page 1 / 11", "Ride", "Check", "Bench", "Book"]
    tile = line["tiles"][0]
    assert (tile["signal"], tile["text"], tile["state"]) == ("EngineSpeed", "3480 rev/min", "good")
    for box in (*(key["box"] for key in line["keys"]), *(tile["box"] for tile in line["tiles"])):
        x, y, width, height = box
        assert 0 <= x < x + width <= 800
        assert 0 <= y < y + height <= 480
    ride = next(key["box"] for key in line["keys"] if key["text"] == "Ride")
    assert ride[1] > 360, "boxes are counted from the top"
    assert abs(line["t"] - time.monotonic()) < DEADLINE_S


def test_sigusr1_writes_the_page_again_with_the_values_of_that_moment(kiosk):
    running = kiosk("moving")
    running.wait(lambda lines: lines)
    running.process.send_signal(signal.SIGUSR1)
    first, second = running.wait(lambda lines: len(lines) == 2)
    assert first["screen"] == second["screen"] == "ride/1"
    assert second["t"] > first["t"]
    assert second["tiles"][0]["text"] != first["tiles"][0]["text"]


def test_sigterm_ends_it_cleanly_and_nothing_was_left_in_the_home_folder(kiosk):
    running = kiosk("good")
    running.wait(lambda lines: lines)
    assert running.end() == (0, "")
    assert list(running.home.iterdir()) == []


def test_a_picture_that_cannot_be_drawn_ends_the_process_with_one_and_a_sentence(kiosk):
    running = kiosk("breaks")
    _, said = running.process.communicate(timeout=DEADLINE_S)
    assert running.process.returncode == 1
    assert said.startswith("The picture could not be drawn (RuntimeError('the picture broke')). ")
    assert running.screens() == ["ride/1"]


@pytest.mark.skipif(shutil.which("xdotool") is None, reason="xdotool is not installed: no real clicks")
def test_a_real_click_turns_the_page_and_is_logged(kiosk):
    running = kiosk("good")
    line = running.wait(lambda lines: lines)[0]
    x, y, width, height = next(key["box"] for key in line["keys"] if key["text"] == "Check")
    window = subprocess.run(
        ["xdotool", "search", "--sync", "--pid", str(running.process.pid), "--name", "Boathook"],
        check=True,
        capture_output=True,
        text=True,
        timeout=DEADLINE_S,
    ).stdout.split()[0]
    place = [str(x + width // 2), str(y + height // 2)]
    subprocess.run(
        ["xdotool", "mousemove", "--window", window, *place, "click", "1"], check=True, timeout=DEADLINE_S
    )
    lines = running.wait(lambda lines: len(lines) == 3)
    assert lines[1]["key"] == "Check"
    assert all(abs(seen - int(wanted)) <= 2 for seen, wanted in zip(lines[1]["touch"], place, strict=True))
    assert lines[2]["screen"] == "check/faults"
