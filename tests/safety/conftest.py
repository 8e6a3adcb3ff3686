"""A craft of the family auk on a bench: its broadcasts, its little controller, and the real gate before it.

Nothing here runs by itself: the clock is moved by hand, and the gate's thread is not started; one turn of its
loop is one call. The little controller is the witness: it alone knows what moves.
"""

import functools
import gc
import itertools
import shutil
import sys
from pathlib import Path

import cantools
import pytest
from msgspec import structs

from app.interlock import Kind, Need
from app.output_messages import Beat, Confirm, Consider, Lift, Press, SignIn, Watch
from bus.actuate import Actuation
from bus.adapter import Adapter
from bus.craft import testers_of
from bus.exchange import AllowedRequest, Class
from bus.facts import PROMISES, FactTable
from bus.family import SHIPPED, load_family
from bus.frame import EXTENDED, Frame
from bus.gate import Gate
from bus.group_requests import group_requests
from bus.journal import Ticket
from bus.outputs import OutputData, plan
from bus.requests import requests_of
from bus.way import Way
from simulator.craft import Craft

sys.path.insert(0, str(Path(__file__).parent))  # for any_order_parts, which several test modules share

from little_controller import REQUEST, LittleController

RESPONSE, TESTER = 0x7E8, 0x7DF

TURN_MS = 10
"""One turn of the gate's loop while an output is live."""

CYCLES_MS = {
    "EngineFast": 50,
    "EngineAir": 20,
    "EngineFluids": 100,
    "EngineSwitches": 50,
    "DisplayMain": 100,
    "DisplayPages": 100,
}
"""How often the craft says what; as in its DBC file, written here by hand."""

AT_REST = {
    "EngineSpeed": 0.0,
    "EngineSpeedDisplay": 0.0,
    "ManifoldPressure": 101.0,
    "BarometricPressure": 101.0,
    "BatteryVoltage": 12.6,
    "Lanyard": "In place",
    "StartSwitch": "Released",
}


def pytest_collection_modifyitems(config, items):
    """The long profile runs only when it is asked for: -m slow, as deploy/test --safety does."""
    if "slow" in config.getoption("markexpr"):
        return
    here = Path(__file__).parent
    for item in items:
        if here in item.path.parents and item.get_closest_marker("slow"):
            item.add_marker(pytest.mark.skip(reason="takes an hour: deploy/test --safety"))


@functools.lru_cache(maxsize=1)
def database():
    return cantools.database.load_file(SHIPPED / "auk" / "signals.dbc")


@functools.lru_cache(maxsize=1)
def family():
    return load_family(SHIPPED / "auk")


@functools.lru_cache(maxsize=4096)
def encoded(name, values):
    """Bytes of a message by cantools, a library that shares no code with our decoder; raw numbers allowed."""
    message = database().get_message_by_name(name)
    wanted = {signal.name: max(0, signal.minimum or 0) for signal in message.signals}
    wanted |= {"Page": 1} if message.is_multiplexed() else {}
    names = set(wanted) if not message.is_multiplexed() else {"Page", "ControllerSerial"}
    wanted = {key: value for key, value in (wanted | dict(values)).items() if key in names}
    return message.frame_id, bytes(message.encode(wanted, strict=False))


class HandJournal:
    """The journal as the gate sees it; the test says when the disk has taken what was asked."""

    def __init__(self, clock, entries=()):
        self.clock = clock
        self.told = list(entries)
        self.entries = list(entries)
        self.at_start = len(self.told)
        self.waiting = []
        self.stuck = False
        self.full = False

    def put(self, kind, /, **body):
        ticket = Ticket()
        entry = {"n": len(self.told) + 1, "kind": kind, "mono": self.clock(), "body": body}
        self.told.append(entry)
        self.waiting.append((entry, ticket))
        return ticket

    def sync(self):
        if self.stuck:
            return
        for entry, ticket in self.waiting:
            if self.full:
                ticket.failed = "The journal cannot be written: the storage is full."
            else:
                self.entries.append(entry)
                ticket.synced = True
        self.waiting.clear()

    def of(self, kind):
        return [entry["body"] for entry in self.entries if entry["kind"] == kind]


class BenchWire:
    bad = 0

    def __init__(self, bench):
        self.bench = bench
        self.listening_only = False
        self.fails = None
        self.closed = False

    def receive(self, timeout_s):
        del timeout_s
        if self.fails is not None:
            raise self.fails
        return self.bench.broadcast()

    def send(self, ident, data):
        if self.fails is not None:
            raise self.fails
        self.bench.sent.append((self.bench.clock(), ident, bytes(data)))
        self.bench.controller.hear(ident, bytes(data))

    def close(self):
        self.closed = True


def outputs():
    """One of each kind that moves something different, by hand."""

    def pulsed(key, kind, did, **more):
        values = {"count": 20, "width_ms": 5.0, "period_ms": 200.0, "cylinder": 1} | more
        return OutputData(key, key, kind, "engine", did, ("count", "width_100us"), **values)

    def burst(key, kind, did, **more):
        return OutputData(key, key, kind, "engine", did, ("burst_100ms",), burst_s=0.5, **more)

    data = [
        pulsed("injector_1", "injector", 0xD101, flow_cm3_min=300.0),
        pulsed("injector_2", "injector", 0xD102, flow_cm3_min=300.0, cylinder=2),
        pulsed("coil_1", "coil", 0xD111, count=10, width_ms=3.0),
        burst("fan", "fan", 0xD121),
        burst("horn", "horn", 0xD122, longest_s=3.0),
        burst("fuel_pump", "fuel_pump", 0xD123),
        OutputData("fuel_off", "fuel_off", "fuel_inhibit", "engine", 0xD141, (), status_did=0xD141),
        OutputData("spark_off", "spark_off", "spark_inhibit", "engine", 0xD142, (), status_did=0xD142),
    ]
    made = {}
    for entry in data:
        fixed = OutputData(**{**vars(entry), "kind": Kind(entry.kind)})
        made[entry.key] = plan(fixed, REQUEST, RESPONSE, 0)
    return made


READ_FAULTS = AllowedRequest(bytes.fromhex("1902ff"), Class.READING, REQUEST, RESPONSE, 0, "read the faults")
CLEAR_FAULTS = AllowedRequest(bytes.fromhex("14ffffff"), Class.WRITING, REQUEST, RESPONSE, 0, "clear")


class Bench:
    """Everything a press needs, and a finger."""

    def __init__(self, entries=(), *, serial=20417, proved=True, plans=None, start_s=1000, of=None):
        of = of or family()
        self.ms = start_s * 1000
        self.values = dict(AT_REST)
        self.serial = serial
        self.silent = set()
        self.said_at = dict.fromkeys(CYCLES_MS, self.ms - 100)
        self.extra = []
        self.sent = []
        self.presses = itertools.count(1)
        self.journal = HandJournal(self.clock, entries)
        self.controller = LittleController(self.clock)
        self.wire = BenchWire(self)
        self.gate = Gate(Adapter("virtual", "bench"), open_wire=None, clock=self.clock)
        self.outlet = self.gate.outlet()
        self.gate._wire = self.wire
        self.gate._say(Way.HEARING)
        self.proved, self.purged = set(), []
        self.facts = FactTable(of, testers_of(of), self.proved, lambda name: None, self.purge)
        plans = outputs() if plans is None else plans
        self.actuation = Actuation(self.facts, plans, self.journal, self.clock)
        self.serve(self.actuation)
        self.finger = self.watching = None
        self.hurried = False
        if proved:
            self.proved.add(f"{of.name} {serial} {self.facts._mark}")

    def serve(self, actuation):
        self.gate.serve_craft(actuation, frozenset({READ_FAULTS, CLEAR_FAULTS}))

    def purge(self, serial):
        self.purged.append(serial)
        self.journal.put("purge", craft=serial)

    def clock(self):
        return self.ms / 1000

    def broadcast(self):
        """Frames since the last look, stamped now, as a wire stamps them: by the time they are read."""
        frames = []
        for name, cycle in CYCLES_MS.items():
            while self.said_at[name] + cycle <= self.ms:
                missed = 1 if self.hurried else 10
                self.said_at[name] = max(self.said_at[name] + cycle, self.ms - missed * cycle)
                if name in self.silent or "all" in self.silent:
                    continue
                values = self.values
                if name == "EngineFast" and "alive" not in self.silent:
                    values = values | {"AliveCounter": self.said_at[name] // cycle % 16}
                if name == "DisplayPages":
                    values = {"ControllerSerial": self.serial} if self.serial is not None else {"Page": 0}
                    if self.serial is None:
                        continue
                frames.append(Frame(self.clock(), *encoded(name, tuple(values.items()))))
        self.controller.tick()
        if "all" not in self.silent:
            due = [data for at, data in self.controller.answers if at <= self.clock()]
            self.controller.answers = [entry for entry in self.controller.answers if entry[0] > self.clock()]
            frames += [Frame(self.clock(), RESPONSE, data) for data in due]
            frames += [Frame(self.clock(), ident, data) for ident, data in self.extra]
        self.extra = []
        return frames

    def turn(self, ms=TURN_MS):
        """Time passes, the finger beats (every 50 ms), the disk writes, the gate's loop runs once."""
        self.ms += ms
        if self.finger is not None and self.ms % 50 < ms:
            self.beat()
        if self.watching is not None and self.ms % 1000 < ms:
            self.ask(Watch(self.watching, self.clock()))
        before = len(self.sent)
        self.gate._pass_on(0)
        self.journal.sync()
        return [data for _, _, data in self.sent[before:]]

    def run(self, seconds, ms=TURN_MS):
        """Turns for a while; returns what was sent."""
        before = len(self.sent)
        until = self.ms + round(seconds * 1000)
        while self.ms < until:
            self.turn(ms)
        return [data for _, _, data in self.sent[before:]]

    def wait_out(self, seconds):
        """Minutes in which nothing happens and nobody looks: long turns, and each frame heard once."""
        sent = self.turn()
        considered = self.actuation._shown.considered
        self.hurried = True
        self.consider(None)
        sent += self.run(seconds - 1.0, ms=90)
        self.hurried = False
        self.consider(considered)
        return sent + self.run(1.0, ms=50)

    def until(self, condition, seconds=8.0):
        """Turns until something is so; fails if it never is."""
        end = self.ms + round(seconds * 1000)
        while not condition():
            assert self.ms < end, "it never came to that"
            self.turn()

    def ask(self, request):
        self.gate.ask_output(request)

    def sign_in(self, role="technician", operator="Kim"):
        self.ask(SignIn(operator, role))

    def confirm(self, what, at=None):
        self.ask(Confirm(what, self.clock() if at is None else at))

    def make_ready(self):
        """What a technician does before the first press: sign in, prove the lanyard, sniff, stand clear."""
        self.sign_in()
        self.values["Lanyard"] = "Pulled"
        self.run(0.3, ms=20)
        self.values["Lanyard"] = "In place"
        self.run(2.5, ms=20)
        self.confirm("no_smell")
        self.confirm("hands_clear")
        self.turn()
        return self

    def press(self, output, at=None, number=None):
        number = next(self.presses) if number is None else number
        self.ask(Press(output, number, self.clock() if at is None else at))
        self.finger = number
        return number

    def beat(self, at=None, number=None):
        self.ask(Beat(self.finger if number is None else number, self.clock() if at is None else at))

    def lift(self, cause="The finger was lifted."):
        if self.finger is not None:
            self.ask(Lift(self.finger, cause))
        self.finger = None

    def consider(self, output):
        self.ask(Consider(output))

    def live(self, output, seconds=1.0):
        """Press and hold until the controller moves it."""
        self.press(output)
        self.until(self.controller.live, seconds)
        return self

    @property
    def state(self):
        return self.actuation.state

    def missing(self):
        """Needs that do not hold, of the output that is shown."""
        return [need.need for need in self.state.needs if need.holds is not True]


@pytest.fixture(autouse=True)
def collector():
    """A test may end with an output live, for which the collection of garbage was stopped."""
    yield
    gc.enable()


@pytest.fixture
def make_bench():
    return Bench


@pytest.fixture
def auk_bench():
    """A bench whose craft is served with everything that its family offers, as bus/craft.py does it."""

    def make(entries=()):
        uds = family().uds
        bench = Bench(entries, plans={plan.data.key: plan for plan in uds.outputs})
        bench.gate.serve_craft(bench.actuation, requests_of(uds))
        return bench

    return make


class SimulatedBench(Bench):
    """A bench whose craft is a whole simulated one of any family that answers, its controllers among it.

    Attributes:
        craft: the simulated craft; its ``note`` puts what must never happen into ``violations``.
    """

    def __init__(self, name, entries=()):
        self.of = load_family(SHIPPED / name)
        self.craft = Craft(name, "dock")
        self.craft.advance(4.0)  # the pump has primed the rail, and rests
        self.violations, self.heard, self.waiting = [], [], []
        plans = {plan.data.key: plan for plan in (() if self.of.uds is None else self.of.uds.outputs)}
        super().__init__(entries, serial=self.craft.bench.serial, plans=plans, of=self.of)
        self.craft.note, self.craft.clock = self.note, self.clock
        self.gate.serve_craft(self.actuation, requests_of(self.of.uds) | group_requests(self.of.j1939))
        self.wire.send = self.send

    def note(self, what, did, violation=None, **details):
        if violation is not None:
            self.violations.append((what, did, violation, details))

    def send(self, ident, data):
        self.sent.append((self.clock(), ident, bytes(data)))
        self.craft.hear(ident & ~EXTENDED, bytes(data), extended=bool(ident & EXTENDED))

    def broadcast(self):
        """The simulated craft moves on to this moment."""
        frames = [Frame(self.clock(), ident, data) for _, ident, data in self.craft.advance(self.behind())]
        self.heard += [frame for frame in frames if frame.ident >= EXTENDED or frame.ident >= REQUEST]
        return frames

    def behind(self):
        before, self.stepped = getattr(self, "stepped", self.ms), self.ms
        return (self.ms - before) / 1000.0

    def pull(self, *, pulled):
        self.craft.act({"do": "lanyard", "pulled": pulled})

    def make_ready(self):
        """See Bench."""
        self.sign_in()
        self.pull(pulled=True)
        self.run(0.5, ms=20)
        self.pull(pulled=False)
        self.run(2.5, ms=20)
        for what in PROMISES:
            self.confirm(what)
        self.turn()
        return self


@pytest.fixture
def simulated_bench():
    return SimulatedBench


@pytest.fixture
def bench():
    return Bench()


@pytest.fixture
def ready():
    return Bench().make_ready()


@pytest.fixture
def read_faults():
    return READ_FAULTS


@pytest.fixture
def clear_faults():
    return CLEAR_FAULTS


@pytest.fixture
def output_plans():
    return outputs()


class CraftByFrames:
    """One craft, frame by frame, and the table that hears it."""

    def __init__(self, kit, *, proved=True):
        self.kit = kit
        self.now = 10_000.0
        self.values = dict(kit.at_rest) | {"ControllerSerial": 20417}
        self.count = 0
        self.said = dict.fromkeys(kit.cycles, 0.0)
        self.booked, self.proved, self.purged = [], set(), []
        self.table = FactTable(
            kit.family(), frozenset({TESTER}), self.proved, self.booked.append, self.purged.append
        )
        if proved:
            self.proved.add(f"auk 20417 {self.table._mark}")

    def say(self, *names, **values):
        """Frames at this moment, all messages if none is named."""
        for name in names or self.kit.cycles:
            self.said[name] = self.now
            known = self.values | values
            if name == "EngineFast":
                self.count += 1
                known = {"AliveCounter": self.count % 16} | known
            if name == "DisplayPages":
                known = {"ControllerSerial": known["ControllerSerial"]}
            self.table.feed(Frame(self.now, *self.kit.encoded(name, tuple(sorted(known.items())))))
        return self

    def run(self, seconds, *names, step=0.05, **values):
        for _ in range(round(seconds / step)):
            self.now += step
            due = [name for name in names or self.kit.cycles if self.due(name)]
            if due:
                self.say(*due, **values)
        return self

    def due(self, name):
        """A craft says nothing more often than its DBC file says."""
        return self.now - self.said[name] >= self.kit.cycles[name] / 1000 - 1e-6

    def holds(self, need, after=0.0):
        return self.table.facts(self.now + after)[Need(need)].holds

    def seen(self, need):
        return self.table.facts(self.now)[Need(need)].seen

    def pull(self):
        self.say(Lanyard="Pulled")
        return self.say()

    def confirm(self, what="no_smell"):
        return self.table.confirm(what, self.now, self.now)

    def others(self, *but):
        return [name for name in self.kit.cycles if name not in but]


class CraftKit:
    """What a test needs to play a craft frame by frame."""

    at_rest = AT_REST
    cycles = CYCLES_MS
    encoded = staticmethod(encoded)
    family = staticmethod(family)

    def __init__(self, folder):
        self._folder = folder

    def craft(self, *, proved=True):
        return CraftByFrames(self, proved=proved)

    def family_without(self, *roles):
        return structs.replace(family(), roles={k: v for k, v in family().roles.items() if k not in roles})

    def changed_family(self):
        """The same family, one byte of its data different."""
        shutil.copytree(family().folder, self._folder / "auk")
        file = self._folder / "auk" / "family.toml"
        file.write_text(file.read_text() + "\n# changed\n")
        return structs.replace(family(), folder=self._folder / "auk")


@pytest.fixture
def craft_kit(tmp_path):
    return CraftKit(tmp_path)
