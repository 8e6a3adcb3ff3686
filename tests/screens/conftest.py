"""Windows for the tests of the glass: one process with a stage for each panel, kept for the whole run."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))  # for what several test modules share

ROOT = Path(__file__).parents[2]
PANELS = ("7-800x480", "7-1024x600", "7-1280x720", "10-1280x800")


ALL_VIEWS_S = 600
"""For one test: the first that looks at every view pays for all of them, on a machine that may be busy."""


@pytest.hookimpl(tryfirst=True)  # before the marks choose
def pytest_collection_modifyitems(items):
    for item in items:
        if "display" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.glass)  # without it, it would run in no lane of deploy/test
        if {"panel_stage", "stage"} & set(getattr(item, "fixturenames", ())):
            item.add_marker(pytest.mark.timeout(ALL_VIEWS_S))


class Stage:
    """A stage in a process of its own; every method of stage.Stage may be asked for."""

    def __init__(self, panel, home):
        command = [sys.executable, str(Path(__file__).with_name("stage.py")), panel, "--serve"]
        environment = dict(os.environ, PYTHONPATH=str(ROOT), HOME=str(home))
        self.process = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=environment
        )
        self.facts = self.ask("facts")
        self._measured = {}
        self._pixels = {"day": {}, "night": {}}
        self._night = panel == PANELS[0]

    def ask(self, what, *arguments):
        self.process.stdin.write(json.dumps([what, *arguments]) + "\n")
        self.process.stdin.flush()
        answer = self.process.stdout.readline()
        assert answer, f"the stage died at {what} {arguments}"
        return json.loads(answer)

    def open(self, view):
        """Open a view and measure it."""
        self.ask("open", view)
        return self.ask("measure")

    def all_views(self):
        """Every view, measured once; at the same time its picture is read."""
        if not self._measured:
            for view in self.facts["views"]:
                self._measured[view] = self.open(view)
                self._pixels["day"][view] = self.ask("pixels")
                if self._night:
                    self.ask("wear", "night")
                    self._pixels["night"][view] = self.ask("pixels")
                    self.ask("wear", "day")
        return self._measured

    def all_pixels(self, which):
        """What the picture of every view says, by day, or on the smallest panel at night."""
        self.all_views()
        return self._pixels[which]

    def close(self):
        self.process.stdin.close()
        self.process.stdout.close()
        self.process.wait(10)


@pytest.fixture(scope="session")
def display():
    """Skips where no window can be opened."""
    if not os.environ.get("DISPLAY"):
        pytest.skip("no DISPLAY: a window cannot be opened")


@pytest.fixture(scope="session")
def stages(display, tmp_path_factory):
    """Panel name to its stage, started when it is asked for."""
    running = {}

    def stage(panel):
        if panel not in running:
            running[panel] = Stage(panel, tmp_path_factory.mktemp("home"))
        return running[panel]

    yield stage
    for each in running.values():
        each.close()


@pytest.fixture(params=PANELS)
def panel_stage(request, stages):
    """A stage at each panel in turn."""
    return stages(request.param)


@pytest.fixture
def stage(stages):
    """The stage at the smallest panel."""
    return stages("7-800x480")
