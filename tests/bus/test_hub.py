"""The hub: names the craft, keeps values with their age, says what it is waiting for."""

import dataclasses

import cantools
import pytest
from msgspec import structs

from app.messages import LinkState, Mode
from app.reading import Quality
from bus.family import SHIPPED, load_family
from bus.frame import Frame
from bus.hub import ANOTHER_AFTER_S, LOST_S, Hub
from bus.simulated import MARK_DATA, MARK_IDENT
from bus.way import GateStatus, Outlet, Way


@dataclasses.dataclass
class FakeGate:
    status: GateStatus
    bad: int = 0


class Bench:
    """A hub on a bench: a hand-driven clock and frames encoded by cantools from the auk DBC."""

    def __init__(self):
        self.now = 100.0
        self.database = cantools.database.load_file(SHIPPED / "auk" / "signals.dbc")
        self.family = load_family(SHIPPED / "auk")
        self.gate = FakeGate(GateStatus(Way.QUIET, 0.0, adapter="test on bench", bitrate=500_000))
        self.outlet = Outlet()
        self.hub = Hub(self.gate, self.outlet, [self.family], lambda: None, clock=lambda: self.now)
        self.values = {"EngineSpeed": 1300.0, "CoolantTemperature": 71.0}
        self.serial = 20417
        self.simulated = False

    def send(self, name, **more):
        message = self.database.get_message_by_name(name)
        wanted = {signal.name: 0 for signal in message.signals} | {"Lambda": 1.0, "BarometricPressure": 101.0}
        if message.is_multiplexed():
            wanted = {"Page": 1, "ControllerSerial": self.serial}
        wanted |= {key: value for key, value in (self.values | more).items() if key in wanted}
        names = {signal.name for signal in message.signals}
        data = message.encode({key: value for key, value in wanted.items() if key in names}, strict=False)
        self.outlet.put([Frame(self.now, message.frame_id, data)])

    def run(self, seconds, names=("EngineFast", "EngineThermal", "EngineSwitches", "DisplayPages")):
        until = self.now + seconds
        while self.now < until:
            for name in names:
                self.send(name)
            if self.simulated:
                self.outlet.put([Frame(self.now, MARK_IDENT, MARK_DATA)])
            self.hub.pump()
            self.now += 0.05
        return self.hub.snapshot()

    def value(self, snapshot, signal):
        names = [info.name for info in self.hub.catalogue.signals]
        return next(value for value in snapshot.values if names[value.signal] == signal)


@pytest.fixture
def bench():
    return Bench()


def test_before_anything_is_heard_the_glass_says_so(bench):
    snapshot = bench.hub.snapshot()
    assert snapshot.link.state is LinkState.SILENT
    assert snapshot.craft is None
    assert snapshot.values == []


@pytest.mark.parametrize(
    ("way", "state"), [(Way.NO_ADAPTER, LinkState.NO_ADAPTER), (Way.NEED_RATE, LinkState.NEED_RATE)]
)
def test_what_the_gate_waits_for_reaches_the_glass(bench, way, state):
    bench.gate.status = GateStatus(way, 0.0, reason="A sentence.")
    assert bench.hub.snapshot().link.state is state
    assert bench.hub.snapshot().link.reason == "A sentence."


def test_a_craft_is_named_and_its_values_are_good(bench):
    snapshot = bench.run(0.6)
    assert snapshot.link.state is LinkState.FOUND
    assert snapshot.craft.serial == "20417"
    assert bench.value(snapshot, "EngineSpeed").value == 1300.0
    assert bench.value(snapshot, "EngineSpeed").quality is Quality.GOOD


def test_a_simulated_craft_is_never_shown_without_saying_so(bench):
    bench.simulated = True
    for _ in range(40):
        snapshot = bench.run(0.05)
        if snapshot.craft is not None or snapshot.values:
            assert snapshot.mode is Mode.SIMULATED
    assert snapshot.link.state is LinkState.FOUND


def test_a_real_craft_after_a_simulated_one_is_live(bench):
    bench.simulated = True
    assert bench.run(1.0).mode is Mode.SIMULATED
    bench.simulated = False
    bench.now += ANOTHER_AFTER_S + 1
    assert bench.run(2.0).mode is Mode.LIVE


def test_when_nothing_is_heard_every_value_is_stale_within_a_second(bench):
    bench.run(1.0)
    bench.now += LOST_S + 0.1
    snapshot = bench.hub.snapshot()
    assert snapshot.link.state is LinkState.LOST
    assert {value.quality for value in snapshot.values} == {Quality.STALE}
    assert bench.value(snapshot, "EngineSpeed").value == 1300.0


def test_one_silent_module_makes_only_its_own_values_stale(bench):
    bench.run(1.0)
    snapshot = bench.run(1.5, names=("EngineFast", "EngineSwitches", "DisplayPages"))
    assert bench.value(snapshot, "EngineSpeed").quality is Quality.GOOD
    assert bench.value(snapshot, "CoolantTemperature").quality is Quality.STALE


def test_the_same_craft_returns_to_the_same_page(bench):
    first = bench.run(1.0)
    bench.now += ANOTHER_AFTER_S + 1
    second = bench.run(1.0)
    assert second.link.state is LinkState.FOUND
    assert second.catalogue == first.catalogue


def test_another_craft_of_the_family_brings_none_of_the_old_values(bench):
    bench.run(1.0, names=("EngineFast", "EngineThermal", "EngineSwitches", "DisplayPages", "EngineFluids"))
    bench.now += ANOTHER_AFTER_S + 1
    bench.serial = 99999
    snapshot = bench.run(1.0)
    assert snapshot.craft.serial == "99999"
    names = [bench.hub.catalogue.signals[value.signal].name for value in snapshot.values]
    assert "OilPressure" not in names


def test_traffic_that_no_family_explains_is_called_unknown(bench):
    for _ in range(80):
        bench.outlet.put([Frame(bench.now, 0x555, b"\x01\x02")])
        bench.hub.pump()
        bench.now += 0.05
    snapshot = bench.hub.snapshot()
    assert snapshot.link.state is LinkState.UNKNOWN_CRAFT
    assert snapshot.values == []
    assert [(raw.ident, raw.data, raw.times) for raw in snapshot.raw] == [("555", "01 02", 80)]
    assert bench.run(1.0).raw == []  # a craft that is named has values instead


def test_a_frame_of_the_wrong_length_counts_as_bad_and_gives_no_value(bench):
    before = bench.run(1.0).link.bad_frames
    bench.outlet.put([Frame(bench.now, 0x120, b"\x01\x02")])
    assert bench.hub.pump() == []
    assert bench.hub.snapshot().link.bad_frames == before + 1


ACTIVE = Frame(0.0, 0x98FECA00, bytes.fromhex("04FF6E000001FFFF"))


def test_faults_told_on_the_bus_are_in_the_snapshot_until_another_craft_may_be_there(bench):
    bench.run(0.5)
    bench.outlet.put([ACTIVE._replace(at=bench.now)])
    (told,) = bench.run(0.5).heard
    assert [(one.spn, one.fmi) for one in told.faults] == [(110, 0)]
    bench.now += ANOTHER_AFTER_S + 0.5
    assert bench.hub.snapshot().heard, "while nothing else is heard it stays, with its age"
    assert bench.run(0.5).heard == []


def test_faults_of_another_craft_of_the_family_are_not_those_of_this_one(bench):
    bench.run(0.5)
    bench.outlet.put([ACTIVE._replace(at=bench.now)])
    assert bench.run(0.5).heard
    bench.serial = 20418
    assert bench.run(0.5).heard == []


def test_two_families_that_fit_are_both_told_and_neither_is_taken(bench):
    """As one family copied and renamed, with one message less."""
    less = tuple(message for message in bench.family.messages if message.name != "DisplayPages")
    other = structs.replace(bench.family, name="dunlin", title="Dunlin", messages=less)
    bench.hub = Hub(bench.gate, bench.outlet, [bench.family, other], lambda: None, clock=lambda: bench.now)
    link = bench.run(4.0).link
    assert link.state is LinkState.UNKNOWN_CRAFT
    assert link.reason == (
        "Auk three-cylinder and Dunlin fit what is heard. Only Auk three-cylinder knows DisplayPages. "
        "Dunlin knows nothing that others do not."
    )
    assert bench.hub.catalogue is None


def test_a_make_whose_own_words_come_late_takes_the_place_of_the_standard(bench):
    families = [load_family(SHIPPED / name) for name in ("j1939", "tern")]
    hub = Hub(bench.gate, bench.outlet, families, lambda: None, clock=lambda: bench.now)

    def hear(*frames):
        for _ in range(20):
            bench.outlet.put([Frame(bench.now, ident, data) for ident, data in frames])
            hub.pump()
            bench.now += 0.05
        return hub.snapshot().craft.family

    engine = ((0x8CF00400, bytes(8)), (0x98FEEE00, bytes(8)))
    assert hear(*engine) == "j1939"
    assert hub.catalogue.number == 1
    assert hear(*engine, (0x98FF1000, b"TERN\x01\x00\x00\x00")) == "tern"
    assert hub.catalogue.number == 2
    assert hear(*engine) == "tern"
    assert hub.catalogue.number == 2, "it was named once"
