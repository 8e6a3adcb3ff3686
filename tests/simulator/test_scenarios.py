"""Every scenario loads, runs, and does what its name says; each signal of auk and skua moves in one."""

import itertools
from pathlib import Path

import cantools
import pytest

from simulator import scenario
from simulator.broadcast import FAMILIES
from simulator.craft import Craft
from simulator.errors import Misunderstood

STORIES = (
    "ride",
    "start_and_stop",
    "key_off",
    "blocked_intake",
    "half_key",
    "another_craft",
    "service_due",
    "cold_start",
)
"""Scenarios without planted faults that between them move everything."""

OWN = {"skua": ("turning", "gate_obstructed")}
"""Those of one family besides."""

FOLDER = Path(__file__).resolve().parents[2] / "bus" / "families"

NAMES = scenario.names()


@pytest.mark.parametrize("name", NAMES)
def test_every_scenario_runs_for_a_minute(name):
    for family, seconds in (("auk", 60.0), ("nmea2000", 20.0), ("skua", 8.0)):
        if family not in (scenario.load(name).families or FAMILIES):
            continue
        craft = Craft(family, name)
        frames = craft.advance(seconds)
        if name == "plugged_in":
            assert frames == []
        else:
            assert len(frames) > {"auk": 5000, "nmea2000": 200, "skua": 400}[family]
        assert all(len(data) <= 8 for _, _, data in frames)
        assert 0 <= craft.engine.speed < 8200
        assert 4 < craft.engine.battery.volts < 15


@pytest.mark.parametrize("family", ["auk", "skua"])
def test_every_signal_moves_in_a_scenario_without_planted_faults(family):
    database = cantools.database.load_file(FOLDER / family / "signals.dbc")
    signals = {signal.name for message in database.messages for signal in message.signals}
    seen = {}
    for name in (*STORIES, *OWN.get(family, ())):
        craft = Craft(family, name)
        for ident, data in {(ident, bytes(data)) for _, ident, data in craft.advance(60.0)}:
            if ident != 0x7F0:
                for signal, value in database.decode_message(ident, data, decode_choices=False).items():
                    seen.setdefault(signal, {}).setdefault(name, set()).add(value)
        assert not craft.broadcast.plants.signals
    moving = {signal for signal, where in seen.items() if any(len(values) > 1 for values in where.values())}
    assert moving == signals


def test_the_usual_ones_are_there():
    usual = {"dock", "idle", "cold_start", "ride", "key_off", "adapter_pulled", "lone"}
    faults = {
        "coolant_open",
        "coolant_short",
        "exhaust_over_limit",
        "oil_pressure_low",
        "engine_speed_missing",
        "engine_speed_error",
        "engine_speed_disagreement",
        "throttle_tracks_disagree",
        "battery_low",
        "rail_leak",
        "lanyard_out",
        "start_switch_stuck",
        "knock",
        "sensor_supply_low",
        "display_missing",
        "out_of_range",
    }
    assert usual | faults <= set(NAMES)


def values(name, seconds):
    craft = Craft("auk", name)
    craft.advance(seconds)
    return craft.state()["values"]


def test_at_the_dock_the_key_is_on_and_the_engine_stands():
    said = values("dock", 5.0)
    assert (said["EngineState"], said["EngineSpeed"], said["KeyLevel"]) == ("Stopped", 0.0, 100.0)
    assert said["ManifoldPressure"] == pytest.approx(said["BarometricPressure"], abs=2.0)


def test_a_cold_engine_is_cranked_starts_and_warms_up():
    craft = Craft("auk", "cold_start")
    states, speeds, coolant = [], {}, []
    for _ in range(600):
        craft.advance(0.1)
        said = craft.state()["values"]
        if "EngineState" in said and "CoolantTemperature" in said:
            states.append(said["EngineState"])
            speeds.setdefault(said["EngineState"], []).append(said["EngineSpeed"])
            coolant.append(said["CoolantTemperature"])
    order = [state for state, before in zip(states, [None, *states[:-1]], strict=True) if state != before]
    assert order == ["Stopped", "Cranking", "Running"]
    assert 200 < speeds["Cranking"][2] < 450
    assert coolant[0] < 15
    assert coolant[-1] > 50


def test_on_a_ride_the_engine_idles_and_reaches_its_top_again_and_again():
    craft = Craft("auk", "ride")
    for _ in range(2):
        speeds, kilometres = [], []
        for _ in range(600):
            craft.advance(0.1)
            speeds.append(craft.engine.speed)
            kilometres.append(craft.engine.craft_speed)
        assert min(speeds) < 1400
        assert max(speeds) > 7500
        assert max(kilometres) > 75
        assert not craft.bench.protection.active


@pytest.mark.parametrize(
    ("name", "signal", "expected"),
    [
        ("coolant_open", "CoolantTemperature", -40.0),
        ("coolant_error", "CoolantTemperature", "error"),
        ("engine_speed_missing", "EngineSpeed", "not_available"),
        ("engine_speed_error", "EngineSpeed", "error"),
        ("engine_speed_stuck_at_zero", "EngineSpeed", 0.0),
        ("lanyard_out", "Lanyard", "Pulled"),
        ("start_switch_stuck", "StartSwitch", "Pressed"),
        ("sensor_supply_low", "SensorSupply", 4.6),
        ("out_of_range", "CoolantTemperature", 900.0),
        ("oil_pressure_low", "LimitedPower", "Low oil pressure"),
        ("exhaust_over_limit", "LimitedPower", "Overheat"),
        ("battery_low", "LimitedPower", "Low battery"),
    ],
)
def test_a_scenario_shows_what_it_is_named_after(name, signal, expected):
    assert values(name, 20.0)[signal] == expected


def test_disagreements_are_large_enough_to_be_seen():
    said = values("engine_speed_disagreement", 20.0)
    assert said["EngineSpeedDisplay"] - said["EngineSpeed"] > 800
    said = values("throttle_tracks_disagree", 20.0)
    assert said["Throttle2"] - said["Throttle1"] > 4.0


def test_another_craft_comes_with_another_serial_after_a_silence():
    craft = Craft("auk", "another_craft")
    frames = craft.advance(5.0)
    before = craft.state()["values"]["ControllerSerial"]
    frames += craft.advance(10.0)
    assert craft.state()["values"]["ControllerSerial"] == before + 1
    times = [at for at, _, _ in frames]
    assert max(later - earlier for earlier, later in itertools.pairwise(times)) > 3.9


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("title = 'x'\nstep = [{ at = 1.0, do = 'fly' }]", "step 1: There is no deed 'fly'"),
        ("title = 'x'\nstep = [{ at = 1.0, do = 'throttle', percent = 130 }]", "between 0 and 100"),
        ("title = 'x'\nstep = [{ do = 'start', pressed = true }]", "step 1"),
        ("title = 'x'\nstart = { key = 3 }", "'key' cannot be 3"),
        ("title = 'x'\nstart = { keys = true }", "no start value 'keys'"),
        ("title = 'x'\nwind = 3", "no setting 'wind'"),
        ("title = 'x'\nrepeat = 1.0\nstep = [{ at = 2.0, do = 'mend' }]", "begin again"),
        (
            "title = 'x'\nstep = [{ at = 2.0, do = 'mend' }, { at = 1.0, do = 'mend' }]",
            "not in the order of time",
        ),
        ("title = ", "not sound"),
        ("pace = 1.0", "not sound"),
    ],
)
def test_a_scenario_that_is_not_sound_is_named_with_what_is_wrong(text, words, tmp_path, monkeypatch):
    monkeypatch.setattr(scenario, "FOLDER", tmp_path)
    (tmp_path / "mine.toml").write_text(text)
    with pytest.raises(Misunderstood, match=r"mine\.toml") as caught:
        scenario.load("mine")
    assert words in str(caught.value)


def test_an_unknown_scenario_and_one_for_another_family_are_refused_and_nothing_changes():
    craft = Craft("nmea2000", "idle")
    with pytest.raises(Misunderstood, match="There is no scenario 'fly'"):
        craft.play("fly")
    with pytest.raises(Misunderstood, match="made for auk"):
        craft.play("coolant_open")
    assert craft.scenario.name == "idle"
    assert craft.advance(1.0)


def test_pace_quickens_heat_and_leaves_the_crank_alone():
    slow, fast = Craft("auk", "cold_start", pace=1.0), Craft("auk", "cold_start", pace=20.0)
    slow.advance(30.0)
    fast.advance(30.0)
    assert slow.engine.speed == pytest.approx(1650, abs=150)
    assert fast.engine.heat.coolant > slow.engine.heat.coolant + 20
    assert fast.engine.trip_hours == pytest.approx(20 * slow.engine.trip_hours, rel=0.1)
