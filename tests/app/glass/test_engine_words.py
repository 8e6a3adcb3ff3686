"""What the strip says about the engine. The rule behind it: unknown is never told as stopped."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.engine_words import engine_words
from app.messages import LinkState
from app.reading import Quality

BAD = [quality for quality in Quality if quality is not Quality.GOOD]


@pytest.mark.parametrize(
    ("said", "speed", "words"),
    [
        ("Running", 3480.0, "Engine running"),
        ("Stopped", 0.0, "Engine stopped, key on"),
        ("Cranking", 210.0, "Engine cranking"),
        ("Stopping", 400.0, "Engine stopping"),
        ("Stopped", 840.0, "Engine turning"),
        ("Running", 0.0, "Engine state unclear"),
        ("Limp home", 2000.0, "Engine: limp home"),
        (None, 0.0, "Engine stopped, key on"),
        (None, 210.0, "Engine turning"),
        (None, 1200.0, "Engine running"),
        (None, None, "Engine speed unknown"),
        ("Stopped", None, "Engine speed unknown"),
        ("Running", None, "Engine running, speed unknown"),
    ],
)
def test_state_and_speed_are_told_together(make, said, speed, words):
    assert engine_words(make.moment(said=said, speed=speed)) == words


@pytest.mark.parametrize(
    ("state", "words"),
    [
        (LinkState.NO_ADAPTER, "No adapter"),
        (LinkState.NEED_RATE, "Bit rate needed"),
        (LinkState.SILENT, "Bus silent"),
        (LinkState.LISTENING, "Listening"),
        (LinkState.UNKNOWN_CRAFT, "Unknown craft"),
    ],
)
def test_without_a_craft_the_link_is_told(make, state, words):
    assert engine_words(make.moment(state=state)) == words


def test_a_lost_craft_is_told_with_its_age(make):
    assert engine_words(make.moment(state=LinkState.LOST, heard_at=make.now - 12.4)) == "Craft lost 12 s ago"
    assert engine_words(make.moment(state=LinkState.LOST)) == "Craft lost 30 s ago"


def test_a_bus_process_that_stopped_is_told_with_the_age_of_its_data(make):
    assert engine_words(make.moment(connected=False, age=4.0)) == "No live data 4 s"
    assert engine_words(make.moment(age=2.0)) == "No live data 2 s"
    assert engine_words(make.moment(make.nothing())) == "Starting"


@given(
    said=st.none() | st.sampled_from(["Running", "Stopped", "Cranking", "Stopping", "Odd"]),
    speed=st.none() | st.just(0.0) | st.floats(0.25, 12_000),
    speed_quality=st.sampled_from(Quality),
    state_quality=st.sampled_from(Quality),
    state=st.sampled_from(LinkState),
    connected=st.booleans(),
    age=st.floats(0, 3),
)
def test_an_engine_is_never_called_stopped_unless_its_speed_is_known_to_be_zero_now(
    *, make, said, speed, speed_quality, state_quality, state, connected, age
):
    moment = make.moment(
        said=said,
        speed=speed,
        qualities={"Speed": speed_quality, "State": state_quality},
        state=state,
        connected=connected,
        age=age,
    )
    if "stopped" in engine_words(moment).lower():
        assert speed == 0.0
        assert speed_quality is Quality.GOOD
        assert state is LinkState.FOUND
        assert connected
        assert age <= 0.5


@pytest.mark.parametrize("quality", BAD)
def test_a_speed_that_is_not_good_is_unknown(make, quality):
    assert "unknown" in engine_words(make.moment(qualities={"Speed": quality}))
