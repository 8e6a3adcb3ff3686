"""The quick check under a finger: two touches to a verdict, one to look again, and what is asked."""

from __future__ import annotations

import pytest
from keys_seen import keys, place, touch

pytestmark = pytest.mark.glass


@pytest.fixture
def asked(stage):
    """Names of what was asked since the test began, without what the bench asks."""
    before = len(stage.ask("asked"))
    return lambda: [each[0] for each in stage.ask("asked")[before:] if each[0] != "Consider"]


@pytest.fixture
def kept(stage):
    """Bodies of the checks that were put into the book since the test began."""
    before = len(stage.ask("book", "checks"))
    return lambda: stage.ask("book", "checks")[before:]


def test_two_touches_from_the_ride_give_a_verdict_and_ask_for_the_faults_alone(stage, asked):
    assert stage.open("quick_fit")["name"] == "ride/1"
    stage.ask("pass_time", 0.6)
    seen = touch(stage, "Check", "Quick")
    assert (seen["name"], seen["words"][0]) == ("check/quick", "Fit")
    assert keys(seen) == ["Check again", "Faults"]
    assert asked() == ["ReadFaults"]


@pytest.mark.parametrize(
    ("scene", "verdict"),
    [
        ("fit_running", "Fit"),
        ("battery_low", "Look"),
        ("stored", "Look"),
        ("silent_module", "Look"),
        ("old", "Look"),
        ("sensor", "Look"),
        ("lost", "Look"),
        ("hung", "Look"),
        ("lanyard", "Look"),
        ("too_hot", "Keep ashore"),
        ("oil_low", "Keep ashore"),
        ("failing", "Keep ashore"),
        ("limited", "Keep ashore"),
        ("all_bad", "Keep ashore"),
    ],
)
def test_the_verdict_of_every_scene(stage, scene, verdict):
    seen = "seen+" if scene in ("too_hot", "oil_low") else ""  # an alarm takes the glass before
    assert stage.open(f"quick_{scene}:{seen}Check+Quick")["words"][0] == verdict


def test_one_touch_looks_again(stage, asked):
    stage.open("quick_battery_low:Check+Quick")
    before = len(asked())
    stage.ask("scene", "quick_fit")
    stage.ask("pass_time", 0.4)
    seen = touch(stage, "Check again")
    assert seen["words"][0] == "Fit"
    assert asked()[before:] == ["ReadFaults"]


def test_while_the_faults_are_read_there_is_no_verdict_and_the_other_keys_stay(stage):
    done = stage.open("quick_fit:Check+Quick")
    seen = stage.open("quick_reading:Check+Quick")
    assert (seen["name"], seen["words"][0]) == ("check/quick_reading", "One moment")
    assert keys(seen) == ["Faults"]
    assert place(seen, "Faults") == place(done, "Faults")


def test_nothing_is_asked_of_a_craft_that_is_not_heard(stage, asked):
    for scene in ("quick_lost", "quick_hung", "silent", "starting"):
        stage.open(f"{scene}:Check+Quick")
        touch(stage, "Check again")
    assert asked() == []


def test_nothing_is_asked_without_a_touch(stage, asked):
    stage.open("quick_fit:Check+Quick")
    stage.ask("scene", "quick_lost")
    stage.ask("pass_time", 1.0)
    stage.ask("scene", "quick_fit")
    stage.ask("pass_time", 5.0, 0.1)
    assert asked() == ["ReadFaults"]


def test_a_value_that_grows_old_takes_fit_away_at_once(stage):
    assert stage.open("quick_fit:Check+Quick")["words"][0] == "Fit"
    stage.ask("scene", "quick_old")
    stage.ask("pass_time", 0.4)
    assert stage.ask("measure")["words"][0] == "Look"


def test_faults_that_were_read_before_the_check_do_not_count(stage):
    assert stage.open("quick_fit:Check+Quick")["words"][0] == "Fit"
    touch(stage, "Ride")
    stage.ask("scene", "quick_no_answer")
    stage.ask("pass_time", 0.4)
    seen = touch(stage, "Check", "Quick")
    assert seen["words"][0] == "One moment"
    stage.ask("pass_time", 4.0, 0.1)
    seen = stage.ask("measure")
    assert seen["words"][0] == "Look"
    assert seen["words"][2].startswith("Faults: not read")


def test_each_check_is_in_the_book_once_with_its_rows(stage, kept):
    stage.open("quick_battery_low:Check+Quick")
    stage.ask("pass_time", 2.0)
    ((craft, body),) = kept()
    assert (craft, body["verdict"], body["engine"]) == ("auk 20417", "look", "off")
    assert body["rows"][0]["seen"] == "Battery low: 11.9 V, engine off"
    touch(stage, "Check again")
    assert [body["verdict"] for _, body in kept()] == ["look", "look"]


def test_without_a_craft_nothing_is_put_into_the_book(stage, kept):
    stage.open("silent:Check+Quick")
    stage.ask("pass_time", 1.0)
    assert kept() == []


def test_faults_leads_back_to_the_list(stage):
    stage.open("quick_fit:Check+Quick")
    assert touch(stage, "Faults")["name"] == "check/faults"


def test_the_key_stays_in_its_place_whatever_the_list_shows(stage):
    places = {
        view: place(stage.open(view), "Quick check")
        for view in ("faults_unread:Check", "faults_nine:Check", "faults_nine:Check+More", "silent:Check")
    }
    assert len(set(places.values())) == 1, places


def test_all_rows_have_room_on_every_panel(panel_stage):
    for view, seen in panel_stage.all_views().items():
        if not seen["name"].startswith("check/quick"):
            continue
        drawn = " ".join(label["text"] for label in seen["labels"])
        for words in seen["words"][2:]:
            head = words.partition(". ")[0]
            assert all(word in drawn for word in head.split()), f"{view}: {head}"
