"""A scripted auk for the diagnostic worker: broadcast frames, and two controllers that answer as told.

It stands at the wire, beneath a real gate. Its ISO 15765-2 and ISO 14229-1 are written here from the forms
of the standards (single, first, consecutive frame), with no library: it witnesses what the library sends.
"""

import dataclasses
import heapq
import itertools
import threading
import time

import cantools
import pytest

from app.interlock import Need
from app.output_messages import SignIn
from bus.actuate import Actuation
from bus.adapter import Adapter
from bus.diagnose import Diagnosis, Served
from bus.facts import FactTable
from bus.family import SHIPPED, load_family
from bus.frame import Frame
from bus.gate import Gate
from bus.journal import Journal
from bus.requests import requests_of

BROADCAST_S = 0.02


@dataclasses.dataclass
class Stored:
    """A fault as a controller holds it."""

    status: int = 0x2F
    snapshot: bytes = b""
    count: int | None = None
    age: int | None = None


class Controller:
    """One controller; ``script`` may answer instead: payloads (bytes), frames (hex) and delays (s)."""

    def __init__(self, request, response):
        self.request, self.response = request, response
        self.identity: dict[int, bytes] = {}
        self.faults: dict[int, Stored] = {}
        self.asked: list[bytes] = []
        self.script = lambda pdu: None
        self.clears = True
        self.after_clear: dict[int, Stored] = {}
        self._partial = b""
        self._length = 0
        self._to_send: list[bytes] = []

    def answer(self, pdu):
        match pdu[0]:
            case 0x22:
                value = self.identity.get(int.from_bytes(pdu[1:3], "big"))
                return b"\x7f\x22\x31" if value is None else b"\x62" + pdu[1:3] + value
            case 0x19:
                return self.answer_faults(pdu)
            case 0x14 if pdu == b"\x14\xff\xff\xff":
                if self.clears:
                    self.faults = dict(self.after_clear)
                    return b"\x54"
                return b"\x7f\x14\x22"
        return bytes([0x7F, pdu[0], 0x11])

    def answer_faults(self, pdu):
        if pdu == b"\x19\x02\xff":
            codes = b"".join(n.to_bytes(3, "big") + bytes([f.status]) for n, f in self.faults.items())
            return b"\x59\x02\xff" + codes
        fault = self.faults.get(int.from_bytes(pdu[2:5], "big"))
        if fault is None or pdu[1] not in (4, 6) or pdu[5:] != b"\xff":
            return b"\x7f\x19\x31"
        head = bytes([0x59, pdu[1]]) + pdu[2:5] + bytes([fault.status])
        if pdu[1] == 4:
            return head + fault.snapshot
        records = [(1, fault.count), (2, fault.age)]
        return head + b"".join(bytes([number, value]) for number, value in records if value is not None)

    def hear(self, data):
        """A frame for this controller; returns what it does about it: frames and delays, in order."""
        kind = data[0] >> 4
        if kind == 0:
            return self.serve(data[1 : 1 + data[0]])
        if kind == 3:
            frames, self._to_send = self._to_send, []
            return frames
        if kind == 1:
            self._length = (data[0] & 0xF) << 8 | data[1]
            self._partial = data[2:]
            return [bytes([0x30, 0, 0]) + bytes(5)]
        self._partial += data[1:]
        if len(self._partial) >= self._length:
            return self.serve(self._partial[: self._length])
        return []

    def serve(self, pdu):
        self.asked.append(bytes(pdu))
        scripted = self.script(pdu)
        actions = [self.answer(pdu)] if scripted is None else scripted
        return list(itertools.chain.from_iterable(map(self.act, actions)))

    def act(self, action):
        if isinstance(action, str):
            return [bytes.fromhex(action)]
        if not isinstance(action, bytes):
            return [action]
        first, *self._to_send = segmented(action)
        return [first]


def segmented(payload):
    """Frames of ISO 15765-2, filled with 0xAA."""
    if len(payload) <= 7:
        return [(bytes([len(payload)]) + payload).ljust(8, b"\xaa")]
    frames = [bytes([0x10 | len(payload) >> 8, len(payload) & 0xFF]) + payload[:6]]
    for number, start in enumerate(range(6, len(payload), 7), 1):
        frames.append((bytes([0x20 | number % 16]) + payload[start : start + 7]).ljust(8, b"\xaa"))
    return frames


class ScriptedAuk:
    """The craft's bus: what is due is received, what is sent is heard by its controller."""

    bad = 0
    listening_only = False

    def __init__(self):
        self.engine = Controller(0x7E0, 0x7E8)
        self.display = Controller(0x7E1, 0x7E9)
        self.engine.identity = {
            0xF190: b"AUK12345L526",
            0xF18C: b"1042",
            0xF195: b"3.1.0",
            0xF1A0: (2468).to_bytes(4, "big"),
            0xF1C3: (812).to_bytes(4, "big"),
            **{0xF1B0 + band: (800 - 100 * band).to_bytes(4, "big") for band in range(6)},
        }
        self.display.identity = {0xF18C: b"77", 0xF195: b"2.0"}
        self.serial = 1042
        self.speed = 0.0
        self.battery = 12.6
        self.awake = True
        self.gone = False
        self.sent: list[tuple[int, bytes]] = []
        self._due: list[tuple[float, int, int, bytes]] = []
        self._count = itertools.count()
        self._alive = 0
        self._next = time.monotonic()
        self._database = cantools.database.load_file(SHIPPED / "auk" / "signals.dbc", cache_dir=None)
        self.lock = threading.Lock()

    def open_wire(self, adapter, bitrate, *, listen_only):
        return self

    def receive(self, timeout_s):
        if self.gone:
            from app.errors import AdapterLost

            raise AdapterLost("It went away.")
        until = time.monotonic() + timeout_s
        while True:
            now = time.monotonic()
            if self.awake and now >= self._next:
                self._next = now + BROADCAST_S
                self._alive = (self._alive + 1) % 16
                return [Frame(now, ident, data) for ident, data in self.broadcast()]
            with self.lock:
                if self._due and self._due[0][0] <= now:
                    _, _, ident, data = heapq.heappop(self._due)
                    return [Frame(now, ident, data)]
            if now >= until:
                return []
            time.sleep(0.0005)

    def broadcast(self):
        for name, values in self.values().items():
            message = self._database.get_message_by_name(name)
            yield message.frame_id, message.encode(values, strict=False)

    def values(self):
        return {
            "EngineFast": {
                **dict.fromkeys(("Throttle1", "Throttle2", "ThrottleLever", "EngineLoad"), 0),
                "EngineSpeed": self.speed,
                "EngineState": 0,
                "AliveCounter": self._alive,
            },
            "EngineThermal": dict.fromkeys(self.names("EngineThermal"), 20),
            "EngineFluids": dict.fromkeys(self.names("EngineFluids"), 0) | {"BatteryVoltage": self.battery},
            "EngineSwitches": dict.fromkeys(self.names("EngineSwitches"), 0),
            "DisplayMain": dict.fromkeys(self.names("DisplayMain"), 0) | {"EngineSpeedDisplay": self.speed},
            **self.serial_page(),
        }

    def names(self, message):
        return [signal.name for signal in self._database.get_message_by_name(message).signals]

    def serial_page(self):
        for message in self._database.messages:
            if "ControllerSerial" in [signal.name for signal in message.signals]:
                serial = message.get_signal_by_name("ControllerSerial")
                page = serial.multiplexer_ids[0]
                others = {
                    signal.name: 0
                    for signal in message.signals
                    if signal.multiplexer_ids is None or page in signal.multiplexer_ids
                }
                return {message.name: others | {serial.multiplexer_signal: page, serial.name: self.serial}}
        raise AssertionError("auk does not say its serial")

    def send(self, ident, data):
        self.sent.append((ident, data))
        for controller in (self.engine, self.display):
            if ident == controller.request:
                self.put(controller.response, controller.hear(data))

    def put(self, ident, actions, after=0.0005):
        """Frames to come from now on, a little apart; a number lets that many seconds pass."""
        at = time.monotonic()
        with self.lock:
            for action in actions:
                if isinstance(action, bytes):
                    at += after
                    heapq.heappush(self._due, (at, next(self._count), ident, action))
                else:
                    at += action

    def close(self):
        pass

    def requests(self):
        """What was asked, in order, of whomever; flow control left out."""
        return [(ident, data[1 : 1 + data[0]].hex(" ")) for ident, data in self.sent if data[0] >> 4 == 0]


@pytest.fixture(scope="session")
def auk():
    return load_family(SHIPPED / "auk")


@pytest.fixture
def craft():
    return ScriptedAuk()


@pytest.fixture
def stored():
    return Stored


@dataclasses.dataclass
class Bench:
    craft: ScriptedAuk
    gate: Gate
    journal: Journal
    table: FactTable
    actuation: Actuation
    diagnosis: Diagnosis

    def wait(self, condition, seconds=20.0):
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            if condition():
                return True
            time.sleep(0.002)
        return condition()

    def holds(self, need):
        return self.table.facts(time.monotonic())[need].holds is True

    def sign_in(self):
        self.diagnosis.operator = "Ann Example"
        self.gate.ask_output(SignIn("Ann Example", "technician"))

    def run(self, request, seconds=20.0):
        """The report of one job."""
        before = self.diagnosis.report
        self.diagnosis.ask(request)
        assert self.wait(lambda: self.diagnosis.report is not before and self.diagnosis.job is None, seconds)
        return self.diagnosis.report


@pytest.fixture
def quick(monkeypatch):
    """The waits of the facts, shortened: what they are is tested where the facts are."""
    monkeypatch.setattr("bus.actuate.LATE_S", 3.0)
    monkeypatch.setattr("bus.facts.LISTENED_S", 0.05)
    monkeypatch.setattr("bus.facts.STOPPED_FOR_S", 0.1)


@pytest.fixture
def open_bench(tmp_path, auk, quick):
    """Builds a bench on a craft: a real gate, real facts, a real journal, the worker."""
    open_ones = []

    def begin(craft, *, journal=None, **options):
        gate = Gate(Adapter("virtual", "test"), open_wire=craft.open_wire)
        journal = Journal(journal or tmp_path / "journal.jsonl")
        uds = auk.uds
        table = FactTable(
            auk, frozenset(module.request for module in uds.modules), set(), lambda _: None, lambda _: None
        )
        plans = {plan.data.key: plan for plan in uds.outputs}
        actuation = Actuation(table, plans, journal, time.monotonic)
        diagnosis = Diagnosis(gate, journal, **{"settle_s": 0.05, "patience_s": 0.5, **options})
        journal.start()
        gate.start()
        gate.serve_craft(actuation, requests_of(uds))
        diagnosis.serve(Served(auk.name, uds, lambda: table.serial, lambda: actuation.locked))
        diagnosis.start()
        bench = Bench(craft, gate, journal, table, actuation, diagnosis)
        open_ones.append(bench)
        if craft.awake:
            assert bench.wait(lambda: table.serial is not None and bench.holds(Need.ALONE))
            assert bench.wait(lambda: craft.speed > 0 or bench.holds(Need.ENGINE_STOPPED))
        return bench

    yield begin
    for bench in open_ones:
        bench.diagnosis.stop()
        bench.gate.stop()
        bench.journal.stop()


@pytest.fixture
def bench(open_bench, craft):
    return open_bench(craft)
