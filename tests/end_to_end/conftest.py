"""The whole tool as a person starts it: separate processes, a real window on a display of its own."""

import contextlib
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from PIL import Image, ImageChops, ImageDraw, ImageFont

from screens.tour_parts import Craft, Glass, display


def children_of(pid):
    """Command lines of the direct children of a process, by process id."""
    found = {}
    for entry in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError, IndexError):
            stat = (entry / "stat").read_text().rsplit(")", 1)[1].split()
            if int(stat[1]) == pid and stat[0] != "Z":
                found[int(entry.name)] = (entry / "cmdline").read_text().split("\0")
    return found


class Kiosk:
    """One kiosk under its supervisor, or its parts started one by one."""

    def __init__(self, folder, display_name):
        self.folder = folder
        self.display = display_name
        self.log = folder / "events.jsonl"
        self.log.touch()
        self.craft_path = folder / "craft"
        self.places = ["--run", str(folder / "run"), "--data", str(folder / "data")]
        self.started = []
        self.glass = Glass(self.log, display_name)

    def start(self, *arguments):
        output = (self.folder / "output.txt").open("ab")
        with output:
            child = subprocess.Popen(
                [sys.executable, "-m", "app", *map(str, arguments)],
                stdout=output,
                stderr=subprocess.STDOUT,
                env=dict(os.environ, DISPLAY=self.display),
            )
        self.started.append(child)
        return child

    def run(self, *arguments):
        return subprocess.run(
            [sys.executable, "-m", "app", *map(str, arguments)],
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )

    def kiosk(self, *more):
        return self.start(
            *self.places, "--interface", "slcan", "--channel", self.craft_path, "--event-log", self.log, *more
        )

    def craft(self, scenario="dock", *more):
        process = self.start(
            "simulate",
            "--scenario",
            scenario,
            "--channel",
            self.craft_path,
            "--control",
            self.folder / "control",
            *more,
        )
        craft = Craft(self.folder / "control")
        craft.process = process
        return craft

    def recordings(self):
        return sorted((self.folder / "data" / "recordings").glob("*.log"))

    def touches(self):
        return [line for line in map(json.loads, self.log.read_text().splitlines()) if "touch" in line]

    def part(self, supervisor, name):
        """Process id of the bus or screen half."""
        return next(pid for pid, words in children_of(supervisor.pid).items() if words[3:4] == [name])

    def close(self):
        for child in reversed(self.started):
            with contextlib.suppress(ProcessLookupError):
                child.send_signal(signal.SIGCONT)
            child.terminate()
        for child in self.started:
            try:
                child.wait(10)
            except subprocess.TimeoutExpired:
                child.kill()
                child.wait()


@pytest.fixture(scope="session")
def display_name():
    with display(800, 480) as name:
        yield name


@pytest.fixture
def kiosk(tmp_path, display_name):
    kiosk = Kiosk(tmp_path, display_name)
    yield kiosk
    kiosk.close()


FONT = "/usr/share/fonts/opentype/b612/B612-Bold.otf"
CELL = (24, 36)


def _marks(image):
    """Boxes of connected dark marks of a black-and-white picture, as (left, top, right, bottom)."""
    width, _height = image.size
    dark = {(n % width, n // width) for n, value in enumerate(image.tobytes()) if value < 128}
    boxes = []
    while dark:
        edge = [dark.pop()]
        left, top = right, bottom = edge[0]
        while edge:
            x, y = edge.pop()
            left, top, right, bottom = min(left, x), min(top, y), max(right, x), max(bottom, y)
            for near in ((x + dx, y + dy) for dx in (-1, 0, 1) for dy in (-1, 0, 1)):
                if near in dark:
                    dark.remove(near)
                    edge.append(near)
        boxes.append((left, top, right + 1, bottom + 1))
    return sorted(boxes)


def _cell(image):
    return image.resize(CELL, Image.Resampling.BILINEAR).tobytes()


def _templates():
    font = ImageFont.truetype(FONT, 120)
    shapes = {}
    for digit in "0123456789":
        picture = Image.new("L", (160, 200), 255)
        ImageDraw.Draw(picture).text((30, 20), digit, font=font, fill=0)
        cut = picture.crop(_marks(picture)[0])
        shapes[digit] = (_cell(cut), cut.width / cut.height)
    return shapes


def read_figure(picture, box):
    """The large figure of a tile, read from its pixels: each mark against the digits of the typeface."""
    x, y, width, height = box
    crop = picture.crop((x + 3, y + 3, x + width - 3, y + height - 3)).convert("L")
    if crop.getpixel((1, crop.height - 2)) < 128:
        crop = ImageChops.invert(crop)
    marks = _marks(crop)
    tallest = max(bottom - top for _, top, _, bottom in marks)
    digits = [mark for mark in marks if mark[3] - mark[1] > 0.85 * tallest]
    base = digits[0][3]
    text = ""
    for left, top, right, bottom in marks:
        tall = bottom - top
        if tall > 0.85 * tallest:
            seen, shape = _cell(crop.crop((left, top, right, bottom))), (right - left) / tall
            text += min(
                TEMPLATES,
                key=lambda digit: (
                    sum(abs(a - b) for a, b in zip(seen, TEMPLATES[digit][0], strict=True))
                    + 60_000 * abs(shape - TEMPLATES[digit][1])
                ),
            )
        elif tall < 0.3 * tallest and abs(bottom - base) < 0.15 * tallest and left < digits[-1][0] and text:
            text += "."
    return text


TEMPLATES = _templates() if Path(FONT).exists() else {}


@pytest.fixture
def read():
    return read_figure


@pytest.fixture
def within():
    """Wait for a condition; returns the seconds it took, fails after the deadline."""

    def wait(condition, seconds, what):
        started = time.monotonic()
        while time.monotonic() - started < seconds:
            if condition():
                return time.monotonic() - started
            time.sleep(0.02)
        pytest.fail(f"not within {seconds} s: {what}")

    return wait
