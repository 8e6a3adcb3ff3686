"""Events on an axis of time: in order, inside, words never one on another."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.time_line import MARKS, Event, marks, place, step_of


@pytest.mark.parametrize(
    ("seconds", "step"), [(5, 1), (60, 10), (61, 15), (400, 120), (3600, 600), (90_000, 21_600)]
)
def test_the_axis_has_few_round_marks(seconds, step):
    assert step_of(seconds) == step
    assert len(marks(0.0, seconds)) <= MARKS + 1


def test_beyond_days_whole_days_are_taken():
    assert step_of(30 * 86_400.0) == 5 * 86_400.0
    assert marks(10.0, 10.0) == [10.0]


def test_what_is_outside_is_left_out_and_a_span_is_cut_at_the_ends():
    events = [Event(-5, "square"), Event(-5, "", until=50), Event(90, "", until=300), Event(101, "tick")]
    placed = place(events, 0.0, 100.0, len, rows=1)
    assert [(one.left, one.right) for one in placed] == [(0.0, 0.5), (0.9, 1.0)]


def test_an_alarm_gets_its_words_before_others():
    events = [Event(10, "tick", "first"), Event(11, "square", "alarm")]
    placed = place(events, 0.0, 100.0, lambda text: 0.3, rows=1)
    assert [(one.event.label, one.row) for one in placed] == [("first", None), ("alarm", 0)]


times = st.floats(0, 1000)


@given(
    st.lists(
        st.builds(Event, times, st.sampled_from(["", "square", "tick"]), st.sampled_from(["", "a", "b"])),
        max_size=20,
    )
)
def test_words_of_a_row_never_overlap(events):
    wide = 0.13
    placed = place(events, 0.0, 1000.0, lambda text: wide, rows=2)
    assert len(placed) == len(events)
    for row in range(2):
        spans = sorted(min(one.left, 1 - wide) for one in placed if one.row == row)
        assert all(later - earlier >= wide - 1e-9 for earlier, later in itertools.pairwise(spans))
    assert all(0.0 <= one.left <= one.right <= 1.0 for one in placed)


def test_an_alarm_keeps_its_sign_where_two_would_lie_on_each_other():
    events = [Event(10, "triangle"), Event(11, "square"), Event(0, "", until=100), Event(50, "tick")]
    placed = place(events, 0.0, 100.0, len, rows=1, side=0.05)
    assert [one.sign for one in placed] == [False, True, True, True]


@given(
    st.lists(st.builds(Event, times, st.sampled_from(["", "square", "tick"]), until=st.none()), max_size=20)
)
def test_signs_never_overlap_and_no_event_is_lost(events):
    placed = place(events, 0.0, 1000.0, len, rows=1, side=0.04)
    shown = sorted(one.left for one in placed if one.sign)
    assert all(later - earlier >= 0.04 for earlier, later in itertools.pairwise(shown))
    assert len(placed) == len(events)
    assert bool(shown) == bool(events)
