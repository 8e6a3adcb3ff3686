"""A simulated craft with a tester of its own, without clock or bus; and one controller alone on the bench."""

import pytest

from simulator.bench import Bench
from simulator.craft import Craft
from simulator.isotp import Request
from simulator.ledger import Ledger
from simulator.outputs import Output, Outputs
from simulator.physics import Engine
from simulator.trouble import Memory
from simulator.uds import Controller, Module

CONTINUE = bytes.fromhex("3000000000000000")


class Talk:
    """Frames in, payloads out: the reassembly here is the test's own."""

    def __init__(self, scenario="dock", family="auk"):
        self.craft = Craft(family, scenario)
        self.ledger = Ledger(
            lambda: {"rev_min": self.craft.engine.speed}, clock=lambda: self.craft.bus_ms / 1000.0
        )
        self.craft.note = self.ledger.enter
        self.frames = []

    @property
    def engine(self):
        return self.craft.engine

    @property
    def outputs(self):
        return self.craft.diagnosis.outputs

    @property
    def violations(self):
        return [entry["violation"] for entry in self.ledger.violations]

    def do(self, what, **arguments):
        self.craft.act({"do": what, **arguments})

    def send(self, text, ident=0x7E0):
        """One frame as it is."""
        self.craft.hear(ident, bytes.fromhex(text))

    def run(self, seconds, flow_control_to=None):
        """Let time pass; frames of the controllers as (seconds, identifier, data)."""
        heard = []
        for _ in range(round(seconds / 0.005)):
            new = [frame for frame in self.craft.advance(0.005) if frame[1] in (0x7E0, 0x7E8, 0x7E9)]
            heard += new
            if flow_control_to is not None and any(frame[2][0] >> 4 == 1 for frame in new):
                self.craft.hear(flow_control_to, CONTINUE)
        self.frames += heard
        return heard

    def ask(self, text, ident=0x7E0, seconds=0.1):
        """A short request; whole answers as hexadecimal digits."""
        pdu = bytes.fromhex(text)
        self.craft.hear(ident, (bytes([len(pdu)]) + pdu).ljust(8, b"\x00"))
        return whole(self.run(seconds, flow_control_to=0x7E0 if ident == 0x7DF else ident))

    def live(self):
        return sorted(run.output.key for run in self.outputs.live.values())


def whole(frames):
    """Payloads of a list of frames, in the order in which they are complete."""
    found, parts = [], {}
    for _, ident, data in frames:
        kind = data[0] >> 4
        if kind == 0:
            found.append(data[1 : 1 + data[0]].hex())
        elif kind == 1:
            parts[ident] = ((data[0] & 0xF) << 8 | data[1], data[2:])
        elif kind == 2 and ident in parts:
            length, payload = parts[ident]
            parts[ident] = (length, payload + data[1:])
            if len(parts[ident][1]) >= length:
                found.append(parts.pop(ident)[1][:length].hex())
    return found


@pytest.fixture
def talk():
    """A craft at the dock, key on, engine stopped, its bus awake."""
    one = Talk()
    one.run(3.0)
    return one


@pytest.fixture
def board():
    """Makes a craft that plays a scenario."""
    return Talk


class Alone:
    """One controller with a table of the test."""

    def __init__(self):
        self.bench = Bench(Engine())
        self.bench.engine.driver.key = True
        self.outputs = Outputs(
            [Output("flap", 0x9B00)],
            self.bench,
            clock=lambda: 0.0,
            speed_seen=lambda: self.bench.engine.speed,
        )
        self.memory = Memory(["P0117", "P0201-13"], lambda: bytes.fromhex("01F40C1AF8"))
        identity = {0xF190: lambda: b"1M8GDM9AXKP042788"}
        module = Module("engine", 0x7E0, 0x7E8, 0x7DF, identity, ())
        self.controller = Controller(module, self.memory, self.outputs, may_clear=lambda: True)

    def ask(self, text, now=0.0, *, functional=False):
        """Answer to a request as hexadecimal digits, None if there is none; only for short answers."""
        self.controller.handle(Request(bytes.fromhex(text), functional), now)
        self.controller.step(now)
        frames = self.controller.poll(now)
        for _ in range(3):
            if frames and frames[-1][1][0] >> 4 == 1:
                self.controller.endpoint.receive(0x7E0, CONTINUE, now)
                frames += self.controller.poll(now)
        payloads = whole([(now, *frame) for frame in frames])
        assert len(payloads) <= 1
        return bytes.fromhex(payloads[0]).hex(" ").upper() if payloads else None


@pytest.fixture
def alone():
    return Alone()
