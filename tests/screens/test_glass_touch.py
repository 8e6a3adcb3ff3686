"""Fingers on a real window, and what is drawn when nothing changes."""

from __future__ import annotations

import pytest
from keys_seen import middle

pytestmark = pytest.mark.glass


def key(stage, text):
    return next(each for each in stage.ask("measure")["keys"] if each["text"].startswith(text))


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


def test_a_craft_that_has_nothing_to_test_has_no_door_to_it_and_the_others_keep_their_places(panel_stage):
    with_door = {key["text"]: key["box"] for key in panel_stage.open("good")["keys"]}
    without = {key["text"]: key["box"] for key in panel_stage.open("heard_two")["keys"]}
    lanes = ("Ride", "Check", "Bench", "Book")
    assert [lane for lane in lanes if lane in without] == ["Ride", "Check", "Book"]
    assert all(without[lane] == with_door[lane] for lane in lanes if lane in without)
    place = with_door["Bench"]
    panel_stage.ask("down", place[0] + place[2] / 2, place[1] + place[3] / 2)
    panel_stage.ask("pass_time", 0.1)
    panel_stage.ask("up", place[0] + place[2] / 2, place[1] + place[3] / 2)
    panel_stage.ask("pass_time", 0.3)
    assert panel_stage.ask("measure")["name"] == "ride/1"


def test_before_a_craft_is_known_every_door_is_there(stage):
    assert {"Ride", "Check", "Bench", "Book"} <= {key["text"] for key in stage.open("silent")["keys"]}


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


WIPE = "Screen is wet: wipe it"


def arm(stage, scene="fan"):
    """The cooling fan is armed, no finger is on the glass."""
    stage.ask("open", f"{scene}:Bench+Cooling fan")
    stage.ask("arm")


def hold(stage, scene="fan"):
    """It is held and live."""
    arm(stage, scene)
    stage.ask("hold")


def lifts(stage):
    """Causes with which a press ended, oldest first."""
    return [said["cause"] for what, said in stage.ask("asked") if what == "Lift"]


def label(seen, text):
    return next(each for each in seen["labels"] if each["text"] == text)


@pytest.mark.parametrize(
    "view", ["good", "good:Page+Page", "good:Bench", "need_rate", "fan:Bench+Cooling fan"]
)
def test_while_the_screen_is_wet_it_says_so_and_nothing_works(stage, view):
    before = stage.open(view)
    told = len(stage.ask("rates")), len(stage.ask("asked"))
    stage.ask("wet")
    seen = stage.ask("measure")
    assert WIPE in seen["words"]
    assert label(seen, WIPE)["owner"] == "Banner"
    assert seen["keys"] == before["keys"], "nothing moves under the finger"
    assert seen["tiles"] == before["tiles"]
    for each in seen["keys"]:
        stage.ask("down", *middle(each["box"]))
        stage.ask("pass_time", 0.1)
        stage.ask("up", *middle(each["box"]))
        stage.ask("pass_time", 0.1)
    after = stage.ask("measure")
    assert (after["name"], after["keys"]) == (seen["name"], seen["keys"])
    assert (len(stage.ask("rates")), len(stage.ask("asked"))) == told


def test_the_banner_goes_half_a_second_after_the_last_drop(stage):
    stage.ask("open", "good:wet")
    stage.ask("up", 30, 476, 8)
    stage.ask("pass_time", 2)
    stage.ask("up", 90, 476, 9)
    stage.ask("pass_time", 0.4)
    assert WIPE in stage.ask("measure")["words"]
    stage.ask("pass_time", 0.15)
    seen = stage.ask("measure")
    assert WIPE not in [*seen["words"], *(each["text"] for each in seen["labels"])]
    stage.ask("tap", "Check")
    assert stage.ask("measure")["name"] == "check/faults"


def test_what_is_held_ends_with_a_wet_screen_and_stop_test_stays_where_it_is(panel_stage):
    stage = panel_stage
    before = len(lifts(stage))
    hold(stage, "fan_goes_on")
    live = stage.ask("measure")
    assert any("is on" in words for words in live["words"])
    for number in range(7):  # what a drop does that runs over the glass
        stage.ask("down", 40 + 40 * number, 470, 20 + number)
        stage.ask("up", 40 + 40 * number, 470, 20 + number)
        stage.ask("pass_time", 0.05)
    wet = stage.ask("measure")
    assert lifts(stage)[before:] == ["A second touch came."], "one drop is enough to end it"
    assert WIPE in wet["words"]
    assert [each["box"] for each in wet["keys"]] == [each["box"] for each in live["keys"]]
    assert [each["text"] for each in wet["keys"]] == ["Lifted", "STOP TEST"]
    banner = label(wet, WIPE)
    strip = [label(wet, text) for text in (wet["strip"]["craft"], "SIMULATED")]
    for other in (*wet["keys"], *strip):
        x, y, width, height = banner["owner_box"]
        left, low, across, up = other["box"]
        assert left >= x + width or left + across <= x or low >= y + height or low + up <= y
    stop = key(stage, "STOP TEST")
    stage.ask("down", *middle(stop["box"]), 5)
    assert key(stage, "STOP TEST")["down"]


@pytest.mark.parametrize("drops", ["one that lies", "many that run"])
def test_an_output_that_is_armed_is_disarmed_when_the_screen_gets_wet(stage, drops):
    arm(stage)
    assert stage.ask("measure")["name"] == "bench/hold"
    pressed = [what for what, _ in stage.ask("asked")].count("Press")
    if drops == "one that lies":
        stage.ask("down", 300, 470, 20)
        stage.ask("pass_time", 8.2)
    else:
        stage.ask("wet")
    seen = stage.ask("measure")
    assert seen["name"] == "bench/ready"
    assert WIPE in seen["words"]
    assert [what for what, _ in stage.ask("asked")].count("Press") == pressed


SPACE, ESCAPE, F1 = 32, 27, 282
LETTER_A = 97


def stopped_by(stage, before):
    return lifts(stage)[before:]


@pytest.mark.parametrize("number", [SPACE, ESCAPE, F1])
def test_a_stop_key_ends_what_is_held(stage, number):
    before = len(lifts(stage))
    hold(stage)
    stage.ask("say", "on_key_down", LETTER_A, 4, "a", [])
    assert stopped_by(stage, before) == []
    stage.ask("say", "on_key_down", number, 0, None, [])
    assert stopped_by(stage, before) == ["The stop key was pressed."]
    stage.ask("say", "on_key_down", number, 0, None, [])  # a key that is held repeats itself
    stage.ask("pass_time", 0.2)
    assert stopped_by(stage, before) == ["The stop key was pressed."]
    seen = stage.ask("measure")
    assert seen["name"] == "bench/result"
    assert any("The stop key was pressed." in words for words in seen["words"])


@pytest.mark.parametrize("matter", ["nothing", "wet", "another finger"])
def test_a_stop_key_disarms_whatever_else_is_the_matter(stage, matter):
    arm(stage)
    if matter == "wet":
        stage.ask("down", 300, 470, 20)
        stage.ask("down", 400, 470, 21)
    elif matter == "another finger":
        stage.ask("down", 300, 470, 20)
    stage.ask("say", "on_key_down", SPACE, 44, " ", [])
    stage.ask("pass_time", 0.05)
    assert stage.ask("measure")["name"] == "bench/ready"


def test_a_stop_key_breaks_off_the_arming(stage):
    stage.ask("open", "fan:Bench+Cooling fan")
    stage.ask("press", "Hold 1 s")
    stage.ask("pass_time", 0.8)
    stage.ask("say", "on_key_down", SPACE, 44, " ", [])
    stage.ask("pass_time", 0.8)
    assert stage.ask("measure")["name"] == "bench/ready"


def test_the_default_stop_keys_are_kivys_own_numbers(stage):
    """Against Kivy's table of keys; "pause" is not in it as the window tells it."""
    from app import stop_key

    names = {"space": "spacebar"}
    known = stage.ask("kivy_keys")
    for name, numbers in stop_key.STOP_KEYS.items():
        if name != "pause":
            assert known[names.get(name, name)] in numbers
    assert known["numpadenter"] in stop_key.STOP_KEYS["enter"]


def test_a_touch_that_waited_too_long_does_nothing(stage):
    stage.ask("open", "good")
    box = key(stage, "Check")["box"]
    stage.ask("down", *middle(box), 1, 0.5)
    stage.ask("up", *middle(box))
    stage.ask("pass_time", 0.2)
    assert stage.ask("measure")["name"] == "ride/1"


def test_what_was_touched_while_the_picture_stood_still_does_nothing(stage):
    stage.ask("open", "good")
    box = key(stage, "Check")["box"]
    stage.ask("stand_still", 3)
    stage.ask("down", *middle(box))
    stage.ask("up", *middle(box))
    stage.ask("pass_time", 0.2)
    assert stage.ask("measure")["name"] == "ride/1"


def test_an_output_is_not_armed_by_a_finger_that_lifted_while_the_picture_stood_still(stage):
    stage.ask("open", "fan:Bench+Cooling fan")
    stage.ask("press", "Hold 1 s")
    stage.ask("pass_time", 0.2)
    stage.ask("stand_still", 3)
    stage.ask("pass_time", 0.2)
    assert stage.ask("measure")["name"] == "bench/ready"


def test_a_touch_that_the_window_lost_ends_what_it_held_and_the_glass_goes_on(stage):
    before = len(lifts(stage))
    hold(stage)
    stage.ask("vanish")
    stage.ask("pass_time", 0.2)
    assert stopped_by(stage, before) == ["The touch was lost."]
    stage.ask("pass_time", 0.5)
    stage.ask("tap", "Back")
    assert stage.ask("measure")["name"] == "bench/1"


def test_a_mouse_button_that_kivy_forgets_does_not_leave_the_glass_dead(stage):
    """Kivy's own mouse provider, fed as its window feeds it: left down, right down and up, left up."""
    stage.ask("open", "good")
    x, y = middle(key(stage, "Check")["box"])
    top = stage.ask("measure")["window"][1] - 1 - y
    stage.ask("mouse", "down", x, top, "left")
    stage.ask("mouse", "down", x + 60, top, "right")
    stage.ask("mouse", "up", x + 60, top, "right")
    stage.ask("mouse", "up", x, top, "left")
    assert len(stage.ask("delivered")) == 1, "if Kivy ends it by now, screens.window need not"
    stage.ask("pass_time", 0.2)
    stage.ask("tap", "Book")
    assert stage.ask("measure")["name"] == "book/1"


@pytest.mark.parametrize(
    ("away", "back"), [("on_hide", "on_show"), ("on_minimize", "on_restore"), ("lose_focus", "get_focus")]
)
def test_the_touch_that_wakes_the_window_does_nothing_else(stage, away, back):
    before = len(lifts(stage))
    hold(stage)
    place = stage.ask("measure")["keys"][0]["box"]
    stage.ask(*((away,) if away == "lose_focus" else ("say", away)))
    assert stopped_by(stage, before) == ["The window is not in front any more."]
    stage.ask("up", *middle(place))
    stage.ask("pass_time", 2)
    stage.ask(*((back,) if back == "get_focus" else ("say", back)))
    stage.ask("pass_time", 0.5)
    stage.ask("tap", "Back")
    assert stage.ask("measure")["name"] == "bench/result"
    stage.ask("tap", "Back")
    assert stage.ask("measure")["name"] == "bench/1"
