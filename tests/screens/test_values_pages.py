"""What can be done with the values on the glass: stopped, charted, least and most, and which are shown."""

from __future__ import annotations

import pytest
from keys_seen import keys

pytestmark = pytest.mark.glass

BODY_MOST = 8
"""Touch areas in the body (own rule: more cannot be told apart in a hurry)."""


def tiles(seen):
    return {tile["signal"]: tile for tile in seen["tiles"]}


def figures(seen):
    return {name: tile["drawn"] for name, tile in tiles(seen).items()}


def of_values(stage):
    """The views of the Ride lane."""
    return {view: seen for view, seen in stage.all_views().items() if seen["name"].startswith("ride/")}


def test_no_page_has_more_to_touch_than_a_hurried_hand_can_tell_apart(panel_stage):
    crowded = {
        view: keys(seen) for view, seen in of_values(panel_stage).items() if len(keys(seen)) > BODY_MOST
    }
    assert crowded == {}


def test_an_empty_cell_made_at_night_is_as_dark_as_the_rest(stage):
    stage.ask("wear", "night")
    try:
        assert stage.ask("empty_cell") == [pytest.approx(11 / 255, abs=0.003)] * 3 + [1]
    finally:
        stage.ask("wear", "day")
    assert stage.ask("empty_cell") == [1, 1, 1, 1]


def test_one_key_stops_the_figures_and_the_same_key_lets_them_go(stage):
    live = stage.open("moving:Page+Page")
    stage.ask("tap", "Freeze")
    frozen = stage.ask("measure")
    assert [key["box"] for key in frozen["keys"]] == [key["box"] for key in live["keys"]]
    key = next(key for key in frozen["keys"] if key["text"] == "Go live")
    assert key["here"], "the key itself shows that it is on"
    assert any(words.startswith("FROZEN ") for words in frozen["words"])
    for tile in frozen["tiles"]:
        assert (tile["look"], tile["shape"], tile["hatched"]) == ("frozen", "bars", True)
    stage.ask("pass_time", 3.0)
    later = stage.ask("measure")
    assert figures(later) == figures(frozen)
    assert "FROZEN 3 s ago. These figures are not live." in later["words"]
    stage.ask("tap", "Go live")
    again = stage.ask("measure")
    assert {tile["look"] for tile in again["tiles"]} == {"good"}
    assert not any("FROZEN" in words for words in again["words"])


def test_a_frozen_picture_is_the_one_that_was_touched(stage):
    """On a page whose figure moves all the time, the figure stays; beside it the strip goes on."""
    stage.open("moving:More+Choose+Coolant+Engine+Engine speed,+Ride+Page")
    stage.ask("tap", "Freeze")
    before = stage.ask("measure")
    stage.ask("pass_time", 2.0)
    after = stage.ask("measure")
    assert figures(after) == figures(before)
    assert before["strip"]["boxes"] != after["strip"]["boxes"]


@pytest.mark.parametrize("way", ["Page", "Back", "More", "Check", "Ride"])
def test_leaving_the_page_ends_the_freeze(stage, way):
    stage.open("good:Page+Page+Freeze")
    stage.ask("tap", way)
    seen = stage.ask("measure")
    assert "frozen" not in {tile["look"] for tile in seen["tiles"]}
    stage.open("good:Page+Page")
    assert {tile["look"] for tile in stage.ask("measure")["tiles"]} == {"good"}


@pytest.mark.parametrize("scene", ["lost", "hung", "no_bus"])
def test_losing_the_craft_ends_the_freeze(stage, scene):
    stage.open("good:Page+Page+Freeze")
    stage.ask("scene", scene)
    stage.ask("pass_time", 1.0)
    seen = stage.ask("measure")
    assert {tile["look"] for tile in seen["tiles"]} == {"stale"}
    assert "Freeze" in keys(seen)


def test_an_alarm_is_told_over_frozen_figures(panel_stage):
    seen = panel_stage.open("good:Page+Freeze+alarm")
    assert any("ALARM NOW: Engine speed" in words for words in seen["words"])
    assert {tile["look"] for tile in seen["tiles"]} == {"frozen"}


def test_a_derived_value_is_marked_and_the_mark_is_explained(panel_stage):
    view = "good:Page+Page+Page+Page+Page"
    seen = panel_stage.open(view)
    assert tiles(seen)["=injector_duty"]["label"] == "= Injector duty"
    assert "= worked out, not sent" in seen["words"]
    assert "= worked out, not sent" not in panel_stage.open("good:Page")["words"]


def test_a_derived_value_says_what_it_lacks(panel_stage):
    bad = tiles(panel_stage.open("no_rail:Page+Page+Page+Page+Page"))
    assert bad["=injector_pressure"]["drawn"] == "not known"
    assert bad["=injector_pressure"]["note"] == "Fuel rail: sensor fault"
    assert bad["=injector_pressure"]["shape"] == "cross"
    assert bad["=injector_duty"]["look"] == "good"


def test_the_chart_draws_a_minute_and_stands_still_when_nothing_changes(stage):
    stage.open("rest:minute+More+Chart")
    assert stage.ask("pass_time", 3.0)["flips"] == 0
    stage.open("moving:minute+More+Chart")
    assert stage.ask("pass_time", 3.0)["flips"] > 5


def test_a_line_is_drawn_where_values_were_good_and_a_gap_where_they_were_not(stage):
    stage.open("moving:minute+More+Chart")
    assert stage.ask("inked") == [60, 60, 60, 60]
    stage.ask("scene", "qualities")
    stage.ask("pass_time", 15.5)
    speed, coolant, exhaust, craft = stage.ask("inked")
    assert speed == 60, "good all the time"
    for met in (coolant, exhaust, craft):
        assert 42 <= met <= 47, "a quarter of the minute has no good value"


def test_the_chart_scales_are_those_of_the_family(stage):
    seen = stage.open("good:More+Chart")
    ends = [label["text"] for label in seen["labels"] if label["owner"] == "StripChart"]
    assert ends == ["9000", "0", "120", "0", "120", "0", "120", "0"]
    assert list(tiles(seen)) == ["EngineSpeed", "CoolantTemperature", "ExhaustTemperature", "CraftSpeed"]


def test_nothing_on_the_chart_moves_when_the_craft_is_lost(panel_stage):
    live, lost = panel_stage.open("good:More+Chart"), panel_stage.open("lost:More+Chart")
    assert [key["box"] for key in live["keys"]] == [key["box"] for key in lost["keys"]]
    assert [tile["box"] for tile in live["tiles"]] == [tile["box"] for tile in lost["tiles"]]
    assert {tile["look"] for tile in lost["tiles"]} == {"stale"}
    assert "These are the last values. Key on? Plug in?" in lost["words"]


def test_in_the_first_frame_of_the_chart_every_line_stands_in_its_strip(panel_stage):
    panel_stage.open("moving:minute+More")
    seen = panel_stage.ask("measure")
    x, y, width, height = next(key["box"] for key in seen["keys"] if key["text"].startswith("Chart"))
    panel_stage.ask("down", x + width / 2, y + height / 2)
    panel_stage.ask("up", x + width / 2, y + height / 2)
    panel_stage.ask("frame")
    assert panel_stage.ask("measure")["name"] == "ride/chart"
    assert panel_stage.ask("astray") == 0


def test_a_line_is_chosen_by_touch(stage):
    seen = stage.open("good:More+Chart+Choose+Exhaust+Fuel and+Page+= Injector duty+Back")
    assert seen["name"] == "ride/chart"
    assert list(tiles(seen)) == ["EngineSpeed", "CoolantTemperature", "=injector_duty", "CraftSpeed"]


def test_least_and_most_follow_the_values_until_a_person_begins_anew(stage):
    stage.open("stopped:wait")
    stage.ask("scene", "good")
    stage.ask("pass_time", 1.0)
    for tap in ("More", "Least"):
        stage.ask("tap", tap)
    stage.ask("pass_time", 0.3)
    assert "Engine speed 0 3480 rev/min" in stage.ask("measure")["words"]
    stage.ask("tap", "Begin")
    sure = stage.ask("measure")
    assert "Sure? Touch again" in keys(sure)
    assert "Engine speed 0 3480 rev/min" in sure["words"], "one touch alone wipes nothing"
    stage.ask("pass_time", 5.0)
    assert "Begin anew" in keys(stage.ask("measure"))
    for _ in range(2):
        stage.ask("tap", "Begin" if _ == 0 else "Sure")
    stage.ask("pass_time", 0.3)
    assert "Engine speed 3480 3480 rev/min" in stage.ask("measure")["words"]


def test_the_six_are_chosen_by_touch_and_what_gave_way_is_on_its_page(stage):
    seen = stage.open("good:More+Choose+Coolant+Fuel and+Injector+Ride")
    assert list(tiles(seen))[:3] == ["EngineSpeed", "InjectorPulseWidth", "ExhaustTemperature"]
    seen = stage.open("good")
    assert list(tiles(seen))[1] == "CoolantTemperature", "the stage forgets it for the next view"


def test_without_the_engine_speed_among_the_six_the_strip_shows_it(stage):
    assert "engine_speed" not in stage.open("good")["strip"]["boxes"]
    seen = stage.open("good:More+Choose+Engine speed+Heat+Oil+Ride")
    assert next(iter(tiles(seen))) == "OilTemperature"
    assert seen["strip"]["boxes"]["engine_speed"] == "3480 rev/min"


def test_choosing_begins_from_its_first_step_whenever_it_is_opened(stage):
    stage.open("good:More+Choose+Coolant+Engine")
    assert stage.ask("measure")["name"] == "ride/choose_six_signal"
    for tap in ("Check", "Ride", "More", "Choose"):
        stage.ask("tap", tap)
    assert stage.ask("measure")["name"] == "ride/choose_six_place"


def test_back_leads_from_each_page_to_the_one_before(stage):
    stage.open("good:Page+Page+More+Chart+Choose+Coolant+Engine")
    names = []
    for _ in range(5):
        stage.ask("tap", "Back")
        names.append(stage.ask("measure")["name"])
    assert names == [
        "ride/choose_chart_group",
        "ride/choose_chart_place",
        "ride/chart",
        "ride/more",
        "ride/3",
    ]
