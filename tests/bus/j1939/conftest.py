"""A whole simulated tern behind a wire, in real time: real gate, hub, facts, journal and worker before it."""

import time

import pytest

from app.errors import AdapterLost
from app.output_messages import SignIn
from bus.adapter import Adapter
from bus.craft import CraftService
from bus.diagnose import Diagnosis
from bus.family import load_families
from bus.frame import EXTENDED, Frame
from bus.gate import Gate
from bus.hub import Hub
from bus.journal import Journal
from simulator.craft import STEP_MS, Craft

MOST_STEPS = 20
"""At once: on a machine that cannot keep up the craft is slower, and does not keep the gate waiting."""


class CraftWire:
    """A wire to a simulated craft that keeps real time where it can; its witness' words are kept.

    Attributes:
        sent: what the tool put on it.
        extra: frames (identifier, data) that somebody else puts on it next.
        wrong: what must never be done to it and was.
        gone: the adapter was pulled out.
    """

    bad = 0
    listening_only = False

    def __init__(self, craft):
        self.craft = craft
        self.sent, self.extra, self.wrong, self.notes = [], [], [], []
        self.gone = False
        self._began, self._steps = time.monotonic(), 0
        craft.note = self._note

    def _note(self, what, did, violation=None, **details):
        self.notes.append((what, did, details))
        if violation is not None:
            self.wrong.append((what, did, violation, details))

    def open_wire(self, adapter, rate, *, listen_only):
        del adapter, rate, listen_only
        return self

    def receive(self, timeout_s):
        if self.gone:
            raise AdapterLost("The adapter was pulled out.")
        time.sleep(min(timeout_s, 0.005))
        frames, self.extra = self.extra, []
        behind = int((time.monotonic() - self._began) * 1000) // STEP_MS - self._steps
        self._steps += behind
        for _ in range(min(behind, MOST_STEPS)):
            frames += [*self.craft.step(), *self.craft.diagnosis.take()]
        at = time.monotonic()
        return [Frame(at, ident, data) for ident, data in frames]

    def send(self, ident, data):
        self.sent.append((ident, bytes(data)))
        self.craft.hear(ident & ~EXTENDED, bytes(data), extended=bool(ident & EXTENDED))

    def close(self):
        pass


class Served:
    """The bus side before it; turned by hand."""

    def __init__(self, folder, craft):
        self.wire = CraftWire(craft)
        self.gate = Gate(Adapter("virtual", "test"), open_wire=self.wire.open_wire)
        self.journal = Journal(folder / "journal.jsonl")
        diagnosis = Diagnosis(self.gate, self.journal, settle_s=1.5)
        self.service = CraftService(self.gate, self.journal, diagnosis=diagnosis)
        families, _ = load_families()
        self.hub = Hub(
            self.gate, self.gate.outlet(), families, lambda: None, recognised=self.service.recognised
        )
        self.gate.start()
        self.service.start()

    def turn(self):
        time.sleep(0.05)
        self.hub.pump()
        return self.service.complete(self.hub.snapshot())

    def until(self, condition, seconds=20.0):
        end = time.monotonic() + seconds
        while not condition(self.turn()):
            assert time.monotonic() < end, "it never came to that"

    def run(self, request, seconds=40.0):
        """The report of one job."""
        before = self.service.report
        self.service.ask(request)
        self.until(lambda now: self.service.report is not before and now.job is None, seconds)
        return self.service.report

    def sign_in(self):
        self.service.ask(SignIn("Ann Example", "technician"))
        self.gate.ask_output(SignIn("Ann Example", "technician"))

    def close(self):
        self.gate.stop()
        self.service.stop()


@pytest.fixture
def patient(monkeypatch):
    """Facts may be older and waits are shorter: they are tested elsewhere, and here all is one process."""
    monkeypatch.setattr("bus.heard.PERIODS", 20)
    monkeypatch.setattr("bus.heard.SPEED_AGE_S", 3.0)
    monkeypatch.setattr("bus.heard.OTHER_AGE_S", 6.0)
    monkeypatch.setattr("bus.heard.ALIVE_S", 3.0)
    monkeypatch.setattr("bus.actuate.LATE_S", 3.0)
    monkeypatch.setattr("bus.facts.LISTENED_S", 0.05)
    monkeypatch.setattr("bus.facts.STOPPED_FOR_S", 0.1)


@pytest.fixture
def served(tmp_path, patient):
    """The bus side before a tern that stands still, key on, its serial known."""
    craft = Craft("tern", "dock")
    craft.advance(4.0)
    made = Served(tmp_path, craft)
    made.until(lambda now: now.craft is not None and now.craft.serial is not None)
    yield made
    made.close()
    assert made.wire.wrong == []
