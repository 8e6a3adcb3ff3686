"""What counts as live on the glass, whatever the bus process says."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.messages import LinkState
from app.reading import Quality

SIGNALS = ("Speed", "State", "Volts", "Key")


def qualities(moment):
    return {moment.quality(signal) for signal in SIGNALS}


def test_fresh_values_of_a_craft_that_is_heard_are_good(make):
    moment = make.moment()
    assert moment.live
    assert qualities(moment) == {Quality.GOOD}
    assert moment.number("engine_speed") == 3480.0
    assert moment.text("engine_state") == "Running"


@pytest.mark.parametrize(
    "said",
    [
        {"connected": False},
        {"age": 0.51},
        {"age": -0.6},
        {"state": LinkState.LOST},
        {"value_age": 0.51},
    ],
    ids=["bus process gone", "snapshot old", "snapshot from the future", "craft lost", "values old"],
)
def test_every_value_is_old_whatever_it_says_of_itself(make, said):
    moment = make.moment(**said)
    assert qualities(moment) == {Quality.STALE}
    assert moment.number("engine_speed") is None
    assert moment.text("engine_state") is None


@given(
    age=st.floats(0, 100),
    value_age=st.floats(0, 100),
    connected=st.booleans(),
    state=st.sampled_from(LinkState),
    quality=st.sampled_from(Quality),
)
def test_no_value_is_good_unless_everything_about_it_is(*, make, age, value_age, connected, state, quality):
    moment = make.moment(
        age=age,
        value_age=value_age,
        connected=connected,
        state=state,
        qualities=dict.fromkeys(SIGNALS, quality),
    )
    for signal in SIGNALS:
        if moment.quality(signal) is Quality.GOOD:
            assert connected
            assert state is LinkState.FOUND
            assert quality is Quality.GOOD
            assert age <= 0.5
            assert age + value_age <= 0.5


@pytest.mark.parametrize("number", [math.nan, math.inf])
def test_a_number_that_is_none_is_out_of_range(make, number):
    moment = make.moment(speed=number)
    assert moment.quality("Speed") is Quality.OUT_OF_RANGE
    assert moment.number("engine_speed") is None


def test_a_catalogue_of_another_craft_names_nothing(make):
    view = make.view(number=2, catalogue=make.catalogue(number=1))
    moment = make.moment(view)
    assert moment.catalogue is None
    assert moment.quality("Speed") is None
    assert moment.role("engine_speed") is None


def test_before_anything_came_nothing_is_known(make):
    moment = make.moment(make.nothing())
    assert not moment.live
    assert moment.link is None
    assert moment.info("Speed") is None


@pytest.mark.parametrize(
    ("first", "second", "turning"),
    [(1300.0, 0.0, 1300.0), (0.0, 1300.0, 0.0), (None, 1300.0, 1300.0), (None, None, None)],
)
def test_where_one_source_of_the_engine_speed_is_lost_the_other_counts(make, first, second, turning):
    catalogue = make.catalogue()
    catalogue.roles["engine_speed_second"] = "Volts"
    assert make.moment(catalogue=catalogue, speed=first, volts=second).turning == turning
