"""Limits: when a value is called watch or alarm. Our own rule, with nothing outside to compare with."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.judge import DEADBAND, judge
from app.messages import Limit

NUMBERS = st.floats(-1e6, 1e6)
LIMITS = st.lists(
    st.builds(
        Limit,
        severity=st.sampled_from(["watch", "alarm"]),
        side=st.sampled_from(["above", "below"]),
        value=NUMBERS,
        engine_above=st.none() | st.floats(0, 9000),
        source=st.just("invented"),
        generic=st.booleans(),
    ),
    max_size=6,
)


@pytest.mark.parametrize(
    ("value", "severity"), [(79.9, None), (80.0, None), (80.1, "watch"), (93.0, "watch"), (93.1, "alarm")]
)
def test_the_worst_passed_limit_is_named(make, value, severity):
    limits = [make.limit("alarm", "above", 93.0), make.limit("watch", "above", 80.0)]
    passed = judge(value, limits, None)
    assert (passed.severity if passed else None) == severity


def test_a_low_value_passes_a_limit_below(make):
    limits = [make.limit("watch", "below", 12.2), make.limit("alarm", "below", 11.5)]
    assert judge(12.3, limits, None) is None
    assert judge(12.1, limits, None).severity == "watch"
    assert judge(11.4, limits, None).severity == "alarm"


@pytest.mark.parametrize("engine_speed", [None, 0.0, 999.0, 1000.0])
def test_a_limit_for_a_running_engine_is_not_judged_below_its_speed_nor_while_speed_is_unknown(
    make, engine_speed
):
    oil = [make.limit("alarm", "below", 70.0, 1000.0)]
    assert judge(0.0, oil, engine_speed) is None
    assert judge(0.0, oil, 1000.1) == oil[0]


def test_a_value_that_trembles_at_its_limit_keeps_one_state(make):
    limits = [make.limit("watch", "above", 80.0)]
    held = judge(80.1, limits, None)
    for value in (79.9, 80.1, 79.5, 80.4):
        held = judge(value, limits, None, held=held, deadband=DEADBAND * 120)
        assert held is limits[0]
    assert judge(78.7, limits, None, held=held, deadband=DEADBAND * 120) is None


def test_a_held_limit_is_dropped_at_once_when_it_may_not_be_judged_any_more(make):
    oil = make.limit("alarm", "below", 70.0, 1000.0)
    assert judge(71.0, [oil], 3000.0, held=oil, deadband=7.0) is oil
    assert judge(71.0, [oil], None, held=oil, deadband=7.0) is None


@given(value=NUMBERS, limits=LIMITS, speed=st.none() | st.floats(0, 12_000))
def test_what_is_named_was_passed_and_nothing_worse_was(value, limits, speed):
    def passed(limit):
        if limit.engine_above is not None and (speed is None or speed <= limit.engine_above):
            return False
        return value > limit.value if limit.side == "above" else value < limit.value

    named = judge(value, limits, speed)
    severities = {limit.severity for limit in limits if passed(limit)}
    worst = "alarm" if "alarm" in severities else "watch" if severities else None
    assert (named.severity if named else None) == worst
    assert named is None or passed(named)


@given(value=NUMBERS, limits=LIMITS, speed=st.none() | st.floats(0, 12_000), deadband=st.floats(0, 100))
def test_holding_never_calms_a_value_that_is_over_its_limit(value, limits, speed, deadband):
    fresh = judge(value, limits, speed)
    for held in limits:
        kept = judge(value, limits, speed, held=held, deadband=deadband)
        if fresh is not None:
            assert kept is not None
            assert (fresh.severity, kept.severity) != ("alarm", "watch")


def test_a_value_that_is_no_number_passes_nothing(make):
    assert judge(math.nan, [make.limit(), make.limit(side="below")], None) is None
