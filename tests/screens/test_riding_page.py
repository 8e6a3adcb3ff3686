"""Ride mode and alarms under a real finger: what is locked, what one touch does, what comes by itself."""

from __future__ import annotations

import pytest
from keys_seen import middle

pytestmark = pytest.mark.glass

LOCKED = "good:More+Lock"
AT_IDLE = f"{LOCKED}+scene=stopped+wait+wait+wait"


def texts(seen):
    return [key["text"] for key in seen["keys"]]


def mounted(stage):
    """A glass on the handlebar, said by touch."""
    stage.open("stopped:More+Settings")
    stage.ask("tap", "Used")
    assert "Used: on the handlebar" in texts(stage.ask("measure"))


def test_above_idle_a_mounted_glass_locks_itself_whatever_is_open(stage):
    mounted(stage)
    stage.ask("scene", "good")
    stage.ask("pass_time", 1.5)
    assert stage.ask("measure")["name"] == "ride/settings"
    stage.ask("pass_time", 1.0)
    seen = stage.ask("measure")
    assert (seen["name"], texts(seen)) == ("ride/locked", ["Mark 1"])
    stage.open("good")
    stage.ask("pass_time", 5.0)
    assert stage.ask("measure")["name"] == "ride/1", "in the hand it does not"


def test_the_key_is_the_lower_half_and_nothing_else_does_anything(panel_stage):
    seen = panel_stage.open(LOCKED)
    (key,) = seen["keys"]
    wide, high = seen["window"]
    _, y, width, height = key["box"]
    assert width > 0.9 * wide
    assert height > 0.35 * high
    assert y + height < high / 2
    for place in ((wide / 2, high * 0.7), (wide * 0.1, high * 0.98), (wide * 0.9, high * 0.9)):
        panel_stage.ask("down", *place)
        panel_stage.ask("up", *place)
        panel_stage.ask("pass_time", 0.2)
        after = panel_stage.ask("measure")
        assert (after["name"], texts(after)) == ("ride/locked", ["Mark 1"])


def test_a_mark_is_the_moment_the_finger_came_down_and_is_told_to_book_and_recording(stage):
    seen = stage.open(LOCKED)
    place = middle(seen["keys"][0]["box"])
    stage.ask("down", *place)
    down_at = stage.ask("now")
    stage.ask("pass_time", 0.6)
    stage.ask("up", *place)
    stage.ask("pass_time", 0.2)
    assert texts(stage.ask("measure")) == ["Marked 1"]
    kind, _, body = stage.ask("book", "notes")[-1]
    assert (kind, body["mark"], body["mono"]) == ("mark", 1, pytest.approx(down_at, abs=0.06))
    assert ["Coolant", "71 °C"] in body["values"]
    what, said = stage.ask("asked")[-1]
    assert (what, said["number"], said["at"]) == ("Mark", 1, pytest.approx(down_at, abs=0.06))
    stage.ask("pass_time", 2.0)
    assert texts(stage.ask("measure")) == ["Mark 2"]


def test_a_finger_that_drifts_off_the_key_marks_nothing(stage):
    seen = stage.open(LOCKED)
    place = middle(seen["keys"][0]["box"])
    before = len(stage.ask("book", "notes"))
    stage.ask("down", *place)
    stage.ask("move", place[0], seen["window"][1] * 0.8)
    stage.ask("up", place[0], seen["window"][1] * 0.8)
    assert len(stage.ask("book", "notes")) == before


def test_a_short_hold_does_not_open_it_and_a_full_one_does(stage):
    stage.open(AT_IDLE)
    stage.ask("press", "Hold to")
    stage.ask("pass_time", 1.0)
    stage.ask("lift")
    stage.ask("pass_time", 1.0)
    assert stage.ask("measure")["name"] == "ride/locked"
    stage.ask("press", "Hold to")
    stage.ask("pass_time", 1.8)
    assert stage.ask("measure")["name"] == "ride/1"
    stage.ask("lift")
    stage.ask("pass_time", 0.5)
    assert stage.ask("measure")["name"] == "ride/1", "the finger that opened it does nothing else"


def test_a_finger_on_the_mark_as_the_other_key_comes_marks_nothing_by_mistake(stage):
    seen = stage.open(LOCKED)
    x, y, width, height = seen["keys"][0]["box"]
    right = (x + width * 0.9, y + height / 2)
    stage.ask("scene", "stopped")
    stage.ask("pass_time", 4.6)
    stage.ask("down", *right)
    stage.ask("pass_time", 2.5)
    after = stage.ask("measure")
    assert texts(after) == ["Mark 1", "Hold to unlock"]
    stage.ask("up", *right)
    stage.ask("pass_time", 0.3)
    after = stage.ask("measure")
    assert (after["name"], texts(after)) == ("ride/locked", ["Mark 1", "Hold to unlock"])


def test_an_alarm_takes_the_glass_and_one_touch_says_that_it_was_seen(stage):
    stage.open(LOCKED)
    before = len(stage.ask("book", "notes"))
    stage.ask("scene", "alarm")
    stage.ask("pass_time", 1.4)
    seen = stage.ask("measure")
    assert seen["name"] == "ride/alarm"
    assert texts(seen) == ["Seen · 1 more"]
    assert seen["words"][0] in ("Ease off the lever", "Stop the engine")
    assert stage.ask("asked")[-1][0] != "EndInhibit"
    stage.ask("seen")
    assert stage.ask("measure")["name"] == "ride/locked"
    events = [body["event"] for kind, _, body in stage.ask("book", "notes")[before:] if kind == "alarm"]
    assert sorted(events) == ["raised"] * 4 + ["seen"] * 4


def test_a_touch_meant_for_the_page_before_does_not_say_that_an_alarm_was_seen(stage):
    seen = stage.open(LOCKED)
    place = middle(seen["keys"][0]["box"])
    stage.ask("scene", "alarm")
    while stage.ask("measure")["name"] != "ride/alarm":
        stage.ask("pass_time", 0.05)
    stage.ask("down", *place)
    stage.ask("up", *place)
    stage.ask("pass_time", 0.2)
    seen = stage.ask("measure")
    assert (seen["name"], texts(seen)) == ("ride/alarm", ["Seen · 1 more"])


def test_at_rest_an_alarm_does_not_take_the_glass(stage):
    stage.open("stopped")
    stage.ask("scene", "flat")
    stage.ask("pass_time", 12.0)
    seen = stage.ask("measure")
    assert seen["name"] == "ride/1"
    looks = {tile["signal"]: tile["look"] for tile in seen["tiles"]}
    assert looks["BatteryVoltage"] == "alarm"


def test_the_values_of_a_locked_glass_can_be_read_at_the_handlebar(panel_stage):
    """Capitals of labels at least 6 mm on the smallest sizes, of figures 13 mm (the look's own numbers)."""
    facts = panel_stage.facts
    seen = panel_stage.open(LOCKED)
    millimetre = facts["dpi"] / 25.4
    figures = [tile["drawn"] for tile in seen["tiles"]]
    assert len(figures) == 3
    for label in seen["labels"]:
        cap = facts["cap"] * label["em"] / millimetre
        if label["text"] in figures:
            assert cap >= 12.9, label["text"]
        elif label["text"] in [tile["label"] for tile in seen["tiles"]]:
            assert cap >= 5.9, label["text"]
