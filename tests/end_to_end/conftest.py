"""The whole tool as a person starts it: separate processes, a real window on a display of its own."""

import contextlib
import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest
from PIL import Image, ImageChops, ImageDraw, ImageFont
from processes import children_of, end_all

from screens.tour_parts import Craft, Glass, display


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
        end_all(self.started)


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


LABELS = {
    "injector_1": "Injector 1",
    "injector_2": "Injector 2",
    "injector_3": "Injector 3",
    "horn": "Horn",
    "fan": "Cooling fan",
    "fuel_inhibit": "Hold fuel off",
    "spark_inhibit": "Hold spark off",
    "injector_4": "Injector 4",
    "gate_down": "Gate down",
    "gate_up": "Gate up",
    "trim_up": "Trim up",
    "warning_lamp": "Warning lamp",
}
PROMISES = ("Hatch open, no smell", "Hands are clear", "Nobody aft", "Jet area clear")
PATIENCE_S = 60.0
TRIES, ARMS_S = 4, 4.0
STALLED = (
    "too slow for a moment",
    "was not seen in time",
    "is not known",
    "not known from both",
    "too long ago",
)
"""What the glass gives as the reason where the machine did not get to something in time."""
"""A picture that stood still for 0.3 s ends an arming, as it must; a person then arms once more."""

READING_BEGINS_S = 3.0
"""The key that reads is gone by then; a reading that is over sooner may not be seen."""


@pytest.hookimpl(tryfirst=True)
def pytest_pyfunc_call(pyfuncitem):
    """A technician's test once more where the glass says that the machine stood still meanwhile.

    That must end a press, whatever else was to end it.
    """
    bench = pyfuncitem.funcargs.get("bench")
    if bench is None:
        return None
    story = {name: pyfuncitem.funcargs[name] for name in pyfuncitem._fixtureinfo.argnames}
    for _ in range(TRIES - 1):
        try:
            pyfuncitem.obj(**story)
        except (AssertionError, pytest.fail.Exception):
            if not bench.stalled():
                raise
            print(f"once more: {bench.words()}")
            bench.mend()
        else:
            return True
    pyfuncitem.obj(**story)
    return True


class Technician:
    """At the trailer: does what the glass asks for, by touch and at the simulated craft."""

    arm_key, hold_key, stop_key = "Hold 1 s to arm", "Hold here", "STOP TEST"

    def __init__(self, kiosk, craft):
        self.kiosk, self.craft, self.glass = kiosk, craft, kiosk.glass
        self.output = ""

    def until(self, condition, what, seconds=PATIENCE_S):
        end = time.monotonic() + seconds
        while not (result := condition()):
            if time.monotonic() > end:
                pytest.fail(f"not within {seconds} s: {what}; the glass shows {self.glass.shown()}")
            time.sleep(0.02)
        return result

    def part(self, name):
        """Process id of the bus or screen half, as it is now."""
        return self.kiosk.part(self.kiosk.supervisor, name)

    def back(self, name, old):
        """That half runs again under another process id than ``old``."""
        with contextlib.suppress(StopIteration):
            return self.part(name) != old
        return False

    def words(self):
        return " ".join(self.glass.shown()["words"])

    def open(self, output):
        """Open an output's page from wherever the glass is."""
        until = time.monotonic() + PATIENCE_S
        while self.glass.shown()["screen"] != "bench/1":
            assert time.monotonic() < until, "the Bench lane did not open"
            self.glass.tap("Bench")  # dropped where the page has just changed by itself
        label = LABELS[output]

        def way():
            """The key of this output, or the one that leads to the next page of outputs."""
            keys = [key["text"] for key in self.glass.shown()["keys"]]
            return next((text for text in keys if text == label or text.startswith("Page")), None)

        while (key := self.until(way, "the outputs are listed")) != label:
            self.glass.tap(key)  # a bus process just started lists them anew, from the first page
        self.glass.tap(label)
        self.until(
            lambda: (
                self.glass.shown()["screen"].startswith(("bench/needs", "bench/ready", "bench/cautions"))
                and any(label in text for text in self.glass.shown()["words"])
            ),
            f"the page of {label}",
        )

    def make_ready(self, output):
        """Mend whatever the page of this output says is missing, until it can be armed."""
        self.output = output
        self.open(output)
        end = time.monotonic() + PATIENCE_S
        while True:
            shown = self.glass.shown()
            words = " ".join(shown["words"])
            keys = {key["text"] for key in shown["keys"]}
            if self.arm_key in keys:
                return
            if time.monotonic() > end:
                pytest.fail(f"{output} did not get ready: {words}")
            key = next((text for text in (*PROMISES, "Sign in Mara") if text in keys), None)
            if key and shown["settled"]:
                x, y, width, height = next(one["box"] for one in shown["keys"] if one["text"] == key)
                self.glass.touch_at(x + width // 2, y + height // 2)
            elif "was not confirmed stopped" in words:
                self.read_faults()
                self.open(output)
            elif "never seen above" in words:
                self.run_engine()
            elif "not seen pulled" in words:
                self.pull_lanyard()
            time.sleep(0.5)  # the glass writes five times a second

    def read_faults(self):
        """By touch, until they are read."""
        self.glass.tap("Check")
        self.glass.wait_for_screen("check/faults")
        self.glass.tap(self.reads_key() or "Read faults")
        begun = time.monotonic()
        while self.reads_key() is not None and time.monotonic() - begun < READING_BEGINS_S:
            time.sleep(0.02)
        self.until(self.reads_key, "reading has ended")

    def reads_key(self):
        """The key that reads, None while there is none: during a reading."""
        keys = [key["text"] for key in self.glass.shown()["keys"]]
        return next((text for text in ("Read again", "Read faults") if text in keys), None)

    def run_engine(self):
        """Start it, stop it, wait until it stands."""
        self.craft.start_engine()
        self.until(lambda: self.craft.ask(do="state")["values"]["EngineSpeed"] > 1000, "the engine runs")
        self.craft.ask(do="stop", pressed=True)
        self.until(lambda: self.craft.ask(do="state")["values"]["EngineSpeed"] == 0, "the engine stands")
        self.craft.ask(do="stop", pressed=False)

    def pull_lanyard(self):
        """Out and in again."""
        self.craft.ask(do="lanyard", pulled=True)
        time.sleep(0.6)  # it is sent every 100 ms
        self.craft.ask(do="lanyard", pulled=False)

    def arm(self):
        """Hold the arming key until the hold target is there, and lift; again if the machine stood still."""
        for tried in range(TRIES):
            if tried:
                self.make_ready(self.output)  # what was confirmed or heard may have lapsed meanwhile
            began = time.monotonic()
            if not self.pressed(self.arm_key):
                continue
            while self.glass.shown()["screen"] != "bench/hold" and time.monotonic() - began < ARMS_S:
                time.sleep(0.02)
            self.glass.lift()
            if self.glass.shown()["screen"] == "bench/hold":
                return
        pytest.fail(f"it could not be armed: {self.glass.shown()}")

    def pressed(self, text):
        """A finger comes down on this key and stays there, if the page still has it once it is settled."""
        shown = self.until(lambda: (now := self.glass.shown())["settled"] and now, "a page that stays")
        for key in shown["keys"]:
            if key["text"] == text:
                x, y, width, height = key["box"]
                self.glass.hand("mousemove", str(x + width // 2), str(y + height // 2), "mousedown", "1")
                return True
        return False

    def fire(self, output):
        """Arm and hold; returns when the controller says that the output is live.

        Again only where the glass says that the machine stood still meanwhile, which must end a press.
        """
        for _ in range(TRIES):
            self.make_ready(output)
            self.arm()
            if not self.pressed(self.hold_key):
                continue
            self.until(lambda: self.live() == [output] or not self.held(), f"{output} is live", 5.0)
            if self.live() == [output]:
                return
            self.glass.lift()
            if self.over():
                assert self.stalled(), f"{output} did not begin: {self.words()}"
        pytest.fail(f"{output} was ended at each of {TRIES} tries: {self.words()}")

    def stalled(self):
        """The glass shows that a press ended because the machine stood still."""
        return self.over() and any(cause in self.words() for cause in STALLED)

    def held(self):
        """The page is on the glass on which a finger holds, or an inhibit does."""
        return self.glass.shown()["screen"] in ("bench/hold", "bench/latched")

    def over(self):
        """The glass shows how a press ended."""
        return self.glass.shown()["screen"].startswith("bench/result")

    def live(self):
        """Keys of outputs that are live in the craft."""
        return [one["output"] for one in self.craft.ask(do="outputs")["live"]]

    def history(self, output):
        """When this output was live in the craft, oldest first."""
        return [one for one in self.craft.ask(do="outputs")["history"] if one["output"] == output]

    def ended(self, output, within_s, since):
        """Wait until it is off; returns how long after ``since`` (CLOCK_MONOTONIC) that was, in seconds."""
        self.until(lambda: self.live() == [], f"{output} is off", within_s + 5.0)
        took = self.history(output)[-1]["stop"] - since
        assert took <= within_s, f"{output} was live for {took:.2f} s more"
        return took

    def result(self):
        """The words of the result page."""
        self.glass.wait_for_screen("bench/result")
        return self.words()

    def frames(self):
        """How many frames the craft has received."""
        return sum(entry["what"] == "frame" for entry in self.craft.ask(do="ledger")["entries"])

    def mend(self):
        """No finger on the glass, and a sound craft."""
        self.glass.lift()
        self.craft.ask(do="mend")
        self.craft.ask(do="trusting", on=False)
        self.craft.ask(do="lanyard", pulled=False)
        self.craft.ask(do="part", part="battery", value=0.9)

    def violations(self):
        return self.craft.ask(do="ledger")["violations"]


@pytest.fixture(scope="module")
def family():
    """Of the craft at the trailer."""
    return "auk"


@pytest.fixture(scope="module")
def bench(tmp_path_factory, display_name, family):
    """A technician with a kiosk beside a craft at the dock, kept for all tests of a module."""
    kiosk = Kiosk(tmp_path_factory.mktemp("bench"), display_name)
    try:
        kiosk.supervisor = kiosk.kiosk()
        technician = Technician(kiosk, kiosk.craft("dock", "--family", family))
        kiosk.glass.wait_for_tile("EngineSpeed", "good")
        yield technician
    finally:
        kiosk.close()
