"""Fingers on a real window, and what is drawn when nothing changes."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.glass


def key(stage, text):
    return next(each for each in stage.ask("measure")["keys"] if each["text"].startswith(text))


def middle(box):
    return box[0] + box[2] / 2, box[1] + box[3] / 2


def test_a_key_inverts_within_one_frame_and_acts_when_the_finger_lifts(stage):
    stage.ask("open", "good")
    check = key(stage, "Check")
    corner = (check["box"][0] + 8, check["box"][1] + 8)
    assert stage.ask("pixel", *corner) == [255, 255, 255]
    stage.ask("down", *middle(check["box"]))
    stage.ask("frame")
    assert stage.ask("pixel", *corner) == [11, 11, 11]
    assert stage.ask("measure")["name"] == "ride/1"
    stage.ask("up", *middle(check["box"]))
    stage.ask("frame")
    assert stage.ask("measure")["name"] == "check/faults"


def test_a_finger_that_drifts_off_does_nothing(stage):
    stage.ask("open", "good")
    box = key(stage, "Check")["box"]
    stage.ask("down", *middle(box))
    stage.ask("move", box[0] - 5, box[1] + 5)
    assert not key(stage, "Check")["down"]
    stage.ask("up", box[0] - 5, box[1] + 5)
    stage.ask("pass_time", 0.2)
    assert stage.ask("measure")["name"] == "ride/1"


def test_a_finger_that_lay_on_the_glass_while_the_page_changed_does_nothing(stage):
    stage.ask("open", "need_rate")
    told = len(stage.ask("rates"))
    box = key(stage, "250")["box"]
    stage.ask("down", *middle(box))
    stage.ask("scene", "good")
    stage.ask("pass_time", 0.3)
    assert stage.ask("measure")["name"] == "ride/1"
    stage.ask("up", *middle(box))
    stage.ask("pass_time", 0.2)
    assert stage.ask("measure")["name"] == "ride/1"
    assert len(stage.ask("rates")) == told


def test_two_fingers_do_nothing(stage):
    stage.ask("open", "good")
    check, book = key(stage, "Check")["box"], key(stage, "Book")["box"]
    stage.ask("down", *middle(check), 1)
    stage.ask("down", *middle(book), 2)
    stage.ask("up", *middle(check), 1)
    stage.ask("up", *middle(book), 2)
    stage.ask("pass_time", 0.2)
    assert stage.ask("measure")["name"] == "ride/1"


@pytest.mark.parametrize(
    ("text", "rate"), [("125", 125_000), ("250", 250_000), ("500", 500_000), ("1000", 1_000_000)]
)
def test_the_rate_that_is_touched_is_the_rate_that_is_told(stage, text, rate):
    stage.ask("open", "need_rate")
    stage.ask("tap", text)
    assert stage.ask("rates")[-1] == rate


def test_a_rate_can_be_taken_back(stage):
    stage.ask("open", "silent")
    stage.ask("tap", "Another bit rate")
    assert stage.ask("rates")[-1] is None


def test_a_lane_touched_again_leads_to_its_first_page(stage):
    stage.ask("open", "good:Page+Page")
    stage.ask("tap", "Book")
    stage.ask("tap", "Ride")
    assert stage.ask("measure")["name"] == "ride/3"
    stage.ask("tap", "Ride")
    assert stage.ask("measure")["name"] == "ride/1"


@pytest.mark.parametrize("view", ["rest", "rest:Page", "rest:Check", "rest:Bench", "silent", "need_rate"])
def test_at_rest_nothing_is_drawn(panel_stage, view):
    panel_stage.ask("open", view)
    panel_stage.ask("pass_time", 0.5)
    assert panel_stage.ask("pass_time", 3.0)["flips"] == 0


def test_a_recording_draws_once_a_second_and_no_more(stage):
    stage.ask("open", "good")
    assert 2 <= stage.ask("pass_time", 3.0)["flips"] <= 4


def test_texts_change_at_most_five_times_a_second_while_the_arc_sweeps_faster(stage):
    stage.ask("open", "moving")
    seen = stage.ask("pass_time", 3.0)
    assert 10 <= seen["changes"] <= 16
    assert seen["swept"] >= 40


def test_the_glass_loads_neither_the_bus_nor_its_libraries(stage):
    assert not {"bus", "simulator", "can", "cantools", "serial"} & set(stage.facts["modules"])
