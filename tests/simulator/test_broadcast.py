"""What is on the simulated bus, read with cantools."""

import collections
import itertools

import pytest

from simulator.craft import Craft

MARK = (0x7F0, b"SIMULATE")


def named(frames, database):
    """Time, message name and decoded raw values of every frame but the mark."""
    for at, ident, data in frames:
        if (ident, data) != MARK:
            message = database.get_message_by_frame_id(ident)
            yield at, message.name, message.decode(data, decode_choices=False, scaling=False)


def test_every_message_comes_with_its_own_cycle_time(database):
    times = collections.defaultdict(list)
    for at, ident, _ in Craft().advance(10.0):
        times[ident].append(at)
    assert set(times) == {message.frame_id for message in database.messages} | {MARK[0]}
    for message in database.messages:
        pairs = itertools.pairwise(times[message.frame_id])
        gaps = {round(later - earlier, 6) for earlier, later in pairs}
        assert gaps == {message.cycle_time / 1000.0}


@pytest.mark.parametrize("family", ["auk", "nmea2000"])
def test_every_simulated_bus_says_so_four_times_a_second(family):
    frames = Craft(family, "idle").advance(10.0)
    assert sum(1 for _, ident, data in frames if (ident, data) == MARK) == 40


def test_the_same_craft_gives_the_same_frames():
    assert Craft("auk", "ride").advance(5.0) == Craft("auk", "ride").advance(5.0)


def test_pages_rotate_and_the_alive_counter_counts(database):
    frames = list(named(Craft().advance(5.0), database))
    pages = [values["Page"] for _, name, values in frames if name == "DisplayPages"]
    assert pages[:8] == [(pages[0] + n) % 4 for n in range(8)]
    counts = [values["AliveCounter"] for _, name, values in frames if name == "EngineFast"]
    assert all(later == (earlier + 1) % 16 for earlier, later in itertools.pairwise(counts))
    assert set(counts) == set(range(16))


def test_the_bus_falls_silent_a_second_after_key_off_and_wakes_with_the_key():
    craft = Craft("auk", "idle")
    craft.advance(1.0)
    off = craft.bus_ms / 1000.0
    craft.act({"do": "key", "on": False})
    last = max(at for at, _, _ in craft.advance(10.0))
    assert 0.9 < last - off <= 1.0
    assert craft.engine.speed == 0.0
    assert not craft.awake
    on = craft.bus_ms / 1000.0
    craft.act({"do": "key", "on": True})
    frames = craft.advance(2.0)
    assert frames[0][0] - on < 0.3
    assert 0x320 in {ident for _, ident, _ in frames}
    first_of_display = next(at for at, ident, _ in frames if ident == 0x320)
    assert first_of_display - on > 0.4


def test_the_two_engine_speeds_agree_closely_but_are_not_the_same_number(database):
    craft = Craft("auk", "ride")
    crank, shown = [], []
    for _, name, values in named(craft.advance(60.0), database):
        if name == "EngineFast":
            crank.append(values["EngineSpeed"] * 0.25)
        elif name == "DisplayMain":
            shown.append(values["EngineSpeedDisplay"])
    assert all(value % 10 == 0 for value in shown)
    pairs = list(zip(crank[::2], shown, strict=False))
    assert sum(one != other for one, other in pairs) > 0.9 * len(pairs)
    idle = Craft("auk", "idle")
    for _, name, values in named(idle.advance(10.0), database):
        if name == "DisplayMain":
            assert values["EngineSpeedDisplay"] == pytest.approx(1300, abs=80)


def test_both_engine_speeds_read_zero_when_the_engine_stands(database):
    craft = Craft("auk", "idle")
    craft.act({"do": "lanyard", "pulled": True})
    craft.advance(4.0)
    for _, name, values in named(craft.advance(1.0), database):
        if name == "EngineFast":
            assert values["EngineSpeed"] == 0
        elif name == "DisplayMain":
            assert values["EngineSpeedDisplay"] == 0


RESERVED = [
    ("EngineSpeed", 0xFFFF, 0xFFFE),
    ("CoolantTemperature", 0x7FFF, 0x7FFE),
    ("IntakeAirTemperature", 0x7FF, 0x7FE),
    ("BarometricPressure", 0xFFF, 0xFFE),
    ("ControllerSerial", 0xFFFFFFFF, 0xFFFFFFFE),
    ("SensorSupply", 0xFF, 0xFE),
    ("Lanyard", 3, 2),
    ("EngineState", 15, 14),
]


@pytest.mark.parametrize(("signal", "missing", "error"), RESERVED, ids=[row[0] for row in RESERVED])
def test_planted_faults_are_the_reserved_codes_and_mending_ends_them(signal, missing, error, database):
    craft = Craft("auk", "idle")

    def raws():
        return {values[signal] for _, _, values in named(craft.advance(1.0), database) if signal in values}

    healthy = raws()
    craft.act({"do": "plant", "signal": signal, "kind": "not_available"})
    assert raws() == {missing}
    assert craft.state()["values"][signal] in {"not_available", "Not available"}
    craft.act({"do": "plant", "signal": signal, "kind": "error"})
    assert raws() == {error}
    craft.act({"do": "mend", "signal": signal})
    assert not raws() & {missing, error}
    assert not healthy & {missing, error}


def test_a_planted_value_shift_and_stuck_say_what_they_should(database):
    craft = Craft("auk", "ride")
    craft.advance(5.0)
    before = craft.state()["values"]["EngineSpeed"]
    craft.act({"do": "plant", "signal": "EngineSpeed", "kind": "stuck"})
    craft.act({"do": "plant", "signal": "CoolantTemperature", "kind": "value", "value": 900})
    craft.act({"do": "plant", "signal": "BatteryVoltage", "kind": "shift", "value": -2})
    frames = list(named(craft.advance(10.0), database))
    assert {v["EngineSpeed"] * 0.25 for _, n, v in frames if n == "EngineFast"} == {before}
    assert {v["CoolantTemperature"] for _, n, v in frames if n == "EngineThermal"} == {9000}
    volts = craft.state()["values"]["BatteryVoltage"]
    assert volts == pytest.approx(craft.engine.battery.volts - 2.0, abs=0.1)


def test_a_missing_signal_takes_its_message_or_its_page_away(database):
    craft = Craft()
    craft.act({"do": "plant", "signal": "EngineSpeed", "kind": "missing"})
    craft.act({"do": "plant", "signal": "TripFuel", "kind": "missing"})
    craft.act({"do": "plant", "signal": "DisplayMain", "kind": "missing"})
    frames = list(named(craft.advance(4.0), database))
    assert {name for _, name, _ in frames} == {m.name for m in database.messages} - {
        "EngineFast",
        "DisplayMain",
    }
    assert {values["Page"] for _, name, values in frames if name == "DisplayPages"} == {0, 1, 3}


def test_a_held_craft_repeats_its_values_while_counters_and_pages_go_on(database):
    craft = Craft("auk", "ride")
    craft.advance(22.0)
    craft.act({"do": "hold", "on": True})
    craft.advance(0.5)
    seen = collections.defaultdict(set)
    for _, _, values in named(craft.advance(5.0), database):
        for signal, raw in values.items():
            seen[signal].add(raw)
    assert {signal for signal, raws in seen.items() if len(raws) > 1} == {"AliveCounter", "Page"}
    craft.act({"do": "hold", "on": False})
    speeds = {v["EngineSpeed"] for _, n, v in named(craft.advance(2.0), database) if n == "EngineFast"}
    assert len(speeds) > 5


def test_silence_is_silence_and_ends_by_itself():
    craft = Craft()
    craft.act({"do": "silence", "seconds": 2.0})
    frames = craft.advance(3.0)
    assert min(at for at, _, _ in frames) == pytest.approx(2.0, abs=0.03)


def test_the_controller_limits_power_and_counts_faults_by_what_it_reads(database):
    craft = Craft("auk", "idle")
    craft.act({"do": "throttle", "percent": 100})
    craft.advance(10.0)
    assert craft.engine.speed > 7000
    craft.act({"do": "plant", "signal": "CoolantTemperature", "kind": "error"})
    craft.advance(15.0)
    values = craft.state()["values"]
    assert values["LimitedPower"] == "Sensor fault"
    assert values["ActiveFaults"] == 1
    assert values["SpeedLimit"] == 4500
    assert craft.engine.speed < 4700
    craft.act({"do": "mend"})
    craft.advance(10.0)
    assert craft.state()["values"]["LimitedPower"] == "Not limited"
    assert craft.engine.speed > 7000
