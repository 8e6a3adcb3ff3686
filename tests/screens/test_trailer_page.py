"""Running on the trailer under a real finger: the count comes by itself and goes when the engine stands."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.glass

NO_WATER = "stopped:More+On the+No"


def texts(seen):
    return [key["text"] for key in seen["keys"]]


def test_the_count_takes_the_glass_when_the_engine_runs_and_leaves_it_when_it_stands(panel_stage):
    panel_stage.open(NO_WATER)
    before = len(panel_stage.ask("book", "notes"))
    panel_stage.ask("scene", "idle")
    panel_stage.ask("pass_time", 3.0)
    seen = panel_stage.ask("measure")
    assert (seen["name"], seen["keys"]) == ("ride/dry", [])
    figures = [label["text"] for label in seen["labels"] if label["owner"] == "BigTile"]
    assert {"12", "13"} & set(figures)
    panel_stage.ask("scene", "stopped")
    panel_stage.ask("pass_time", 0.6)
    assert panel_stage.ask("measure")["name"] == "ride/trailer"
    ((kind, craft, body),) = panel_stage.ask("book", "notes")[before:]
    assert (kind, craft) == ("note", "auk 20417")
    assert body["text"].startswith("On the trailer without water: ran 3 s")


def test_too_long_takes_the_glass_whatever_is_open(stage):
    stage.open(NO_WATER)
    stage.ask("scene", "idle")
    stage.ask("pass_time", 2.0)
    stage.open("good")
    stage.open(NO_WATER)
    stage.ask("tap", "Check")
    stage.ask("scene", "idle")
    stage.ask("pass_time", 12.0)
    assert stage.ask("measure")["name"] == "check/faults"
    stage.ask("pass_time", 4.0)
    seen = stage.ask("measure")
    assert (seen["name"], seen["words"][0]) == ("ride/dry", "Stop the engine")


def test_a_mounted_glass_does_not_lock_itself_over_the_count(stage):
    stage.open("stopped:More+Settings+Used+Back+On the+No")
    stage.ask("scene", "good")  # far above idle
    stage.ask("pass_time", 4.0)
    assert stage.ask("measure")["name"] == "ride/dry"
    stage.ask("pass_time", 14.0)
    seen = stage.ask("measure")
    assert (seen["name"], seen["words"][0]) == ("ride/dry", "Stop the engine")


def test_only_where_the_speed_is_not_known_a_person_may_say_that_it_stands(stage):
    stage.open(NO_WATER)
    stage.ask("scene", "idle")
    stage.ask("pass_time", 3.0)
    stage.ask("scene", "lost")
    stage.ask("pass_time", 1.5)
    seen = stage.ask("measure")
    assert (seen["name"], seen["words"][0], texts(seen)) == (
        "ride/dry",
        "Stop the engine",
        ["It stands still"],
    )
    stage.ask("tap", "It stands")
    stage.ask("pass_time", 0.5)
    assert stage.ask("measure")["name"] == "ride/trailer"
