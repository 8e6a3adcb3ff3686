"""What stands on the glass is what the snapshot says, and looks as good as it is."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

pytestmark = pytest.mark.glass

ROOT = Path(__file__).parents[2]
FAMILY = tomllib.loads((ROOT / "bus" / "families" / "auk" / "family.toml").read_text("utf-8"))
SHOWN = {name for name, facts in FAMILY["signals"].items() if not facts.get("hidden")}
PAPER, WATCH, ALARM = [1, 1, 1, 1], "F0D200", "9C2F00"

# A good ride as tests/screens/fake_craft.py sends it, written out by hand as it must stand on the glass.
GOOD = {
    "EngineSpeed": "3480 rev/min", "EngineSpeedDisplay": "3478 rev/min", "Throttle1": "31.5 %",
    "Throttle2": "31.4 %", "ThrottleLever": "32 %", "ThrottleCommand": "32 %", "EngineLoad": "44 %",
    "EngineState": "Running", "SpeedLimit": "8000 rev/min", "ManifoldPressure": "61.2 kPa",
    "BarometricPressure": "101.3 kPa", "IntakeAirTemperature": "38 °C", "AirMassFlow": "41.7 g/s",
    "FuelRailPressure": "301 kPa", "InjectorPulseWidth": "4.62 ms", "FuelRate": "14.5 L/h",
    "IgnitionTiming": "22.5 °", "KnockRetard": "0.0 °", "Lambda": "0.982 λ", "LambdaCorrection": "−3.5 %",
    "FuelTemperature": "29 °C", "CoolantTemperature": "71 °C", "OilTemperature": "84 °C",
    "ExhaustTemperature": "62 °C", "ControllerTemperature": "47 °C", "WaterTemperature": "18.4 °C",
    "OilPressure": "310 kPa", "BatteryVoltage": "14.1 V", "SensorSupply": "5.00 V",
    "DisplayVoltage": "14.0 V", "FuelPumpRelay": "On", "FanRelay": "Off", "Lanyard": "In place",
    "StartSwitch": "Released", "StopSwitch": "Released", "ReverseSwitch": "Forward", "KeyLevel": "100 %",
    "LimitedPower": "Low oil pressure", "ActiveFaults": "0", "CraftSpeed": "42 km/h", "FuelLevel": "63 %",
    "DisplayState": "Ready", "EngineHours": "1142.3 h", "TripHours": "0.71 h", "TripFuel": "8.4 L",
    "ServiceHoursLeft": "27 h", "ControllerSerial": "20417",
    # Worked out by hand: 4.62 × 3480 / 1200; 3 × 300 × 3.72 / 60000 × 1740 × 0.06; 301 + 101.3 - 61.2;
    # 61.2 - 101.3; 42 / 3.48.
    "=injector_duty": "13.4 %", "=injector_flow": "5.8 L/h", "=injector_pressure": "341 kPa",
    "=boost": "−40.1 kPa", "=speed_per_1000": "12.1 km/h",
}  # fmt: skip
PAGES = 11
"""Of the Ride lane; the fourth is that of the air, the seventh that of the heat."""


def colour(text):
    return [pytest.approx(int(text[place : place + 2], 16) / 255, abs=0.003) for place in (0, 2, 4)] + [1]


def looks(seen):
    return {tile["signal"]: tile["look"] for tile in seen["tiles"]}


def pages(stage, scene, turns=PAGES):
    for page in range(turns):
        yield stage.open(scene if not page else f"{scene}:{'+'.join(['Page'] * page)}")


def test_every_signal_of_the_craft_can_be_reached_and_is_drawn_as_it_was_sent(panel_stage):
    drawn = {}
    for seen in pages(panel_stage, "good"):
        for tile in seen["tiles"]:
            assert tile["signal"] not in drawn
            drawn[tile["signal"]] = f"{tile['drawn']} {tile['unit']}".strip()
    assert drawn == GOOD
    assert {name for name in drawn if not name.startswith("=")} == SHOWN


def test_the_page_keys_go_round_both_ways(stage):
    stage.ask("open", "good")
    names = []
    for _ in range(PAGES):
        names.append(stage.ask("measure")["name"])
        stage.ask("tap", "Page")
    assert names == [f"ride/{number}" for number in range(1, PAGES + 1)]
    assert stage.ask("measure")["name"] == "ride/1"
    stage.ask("tap", "Page")
    stage.ask("tap", "Page")
    stage.ask("tap", "Back")
    stage.ask("tap", "Back")
    assert stage.ask("measure")["name"] == "ride/1"


def test_a_passed_limit_has_its_colour_its_shape_and_its_word(stage):
    seen = stage.open("watch")
    tile = next(tile for tile in seen["tiles"] if tile["signal"] == "ExhaustTemperature")
    assert (tile["look"], tile["shape"], tile["label"]) == ("watch", "triangle", "Exhaust · watch")
    assert tile["ground"] == colour(WATCH)
    assert tile["note"] == "max 80 · generic default"
    seen = stage.open("alarm")
    assert looks(seen) == {
        "EngineSpeed": "alarm",
        "CoolantTemperature": "alarm",
        "ExhaustTemperature": "good",
        "CraftSpeed": "good",
        "OilPressure": "alarm",
        "BatteryVoltage": "good",
    }
    for tile in seen["tiles"]:
        if tile["look"] == "alarm":
            assert (tile["ground"], tile["shape"]) == (colour(ALARM), "square")
            assert tile["label"].endswith(" · alarm")


def test_a_colour_is_really_on_the_glass(stage):
    for view, signal, wanted in (("watch", "ExhaustTemperature", WATCH), ("alarm", "OilPressure", ALARM)):
        seen = stage.open(view)
        x, y, width, height = next(tile["box"] for tile in seen["tiles"] if tile["signal"] == signal)
        pixel = stage.ask("pixel", x + width - 3, y + height / 2)
        assert bytes(pixel).hex().upper() == wanted


def test_oil_pressure_of_a_stopped_engine_is_not_judged(stage):
    assert looks(stage.open("stopped"))["OilPressure"] == "good"


def test_each_quality_has_its_own_look(stage):
    seen = {tile["signal"]: tile for tile in stage.open("qualities")["tiles"]}
    told = {
        name: (tile["drawn"], tile["note"], tile["hatched"], tile["shape"]) for name, tile in seen.items()
    }
    assert told == {
        "EngineSpeed": ("3480", "limit from family data", False, ""),
        "CoolantTemperature": ("sensor fault", "says the controller", False, "cross"),
        "ExhaustTemperature": ("62", "out of range", True, ""),
        "CraftSpeed": ("not sent", "or not fitted", False, ""),
        "OilPressure": ("waiting", "", False, ""),
        "BatteryVoltage": ("14.1", "", False, ""),
    }


@pytest.mark.parametrize("scene", ["lost", "no_bus", "hung"])
def test_old_values_look_old_on_every_page(panel_stage, scene):
    seen = 0
    for page in pages(panel_stage, scene):
        assert any(words for words in page["words"] if "." in words), "no line over old values"
        for tile in page["tiles"]:
            seen += 1
            assert tile["look"] == "stale"
            assert tile["hatched"]
            assert tile["drawn"].startswith("no data ")
            assert tile["unit"] in ("", f"was {GOOD['EngineSpeed']}")
        assert not {"engine_speed", "battery", "key_level"} & set(page["strip"]["boxes"])
    assert seen == len(GOOD)


@pytest.mark.parametrize("view", ["good", "good:Page", "good:Page+Page+Page+Page"])
def test_within_a_second_of_silence_everything_looks_old(stage, view):
    stage.ask("open", view)
    stage.ask("scene", "hung")
    waited = 0.0
    while {tile["look"] for tile in stage.ask("measure")["tiles"]} != {"stale"}:
        stage.ask("pass_time", 0.05)
        waited += 0.05
        assert waited <= 1.0
    assert waited > 0.4, "values were called old before they were"


def test_values_that_come_back_look_live_again(stage):
    stage.ask("open", "hung")
    stage.ask("scene", "good")
    stage.ask("pass_time", 0.25)
    assert set(looks(stage.ask("measure")).values()) == {"good"}


def test_every_screen_names_the_craft_and_says_what_is_not_real(panel_stage):
    for view, seen in panel_stage.all_views().items():
        known = {"good", "moving", "stopped", "watch", "alarm", "qualities", "speed_unknown", "trouble"}
        known |= {"replay", "rest", "lost", "no_bus", "hung", "no_rail", "flat", "idle"}
        known |= {"outputs", "needs", "all_missing", "cautions", "pressed", "given", "lapsed", "unconfirmed"}
        scene = view.partition(":")[0]
        later = [tap.removeprefix("scene=") for tap in view.split("+") if tap.startswith("scene=")]
        scene = later[-1] if later else scene
        known |= {scene} if scene.startswith(("faults_", "inhibit_", "quick_", "heard_")) else set()
        assert seen["strip"]["craft"] == ("Auk 20417" if scene in known else "No craft")
        corner = min(seen["labels"], key=lambda label: (label["box"][0], -label["box"][1]))
        highest = min(
            (label for label in seen["labels"] if label["owner"] == "StripLine"),
            key=lambda label: label["box"][0],
        )
        assert highest["text"] == seen["strip"]["craft"]
        assert corner["box"][0] < 20 * panel_stage.facts["dpi"] / 25.4
        mode = {"replay": "REPLAY", "rest": "REPLAY", "qualities": None, "trouble": None}.get(
            scene, "SIMULATED"
        )
        if scene in known:
            assert seen["strip"]["boxes"].get("mode") == mode


@pytest.mark.parametrize(
    ("scene", "name", "title"),
    [
        ("no_adapter", "ride/no_adapter", "No adapter"),
        ("need_rate", "ride/need_rate", "Which bit rate?"),
        ("silent", "ride/silent", "Turn the key on"),
        ("listening", "ride/listening", "Listening"),
        ("unknown_craft", "ride/unknown_craft", "Unknown craft"),
        ("starting", "ride/no_bus", "Starting again"),
    ],
)
def test_without_a_craft_the_ride_lane_says_what_to_do(stage, scene, name, title):
    seen = stage.open(scene)
    assert seen["name"] == name
    assert seen["words"][0] == title
    assert seen["tiles"] == []


def test_the_connection_page_tells_the_facts_of_the_link(stage):
    words = stage.open("good:Check+Connection")["words"]
    for fact in (
        "Adapter: slcan on /dev/ttyACM0",
        "Bit rate: 500 kbit/s",
        "Frames: 48213",
        "Frames/s: 436",
        "Bad frames: 2",
        "Recording: 2031-06-02T09-14-07-auk-20417.log, 175338 frames",
        "Family: Auk three-cylinder",
        "Serial: 20417",
    ):
        assert fact in words


def test_night_is_a_table_away(stage):
    stage.ask("wear", "night")
    try:
        seen = stage.open("good")
        assert all(tile["ground"] == colour("0B0B0B") for tile in seen["tiles"])
        assert bytes(stage.ask("pixel", 400, 3)).hex().upper() == "0B0B0B"
    finally:
        stage.ask("wear", "day")
    assert all(tile["ground"] == PAPER for tile in stage.open("good")["tiles"])
