"""Steps: one is now, those before are done, none is lost."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.steps import Step, step_lines

STEPS = [Step("Hose on."), Step("Start.", "Outdoors."), Step("Tap on.")]


def test_what_is_before_is_done_and_what_is_behind_comes():
    assert [line.shape for line in step_lines(STEPS, 1)] == ["tick", "now", ""]
    assert [line.strong for line in step_lines(STEPS, 1)] == ["1. Hose on.", "2. Start.", "3. Tap on."]
    assert [line.plain for line in step_lines(STEPS, 1)] == ["", "Outdoors.", ""]


def test_in_the_end_all_are_done_and_none_is_now():
    assert [line.shape for line in step_lines(STEPS, 3)] == ["tick"] * 3


@pytest.mark.parametrize("now", [-1, 4])
def test_a_step_that_is_not_there_is_refused(now):
    with pytest.raises(ValueError, match="none is number"):
        step_lines(STEPS, now)


@given(st.integers(1, 30), st.data())
def test_exactly_one_is_now_until_all_are_done(count, data):
    now = data.draw(st.integers(0, count))
    shapes = [line.shape for line in step_lines([Step("Do.")] * count, now)]
    assert shapes == ["tick"] * now + ["now"] * (now < count) + [""] * (count - now - 1)
