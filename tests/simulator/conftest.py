"""Engines brought to a state, simulators as processes, and an independent reader of the frames."""

import os
import subprocess
import sys
from pathlib import Path

import cantools.database
import pytest

from simulator.control import Control
from simulator.physics import Engine

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="session")
def database():
    """The DBC file of auk as cantools reads it."""
    return cantools.database.load_file(ROOT / "bus/families/auk/signals.dbc")


class Stand:
    """An engine on a stand, with the words of a test."""

    def __init__(self):
        self.engine = Engine()
        self.engine.driver.key = True

    def run(self, seconds, each=None):
        for _ in range(round(seconds / 0.005)):
            self.engine.step(0.005)
            if each is not None:
                each(self.engine)
        return self.engine

    def crank(self, seconds=1.6):
        self.engine.driver.start = True
        self.run(seconds)
        self.engine.driver.start = False

    def warm(self):
        heat = self.engine.heat
        heat.coolant = heat.metal = heat.oil = 78.0

    def started(self):
        self.warm()
        self.run(2.0)
        self.crank()
        self.run(8.0)
        return self.engine


@pytest.fixture
def stand():
    return Stand()


class Served:
    """A simulator in a process of its own."""

    def __init__(self, folder, arguments):
        self.link = folder / "craft"
        self.socket = folder / "control"
        command = [
            sys.executable,
            "-m",
            "simulator",
            "--channel",
            str(self.link),
            "--control",
            str(self.socket),
        ]
        self.process = subprocess.Popen(
            [*command, *arguments], cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
        self.control = None
        try:
            self.said = self.process.stdout.readline()
            self.control = Control(self.socket)
        except BaseException:
            self.end()
            raise

    def ask(self, do, **arguments):
        return self.control.ask(do=do, **arguments)

    def cpu_seconds(self):
        fields = Path(f"/proc/{self.process.pid}/stat").read_text().rsplit(")", 1)[1].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def end(self):
        if self.control is not None:
            self.control.close()
        self.process.terminate()
        try:
            return self.process.wait(5)
        except subprocess.TimeoutExpired:
            self.process.kill()
            raise
        finally:
            self.process.communicate()


@pytest.fixture
def serve(tmp_path):
    running = []

    def start(*arguments):
        folder = tmp_path / str(len(running))
        folder.mkdir()
        running.append(Served(folder, arguments))
        return running[-1]

    yield start
    for served in running:
        served.end()
