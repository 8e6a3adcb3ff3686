"""When a screen counts as wet: contacts and a clock that is moved by hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.errors import UsageError
from app.stop_key import DEFAULT, STOP_KEYS, numbers
from app.wet import Wet

STILL = 26
"""Pixels: 5 mm at 133 dots per inch."""
MS = 0.001


class Screen:
    def __init__(self):
        self.wet = Wet(STILL)
        self.now = 50.0

    def wait(self, milliseconds):
        self.now += milliseconds * MS
        return self.wet.look(self.now)

    def down(self, touch, x=0, y=0):
        self.wet.down(touch, x, y, self.now)
        return self.wet.wet

    def up(self, touch):
        self.wet.up(touch, self.now)
        return self.wet.wet

    def tap(self, touch=1):
        self.down(touch)
        self.wait(40)
        self.up(touch)


@pytest.fixture
def screen():
    return Screen()


def test_one_finger_that_works_does_not_make_it_wet(screen):
    for _ in range(50):
        screen.tap()
        assert not screen.wait(160), "five touches a second"


def test_more_than_one_touch_for_150_ms(screen):
    assert not screen.down(1)
    screen.wait(5000)
    assert not screen.down(2)
    assert not screen.wait(149)
    assert screen.wait(1.1)


def test_two_touches_that_part_in_time_do_not_and_the_next_two_are_counted_anew(screen):
    screen.down(1)
    for touch in range(2, 6):
        screen.down(touch)
        assert not screen.wait(140)
        screen.up(touch)
        assert not screen.wait(400)


def test_two_at_once_although_each_of_them_is_short(screen):
    screen.down(1)
    screen.down(2)
    screen.wait(80)
    screen.down(3)
    screen.up(1)
    assert not screen.wait(60)
    assert screen.wait(11), "never fewer than two for 151 ms"


def test_two_that_lasted_between_two_looks(screen):
    screen.down(1)
    screen.down(2)
    screen.now += 0.2
    assert screen.up(2)


def test_the_seventh_touch_within_a_second(screen):
    for _ in range(6):
        screen.tap()
        assert not screen.wait(120)
    assert screen.down(1)


def test_seven_touches_in_more_than_a_second_are_not_too_many(screen):
    for _ in range(20):
        screen.tap()
        assert not screen.wait(127), "seven in 1.002 s"


def test_touches_that_waited_in_a_queue_do_not_tell_how_often_it_was_touched(screen):
    for touch in range(20):
        screen.wet.down(touch, 0, 0, screen.now, counts=False)
        screen.up(touch)
    assert not screen.wait(1)


def test_a_touch_that_lies_still_for_more_than_8_s(screen):
    screen.down(1)
    assert not screen.wait(8000)
    assert screen.wait(1)


def test_a_touch_that_trembles_lies_still_and_one_that_wanders_does_not(screen):
    screen.down(1)
    screen.down(2, 300, 300)
    screen.up(2)
    for step in range(1, 80):
        assert not screen.wait(100)
        screen.wet.move(1, (step % 2) * (STILL - 1), 0, screen.now)
    assert screen.wait(200)
    screen = Screen()
    screen.down(1)
    for step in range(79):
        assert not screen.wait(100)
        screen.wet.move(1, 300 + step % 2, 0, screen.now)
    assert screen.wait(400), "it went elsewhere once, and lies there"
    wanders = Screen()
    wanders.down(1)
    for step in range(1, 200):
        assert not wanders.wait(100)
        wanders.wet.move(1, step, 0, wanders.now)


def test_a_finger_on_a_key_that_is_held_may_lie_there_and_has_8_s_to_lift_afterwards(screen):
    screen.down(1)
    for _ in range(200):
        screen.now += 0.1
        assert not screen.wet.look(screen.now, 1)
    assert not screen.wait(8000)
    assert screen.wait(1)


def test_it_stays_wet_until_half_a_second_after_the_last_contact(screen):
    screen.down(1)
    screen.down(2)
    screen.wait(200)
    screen.up(1)
    assert screen.wait(3000), "one is still there"
    screen.up(2)
    assert screen.wait(499)
    screen.down(3)
    screen.up(3)
    assert screen.wait(499)
    assert not screen.wait(1.1)
    assert not screen.down(4)


def test_the_touches_that_made_it_wet_do_not_make_it_wet_again(screen):
    for _ in range(7):
        screen.tap()
        screen.wait(20)
    assert screen.wet.wet
    assert not screen.wait(500)
    assert not screen.down(1)


STEP_MS = 7
"""No limit is a multiple of it, so that no rounding decides."""
STEPS = st.lists(
    st.tuples(st.integers(0, 130), st.sampled_from(["down", "up", "look"]), st.integers(1, 4)), max_size=40
)


@given(STEPS)
def test_whatever_comes_it_is_wet_exactly_when_the_rules_say_so(steps):
    """Held against the rules written down once more, over the whole past, in whole milliseconds."""
    screen = Wet(STILL)
    at, wet = 0, False
    there, downs = {}, []
    two_since = last = None
    for after, what, touch in steps:
        at += after * STEP_MS
        # what was true up to this moment, before anything changes
        wet = wet or (two_since is not None and at - two_since >= 150)
        wet = wet or any(at - since > 8000 for since in there.values())
        if wet and not there and at - last >= 500:
            wet = False
        if what == "down" and touch not in there:
            there[touch] = at
            downs.append(at)
            if len(downs) >= 7 and at - downs[-7] <= 1000:
                wet, downs = True, []
        elif what == "up" and touch in there:
            del there[touch]
            last = at
        two_since = None if len(there) < 2 else at if two_since is None else two_since
        if what == "look":
            screen.look(at / 1000)
        elif what == "up":
            screen.up(touch, at / 1000)
        elif touch in there and there[touch] == at:
            screen.down(touch, 0, 0, at / 1000)
        assert screen.look(at / 1000) == wet, (at, what, touch)


def test_stop_keys_are_named_and_a_name_that_is_none_is_told():
    assert numbers(["space"]) == {32}
    assert numbers(["Escape", "F5"]) == {27, 286}
    assert numbers(DEFAULT) >= {32, 13, 27, 282}
    assert set(DEFAULT) <= set(STOP_KEYS)
    with pytest.raises(UsageError, match="No stop key is called brake"):
        numbers(["space", "brake"])
