"""The line on top of every screen."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec import structs

from app.messages import Craft, LinkState, Mode
from app.reading import Quality
from app.strip import Box, clock_words, craft_words, fit, strip

BOXES = st.lists(
    st.builds(Box, kind=st.text(max_size=3), text=st.text(max_size=9), rank=st.integers(0, 5)),
    max_size=5,
    unique_by=lambda box: box.kind,
)


def boxes(moment, *, with_speed=True):
    return {box.kind: box.text for box in strip(moment, with_speed=with_speed).boxes}


@pytest.mark.parametrize(
    ("craft", "words"),
    [
        (None, "No craft"),
        (Craft("auk", "Auk three-cylinder", "20417"), "Auk 20417"),
        (Craft("auk", "Auk three-cylinder"), "Auk"),
        (Craft("nmea2000", "Engine on NMEA 2000"), "Engine on NMEA 2000"),
        (Craft("auk", " "), "auk"),
    ],
)
def test_a_craft_is_named_by_its_family_and_serial(craft, words):
    assert craft_words(craft) == words


def test_what_is_known_stands_in_its_order(make):
    said = strip(make.moment(recording=make.recording(), mode=Mode.SIMULATED), with_speed=True)
    assert [box.text for box in said.boxes] == [
        "3480 rev/min",
        "14.1 V",
        "Key 100 %",
        "Recording 06:42",
        "SIMULATED",
    ]
    assert (said.craft, said.engine) == ("Auk 20417", "Engine running")


def test_the_speed_is_left_out_where_the_page_shows_it(make):
    assert "engine_speed" not in boxes(make.moment(), with_speed=False)


@pytest.mark.parametrize("quality", [quality for quality in Quality if quality is not Quality.GOOD])
def test_a_value_that_is_not_good_has_no_box(make, quality):
    shown = boxes(make.moment(qualities=dict.fromkeys(("Speed", "Volts", "Key"), quality)))
    assert not {"engine_speed", "battery", "key_level"} & set(shown)


@pytest.mark.parametrize(("mode", "text"), [(Mode.SIMULATED, "SIMULATED"), (Mode.REPLAY, "REPLAY")])
@pytest.mark.parametrize("state", LinkState)
@pytest.mark.parametrize("connected", [True, False])
def test_what_is_not_a_real_craft_says_so_in_every_state(make, mode, text, state, connected):
    said = strip(make.moment(mode=mode, state=state, connected=connected), with_speed=True)
    assert said.boxes[-1].text == text
    assert said.boxes[-1].rank == 0


def test_a_real_craft_carries_no_such_word(make):
    assert "mode" not in boxes(make.moment())


def test_frames_that_are_not_kept_are_a_watch_box(make):
    lost = strip(make.moment(recording=make.recording(trouble="The disk is full.")), with_speed=False)
    assert [(box.text, box.watch) for box in lost.boxes if box.kind == "recording"] == [
        ("Not recording", True)
    ]
    assert boxes(make.moment(recording=None))["recording"] == "Not recording"
    assert "recording" not in boxes(make.moment(recording=None, mode=Mode.REPLAY))
    assert "recording" not in boxes(make.moment(recording=None, state=LinkState.SILENT))


@pytest.mark.parametrize(
    ("operator", "text"),
    [("Mara", "Mara, technician"), ("Ines", "Ines, dock"), ("", None), ("Somebody", None)],
)
def test_who_is_signed_in_stands_beside_the_recording(make, operator, text):
    view = make.view(recording=make.recording(), mode=Mode.SIMULATED)
    said = strip(
        make.moment(structs.replace(view, snapshot=structs.replace(view.snapshot, operator=operator))),
        with_speed=True,
    )
    assert [box.text for box in said.boxes[3:]] == [
        text_ for text_ in ("Recording 06:42", text, "SIMULATED") if text_
    ]
    assert [box.rank for box in said.boxes if box.kind == "operator"] == ([4] if text else [])


@pytest.mark.parametrize("how", [{"connected": False}, {"age": 1.0}])
def test_who_is_signed_in_is_not_known_of_a_bus_side_that_is_not_heard(make, how):
    assert "operator" in boxes(make.after_reading(operator="Mara"))
    assert "operator" not in boxes(make.after_reading(operator="Mara", **how))


def test_nobody_says_it_records_when_that_is_not_known(make):
    assert "recording" not in boxes(make.moment(recording=make.recording(), connected=False))
    assert "recording" not in boxes(make.moment(recording=make.recording(), age=1.0))


@pytest.mark.parametrize(
    ("seconds", "words"), [(0, "00:00"), (402.9, "06:42"), (3599, "59:59"), (4000, "1:06:40")]
)
def test_a_recording_counts_minutes_then_hours(seconds, words):
    assert clock_words(seconds) == words


def test_the_least_important_box_goes_first(make):
    said = strip(make.moment(recording=make.recording(), mode=Mode.SIMULATED), with_speed=True)
    gone = []
    before = said.boxes
    for room in range(60, -1, -1):
        now = fit(said.boxes, lambda box: len(box.text), room)
        gone += [box.kind for box in before if box not in now]
        before = now
    assert gone == ["key_level", "recording", "battery", "engine_speed"]
    assert [box.kind for box in before] == ["mode"]


@given(BOXES, st.integers(0, 60))
def test_what_stays_has_room_and_is_never_less_important_than_what_went(line, room):
    kept = fit(line, lambda box: len(box.text), room)
    width = sum(len(box.text) for box in kept)
    assert width <= room or all(box.rank == 0 for box in kept)
    left_out = [box for box in line if box not in kept]
    if kept and left_out:
        assert max(box.rank for box in kept) <= min(box.rank for box in left_out)
    assert [box for box in line if box in kept] == list(kept)
    assert all(box in kept for box in line if box.rank == 0)
