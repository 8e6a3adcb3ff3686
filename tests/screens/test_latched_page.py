"""The page of an inhibit under a real finger: it comes by itself, stays, and one key leads out of it."""

from __future__ import annotations

import pytest
from keys_seen import key, middle

pytestmark = pytest.mark.glass

PRESSED = "Bench+Hold fuel off+arm+hold"
HELD = f"inhibit_held:{PRESSED}+lift"
SPACE = 32


def count(stage, kind):
    return len([what for what, _ in stage.ask("asked") if what == kind])


def last(stage, kind):
    return next(said for what, said in reversed(stage.ask("asked")) if what == kind)


def test_its_key_stands_where_stop_test_stood_and_looks_unlike_it(panel_stage):
    armed = panel_stage.open(f"inhibit_held:{PRESSED.removesuffix('+hold')}")
    held = panel_stage.open(HELD)
    stop, back = key(armed, "STOP TEST"), key(held, "Give fuel back")
    assert back["box"] == stop["box"]
    x, y, _, height = back["box"]
    wall = round(1.2 * panel_stage.facts["dpi"] / 25.4)  # in the frame of STOP TEST, past that of a key
    assert panel_stage.ask("pixel", x + wall, y + height / 2) == [255, 255, 255]
    panel_stage.open(f"inhibit_held:{PRESSED.removesuffix('+hold')}")
    assert panel_stage.ask("pixel", x + wall, y + height / 2) == [11, 11, 11]
    assert [each["text"] for each in held["keys"]] == ["Give fuel back"]


def test_a_finger_that_lifts_or_goes_astray_as_the_page_comes_does_nothing(stage):
    stage.open(f"inhibit_held:{PRESSED.removesuffix('+hold')}")
    lifts, ends = count(stage, "Lift"), count(stage, "EndInhibit")
    stage.ask("press", "Hold here")
    stage.ask("pass_time", 0.15)
    seen = stage.ask("measure")
    assert seen["name"] == "bench/latched"
    back = middle(key(seen, "Give fuel back")["box"])
    stage.ask("move", *back)
    stage.ask("up", *back)
    stage.ask("down", *back)
    stage.ask("up", *back)
    stage.ask("pass_time", 0.6)
    assert (count(stage, "Lift"), count(stage, "EndInhibit")) == (lifts, ends)
    assert stage.ask("measure")["name"] == "bench/latched"
    stage.ask("tap", "Give fuel back")
    assert count(stage, "EndInhibit") == ends + 1, "later the same touch counts"


def test_its_key_asks_to_give_it_back_and_goes(stage):
    stage.open(HELD)
    stage.ask("wait")
    ends = count(stage, "EndInhibit")
    stage.ask("tap", "Give fuel back")
    assert count(stage, "EndInhibit") == ends + 1
    assert last(stage, "EndInhibit")["press"] == last(stage, "Press")["press"]
    seen = stage.ask("measure")
    assert seen["keys"] == []
    assert "Stop cranking" in seen["words"]


def test_it_stays_while_the_screen_is_wet_and_ends_with_a_stop_key(stage):
    stage.open(HELD)
    ends = count(stage, "EndInhibit")
    stage.ask("wet")
    stage.ask("pass_time", 1.0)
    seen = stage.ask("measure")
    assert seen["name"] == "bench/latched"
    assert "Fuel is held off" in seen["words"]
    assert count(stage, "EndInhibit") == ends
    stage.ask("say", "on_key_down", SPACE, 44, " ", [])
    assert last(stage, "EndInhibit")["cause"] == "The stop key was pressed."
    stage.ask("pass_time", 0.2)
    assert "Stop cranking" in stage.ask("measure")["words"]


def test_a_window_that_nobody_sees_gives_it_back(stage):
    stage.open(HELD)
    stage.ask("say", "on_hide")
    assert last(stage, "EndInhibit")["cause"] == "The window is not in front any more."
    stage.ask("say", "on_show")


def test_stop_test_before_it_is_read_back_holds_afterwards_too(stage):
    seen = stage.open(f"inhibit_asking:{PRESSED}")
    assert seen["words"][0] == "Do NOT crank yet"
    stage.ask("down", *middle(key(seen, "STOP TEST")["box"]), 2)
    stage.ask("scene", "inhibit_held")  # it had been latched before the lift came
    stage.ask("pass_time", 0.3)
    assert last(stage, "EndInhibit")["cause"] == "STOP TEST was touched."
    stage.ask("lift")


def test_within_a_second_of_silence_it_says_that_nothing_is_known(panel_stage):
    panel_stage.open(f"inhibit_hung:{PRESSED}+lift")
    waited = 0.0
    while "Fuel NOT known to be off" not in (seen := panel_stage.ask("measure"))["words"]:
        panel_stage.ask("pass_time", 0.1)
        waited += 0.1
        assert waited < 2.5, "0.3 s were gone, the silence began after 1.2 s"
    assert {tile["look"] for tile in seen["tiles"]} == {"stale"}
    assert "Release the start switch. Lanyard out." in seen["words"]


def test_engine_speed_and_battery_stand_there_without_a_judgement(panel_stage):
    seen = panel_stage.open(HELD)
    assert {tile["signal"]: (tile["drawn"], tile["look"]) for tile in seen["tiles"]} == {
        "EngineSpeed": ("230", "good"),
        "BatteryVoltage": ("10.6", "good"),  # under the limit of a battery at rest: a starter is on
    }


@pytest.mark.parametrize(
    ("scene", "colour"),
    [("held", "FFFFFF"), ("ending", "F0D200"), ("doubt", "9C2F00")],
)
def test_each_state_has_its_colour_its_shape_and_its_words(panel_stage, scene, colour):
    view = f"inhibit_{scene}:{PRESSED}+lift"
    seen = panel_stage.open(view)
    title = next(each for each in seen["labels"] if each["text"] == seen["words"][0])
    x, y, width, height = title["owner_box"]
    pixel = panel_stage.ask("pixel", x + width - 4, y + height - 4)
    assert bytes(pixel).hex().upper() == colour
    capital = title["em"] * panel_stage.facts["cap"] * 25.4 / panel_stage.facts["dpi"]
    assert capital >= 5.3


def test_three_promises_are_asked_for_one_after_another(panel_stage):
    asked = []
    for scene, label in (("needs", "fuel"), ("two", "fuel"), ("last", "spark")):
        seen = panel_stage.open(f"inhibit_{scene}:Bench+Hold {label} off")
        keys = [
            each["text"] for each in seen["keys"] if each["text"] not in ("Ride", "Check", "Bench", "Book")
        ]
        assert keys[:2] == ["Back", "Leak seen"]
        asked.append((seen["words"][0], *keys[2:]))
    assert asked == [
        ("Hold fuel off: confirm 1 of 3", "Hatch open, no smell"),
        ("Hold fuel off: confirm 2 of 3", "Hands are clear"),
        ("Hold spark off: confirm 3 of 3", "Jet area clear"),
    ]


def test_a_double_tap_confirms_one_promise_only(stage):
    seen = stage.open("inhibit_needs:Bench+Hold fuel off")
    stage.ask("wait")
    before = count(stage, "Confirm")
    place = middle(key(seen, "Hatch open")["box"])
    stage.ask("tap", "Hatch open")
    stage.ask("scene", "inhibit_two")
    stage.ask("pass_time", 0.25)
    assert key(stage.ask("measure"), "Hands")["box"] == key(seen, "Hatch open")["box"]
    stage.ask("down", *place)
    stage.ask("up", *place)
    assert count(stage, "Confirm") == before + 1
    stage.ask("wait")
    stage.ask("tap", "Hands")
    assert last(stage, "Confirm")["what"] == "hands_clear"
