"""The gate's loop at work: its real thread, facts, interlock and run, on a wire that is full all the time.

Only two things are not as on a craft: the wire is a socket to full_bus.py instead of a serial line, and it
skips the two seconds of rest before each press: it lets the gate's clock run ahead, with a whole set of
frames for each step. From the press to the release the clock is the machine's own.
"""

import gc
import itertools
import json
import random
import select
import socket
import subprocess
import sys
import tempfile
import threading
import time
import typing
import zlib
from pathlib import Path

import cantools
from other_work import OtherWork

from app.output_messages import Beat, Confirm, Consider, Lift, Press, SignIn
from bus.actuate import Actuation
from bus.adapter import Adapter
from bus.facts import FactTable
from bus.family import SHIPPED, load_family
from bus.frame import Frame
from bus.gate import Gate
from bus.hub import Hub
from bus.journal import Journal
from bus.process import SNAPSHOT_S, settle_in
from bus.recorder import Recorder
from bus.requests import requests_of
from bus.slcan import LineDecoder, frame_line

FRAMES_A_MS = 4
"""A frame of 8 bytes with an 11-bit identifier has some 125 bits with its stuff bits: 500 kbit/s are full."""

BEAT_S = 0.05
SERIAL = 20417
AT_REST = {
    "EngineSpeed": 0.0,
    "EngineSpeedDisplay": 0.0,
    "ManifoldPressure": 101.0,
    "BarometricPressure": 101.0,
    "BatteryVoltage": 12.6,
    "Lanyard": "In place",
    "StartSwitch": "Released",
    "ControllerSerial": SERIAL,
}
CYCLES_MS = {
    "EngineFast": 50,
    "EngineAir": 20,
    "EngineFluids": 100,
    "EngineSwitches": 50,
    "DisplayMain": 100,
    "DisplayPages": 100,
}
REST_S, SKIP_S = 2.6, 0.05
"""Skipped before each press, in steps of so many seconds."""

GIVE_UP_S = 5.0
AT_REST_TIMES = 500
A_DAY = 50
"""Presses in the life of one bus process."""


def encoder():
    """Identifier and bytes of a message by cantools."""
    database = cantools.database.load_file(SHIPPED / "auk" / "signals.dbc")

    def encode(name, values, count=0):
        message = database.get_message_by_name(name)
        told = {signal.name: max(0, signal.minimum or 0) for signal in message.signals} | values
        told |= {"AliveCounter": count % 16, "Page": 1}
        names = {signal.name for signal in message.signals}
        if message.is_multiplexed():
            names = {"Page", "ControllerSerial"}
        return message.frame_id, bytes(
            message.encode({name: value for name, value in told.items() if name in names}, strict=False)
        )

    return encode


class SkippingWire:
    """The wire of full_bus.py. The gate's thread calls it and nobody else.

    Attributes:
        sent: (time on CLOCK_MONOTONIC, data) of every frame that was handed over.
        values: what the craft says while time is skipped.
    """

    listening_only = False
    bad = 0

    def __init__(self, bus, encode):
        self._bus, self._encode = bus, encode
        self._poll = select.poll()
        self._poll.register(bus, select.POLLIN)
        self._lines = LineDecoder()
        self._known = {encode(name, AT_REST)[0] for name in CYCLES_MS}
        self._ahead = 0.0
        self._until = float("-inf")
        self._count = 0
        self.sent = []
        self.values = AT_REST

    def clock(self):
        return time.monotonic() + self._ahead

    def skip(self, seconds, values=AT_REST):
        """Let the clock run ahead; the caller waits while ``skipping``."""
        self.values = values
        self._until = self.clock() + seconds

    @property
    def skipping(self):
        return self.clock() < self._until

    def receive(self, timeout_s):
        skipping = self.skipping
        if not self._poll.poll(0 if skipping else max(0.0, timeout_s) * 1000):
            return self._skipped() if skipping else []
        frames = self._lines.feed(self._bus.recv(65_536), self.clock())
        if skipping:
            frames = [frame for frame in frames if frame.ident not in self._known] + self._skipped()
        return frames

    def _skipped(self):
        self._ahead += SKIP_S
        self._count += 1
        due = [
            name
            for name, cycle in CYCLES_MS.items()
            if self._count % max(1, round(cycle / SKIP_S / 1000)) == 0
        ]
        return [Frame(self.clock(), *self._encode(name, self.values, self._count)) for name in due]

    def send(self, ident, data):
        self.sent.append((time.monotonic(), bytes(data)))
        self._bus.sendall(frame_line(ident, data))

    def close(self):
        pass


def traffic(encode, chance):
    """What full_bus.py sends."""
    known = {encode(name, AT_REST)[0] for name in CYCLES_MS}
    strangers = [ident for ident in range(0x100, 0x7D0) if ident not in known]
    return {
        "cycles": [
            [cycle, encode(name, AT_REST)[0], [encode(name, AT_REST, n)[1].hex() for n in range(16)]]
            for name, cycle in CYCLES_MS.items()
        ],
        "danger": frame_line(*encode("EngineFast", AT_REST | {"EngineSpeed": 300.0}, 7)).hex(),
        "noise": [[chance.choice(strangers), chance.randbytes(8).hex()] for _ in range(997)],
        "noise_a_ms": FRAMES_A_MS,
    }


class Load:
    """What else the machine and this process do meanwhile.

    Args:
        within: a thread of this very process goes through numbers too.
    """

    def __init__(self, *, within):
        self._over = threading.Event()
        self._other = OtherWork()
        works = [self._collect, self._analyse] if within else [self._collect]
        self._threads = [threading.Thread(target=work, daemon=True) for work in works]
        self.collections = []
        for thread in self._threads:
            thread.start()

    def _analyse(self):
        rows = [(n * 7919 % 10007, str(n)) for n in range(4000)]
        while not self._over.is_set():
            zlib.compress(json.dumps(sorted(rows)).encode(), 6)
            [{"row": row} for row in rows]

    def _collect(self):
        while not self._over.wait(0.25):
            began = time.monotonic()
            gc.collect()
            self.collections.append(time.monotonic() - began)

    def end(self):
        self._over.set()
        self._other.end()
        for thread in self._threads:
            thread.join()


class Rig:
    """The bus half as bus/process.py puts it together, with a finger, beside a full bus."""

    def __init__(self, folder, seed):
        self.chance = random.Random(seed)
        self.encode = encoder()
        bus, far = socket.socketpair()
        anchor, far_anchor = socket.socketpair()
        self.control, far_control = socket.socketpair()
        ends = [far.fileno(), far_anchor.fileno(), far_control.fileno()]
        here = Path(__file__)
        self._full_bus = subprocess.Popen(
            [sys.executable, str(here.with_name("full_bus.py")), *map(str, ends)],
            stdin=subprocess.PIPE,
            pass_fds=ends,
            text=True,
        )
        self._full_bus.stdin.write(json.dumps(traffic(self.encode, self.chance)))
        self._full_bus.stdin.close()
        danger = traffic(self.encode, self.chance)["danger"]
        self.anchor = subprocess.Popen(
            [sys.executable, "-c", ANCHOR, str(anchor.fileno()), danger],
            pass_fds=[anchor.fileno()],
            stdout=subprocess.PIPE,
            text=True,
        )
        assert self.anchor.stdout.readline() == "ready\n"
        for end in (far, far_anchor, far_control, anchor):
            end.close()
        self._orders = self.control.makefile()
        self.wire = SkippingWire(bus, self.encode)
        self.clock = self.wire.clock
        family = load_family(SHIPPED / "auk")
        self.gate = Gate(
            Adapter("virtual", "full bus"), open_wire=lambda *_, **__: self.wire, clock=self.clock
        )
        outlet = self.gate.outlet()
        self.recorder = Recorder(folder, self.gate.outlet(), self.gate.status.about, clock=self.clock)
        self.hub = Hub(self.gate, outlet, [family], lambda: self.recorder.state, clock=self.clock)
        self.journal = Journal(folder / "journal.jsonl", clock=self.clock)
        self.gate.audit.keep_in(self.journal)
        self.facts = FactTable(family, frozenset({0x7DF}), set(), lambda name: None, lambda serial: None)
        plans = {plan.data.key: plan for plan in family.uds.outputs}
        self.actuation = Actuation(self.facts, plans, self.journal, self.clock)
        self.gate.serve_craft(self.actuation, requests_of(family.uds), lambda: self.facts.serial)
        self.releases = {key: plans[key].release for key in ("horn", "fan")}
        self._numbers = itertools.count(1)
        self._next_snapshot = 0.0
        settle_in()  # as the bus process does once it has loaded everything; threads begun later inherit it
        for part in (self.recorder, self.journal, self.gate):
            part.start()

    def close(self):
        self.gate.stop()
        self.recorder.stop()
        self.journal.stop()
        for child in (self._full_bus, self.anchor):
            child.kill()
            child.wait()
        self.anchor.stdout.close()
        self._orders.close()
        self.control.close()

    def pump(self):
        """What the bus process does beside the gate: decode everything, 20 snapshots a second."""
        self.hub.pump()
        now = time.monotonic()
        if now >= self._next_snapshot:
            self._next_snapshot = now + SNAPSHOT_S
            self.hub.snapshot()

    def until(self, condition, seconds=GIVE_UP_S, beat=None):
        """Wait, with the finger's beats if a press is held; whether it came to that."""
        end = time.monotonic() + seconds
        beat_at = time.monotonic()
        while not condition():
            now = time.monotonic()
            if now > end:
                return False
            if beat is not None and now >= beat_at:
                beat_at = now + BEAT_S
                self.gate.ask_output(Beat(beat, self.clock()))
            self.pump()
            time.sleep(0.002)
        return True

    def skip(self, seconds, values=AT_REST):
        self.wire.skip(seconds, values)
        assert self.until(lambda: not self.wire.skipping, 30.0), "the gate does not read its wire"

    def make_ready(self):
        """What a technician does first: sign in, see the engine turn and stop, pull the lanyard."""
        assert self.until(lambda: self.gate.status.way.name == "HEARING")
        self.gate.ask_output(SignIn("Mara", "technician"))
        turning = {"EngineSpeed": 900.0, "EngineSpeedDisplay": 900.0, "Lanyard": "Pulled"}
        self.skip(1.0, AT_REST | turning)

    def one(self, output):
        """One press that a turning engine ends: seconds to its release, None if it had ended before."""
        self.gate.ask_output(Consider(output))
        self.skip(REST_S)
        for what in ("no_smell", "hands_clear"):
            self.gate.ask_output(Confirm(what, self.clock()))
        press = next(self._numbers)
        self.until(lambda: self._shows("ready", True), 0.5)
        self.gate.ask_output(Press(output, press, self.clock()))
        live = self.until(lambda: self._shows("phase", "live") or self._over(press), 2.0, beat=press)
        live = live and self._shows("phase", "live")
        if live:
            until = time.monotonic() + self.chance.uniform(0.02, 0.2)
            self.until(lambda: time.monotonic() >= until, beat=press)
        at = self._order("gate") if live else 0.0
        self.until(lambda: not self.actuation.busy, 10.0, beat=press)
        self.gate.ask_output(Lift(press, "The finger was lifted."))
        release = self.releases[output]
        sent = [t for t, data in self.wire.sent if data[1 : 1 + data[0]] == release]
        self.wire.sent.clear()
        if not live:
            return None
        assert sent, f"{output} was live, and no release left"
        return sent[0] - at if sent[0] >= at else None

    def _shows(self, name, wanted):
        state = self.actuation.state
        return state is not None and getattr(state, name) == wanted

    def _over(self, press):
        state = self.actuation.state
        return state is not None and state.press == press and state.phase in ("refused", "ended")

    def _order(self, to):
        self.control.sendall(to.encode() + b"\n")
        return float(self._orders.readline())

    def bare(self):
        """Seconds of the bare responder for the same frame."""
        at = self._order("anchor")
        return float(self.anchor.stdout.readline()) - at


ANCHOR = """
import select, socket, sys, threading, time
wire, danger = socket.socket(fileno=int(sys.argv[1])), bytes.fromhex(sys.argv[2])
def respond():
    poll = select.poll()
    poll.register(wire, select.POLLIN)
    heard = b""
    while True:
        poll.poll(5)
        try:
            heard += wire.recv(65536, socket.MSG_DONTWAIT)
        except BlockingIOError:
            continue
        except OSError:
            return
        if danger in heard:
            at = time.monotonic()
            wire.send(b"t7E08042FD12200000000\\r")
            print(at, flush=True)
            heard = b""
print("ready", flush=True)
thread = threading.Thread(target=respond)
thread.start()
thread.join()
"""


class Found(typing.NamedTuple):
    """What was measured, in seconds.

    Attributes:
        gate: from the frame to the release, of each press.
        rest, beside: of the bare thread, before the load came and beside each press.
        collections: how long each collection of garbage took.
        before: presses that had ended before the frame came, and were repeated.
    """

    gate: list
    rest: list
    beside: list
    collections: list
    before: int


def measure(events, seed, *, within=False, say=lambda words: None):
    """Press until so many presses were ended by the frame that says the engine turns."""
    with tempfile.TemporaryDirectory() as folder:
        rig = Rig(Path(folder), seed)
        load = None
        try:
            rig.make_ready()
            rest = []
            for _ in range(min(events, AT_REST_TIMES)):
                time.sleep(0.005)
                rest.append(rig.bare())
            load = Load(within=within)
            gate, beside, before = [], [], 0
            while len(gate) < events:
                took = rig.one(("horn", "fan")[(len(gate) + before) % 2])
                if took is None:
                    before += 1
                    assert before < 50 + events, f"presses end by themselves: {rig.actuation.state}"
                    continue
                gate.append(took)
                beside.append(rig.bare())
                if len(gate) % A_DAY == 0:
                    settle_in()  # what is noted of thousands of presses is in no process of a day
                if len(gate) % 200 == 0:
                    say(f"{len(gate)} of {events}")
            return Found(gate, rest, beside, load.collections, before)
        finally:
            if load is not None:
                load.end()
            rig.close()
