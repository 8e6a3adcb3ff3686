"""When a touch counts: keys without a window."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from screens.hand import Hand
from screens.touch import Finger

LEFT, RIGHT, STOP, NOWHERE = (5, 5), (25, 5), (45, 5), (15, 5)
FRAME_S = 0.025


class FakeKey:
    def __init__(self, text, left, *, holds=False, stops=False):
        self.text, self.left, self.down, self.acted = text, left, False, 0
        self.holds, self.stops = holds, stops
        self.heard = []

    def collide_point(self, x, y):
        return self.left <= x <= self.left + 10 and 0 <= y <= 10

    def begin(self):
        self.heard.append("begin")

    def end(self, cause):
        self.heard.append(cause)

    def act(self):
        self.acted += 1


class Fingers:
    def __init__(self):
        self.left, self.right = FakeKey("left", 0), FakeKey("right", 20, holds=True)
        self.stop = FakeKey("stop", 40, stops=True)
        self.told = []
        self.finger = Finger(
            lambda: (self.left, self.right, self.stop),
            lambda x, y, key: self.told.append((x, y, key.text if key else None)),
        )

    def acted(self):
        return self.left.acted, self.right.acted


@pytest.fixture
def hand():
    return Fingers()


def test_a_key_acts_when_the_finger_lifts_and_not_before(hand):
    hand.finger.begin(1, *LEFT)
    assert hand.left.down
    assert hand.acted() == (0, 0)
    hand.finger.end(1, *LEFT)
    assert not hand.left.down
    assert hand.acted() == (1, 0)
    assert hand.told == [(5, 5, "left")]


def test_a_finger_that_drifts_off_does_nothing_even_if_it_comes_back(hand):
    hand.finger.begin(1, *LEFT)
    hand.finger.move(1, *NOWHERE)
    assert not hand.left.down
    hand.finger.move(1, *LEFT)
    hand.finger.end(1, *LEFT)
    assert hand.acted() == (0, 0)
    assert hand.told == [(5, 5, None)]


def test_a_finger_that_slides_onto_another_key_does_nothing(hand):
    hand.finger.begin(1, *LEFT)
    hand.finger.end(1, *RIGHT)
    assert hand.acted() == (0, 0)


def test_a_second_finger_makes_both_do_nothing_until_all_have_lifted(hand):
    hand.finger.begin(1, *LEFT)
    hand.finger.begin(2, *RIGHT)
    hand.finger.end(1, *LEFT)
    hand.finger.begin(3, *RIGHT)
    hand.finger.end(2, *RIGHT)
    hand.finger.end(3, *RIGHT)
    assert hand.acted() == (0, 0)
    hand.finger.begin(4, *RIGHT)
    hand.finger.end(4, *RIGHT)
    assert hand.acted() == (0, 1)


def test_a_touch_that_began_before_the_page_changed_does_nothing(hand):
    hand.finger.begin(1, *LEFT)
    hand.finger.forget()
    assert not hand.left.down
    hand.finger.end(1, *LEFT)
    assert hand.acted() == (0, 0)
    hand.finger.begin(2, *LEFT)
    hand.finger.end(2, *LEFT)
    assert hand.acted() == (1, 0)


def test_a_lift_that_never_came_down_here_does_nothing(hand):
    hand.finger.end(9, *LEFT)
    assert hand.acted() == (0, 0)
    assert hand.told == []


def test_a_held_key_hears_once_why_it_ended(hand):
    hand.finger.begin(1, *RIGHT)
    hand.finger.begin(2, *LEFT)
    hand.finger.end(1, *RIGHT)
    hand.finger.end(2, *LEFT)
    assert hand.right.heard == ["begin", "A second touch came."]


@pytest.mark.parametrize("before", ["nothing", "a second finger", "a page that changed", "another button"])
def test_a_key_that_stops_is_heard_whatever_else_is_the_matter(hand, before):
    if before == "a second finger":
        hand.finger.begin(1, *RIGHT)
    elif before == "a page that changed":
        hand.finger.begin(1, *RIGHT)
        hand.finger.forget()
    hand.finger.begin(2, *STOP, acts=before != "another button")
    assert hand.stop.heard == ["begin"]
    hand.finger.end(1, *RIGHT)
    assert hand.stop.down
    hand.finger.end(2, *STOP)
    assert hand.acted() == (0, 0)


def test_a_lost_touch_ends_what_it_held_and_the_next_finger_works(hand):
    hand.finger.begin(1, *RIGHT)
    hand.finger.lose(1)
    hand.finger.lose(1)
    assert hand.right.heard == ["begin", "The touch was lost."]
    hand.finger.end(1, *RIGHT)
    assert hand.acted() == (0, 0)
    hand.finger.begin(2, *LEFT)
    hand.finger.end(2, *LEFT)
    assert hand.acted() == (1, 0)


PLACES = st.sampled_from([LEFT, RIGHT, STOP, NOWHERE])
EVENTS = st.lists(
    st.tuples(st.sampled_from(["begin", "move", "end", "forget", "lose"]), st.integers(1, 3), PLACES),
    max_size=30,
)


@given(EVENTS)
def test_a_key_acts_only_for_one_finger_that_stayed_on_it_alone(events):
    hand = Fingers()
    keys = {LEFT: hand.left, RIGHT: hand.right}
    touching, alone = set(), None  # the one finger that may still act, and its place
    stops = 0
    for what, finger, place in events:
        before = sum(hand.acted())
        allowed = False
        if what == "begin" and finger not in touching:
            touching.add(finger)
            alone = (finger, place) if len(touching) == 1 and place in keys else None
            stops += place == STOP
        elif what == "move" and alone and alone[0] == finger and place != alone[1]:
            alone = None
        elif what == "end":
            allowed = alone == (finger, place)
        elif what == "forget":
            alone = None
        if what in ("end", "lose"):
            touching.discard(finger)
            alone = None if alone and alone[0] == finger else alone
        if what == "forget":
            hand.finger.forget()
        elif what == "lose":
            hand.finger.lose(finger)
        else:
            getattr(hand.finger, what)(finger, *place)
        assert sum(hand.acted()) - before == allowed
        assert {place for place, key in keys.items() if key.down} == ({alone[1]} if alone else set())
        assert hand.finger.held == (alone[0] if alone and alone[1] == RIGHT else None)
        assert hand.stop.heard.count("begin") == stops
        assert hand.right.heard.count("begin") - hand.right.down == len(hand.right.heard) // 2


class Glass(Fingers):
    """With a clock, frames, and what the hand may end."""

    def __init__(self):
        super().__init__()
        self.now = 100.0
        self.disarmed = []
        self.listed = None
        self.hand = Hand(self.finger, self.disarmed.append, lambda: self.now, still=26)
        self.frames(0.5)

    def frames(self, seconds):
        for _ in range(round(seconds / FRAME_S)):
            self.now += FRAME_S
            self.hand.look(self.listed)

    def tap(self, place=LEFT, touch=1, **how):
        self.hand.down(touch, *place, **how)
        self.frames(0.075)
        self.hand.up(touch, *place)
        self.frames(0.15)


@pytest.fixture
def glass():
    return Glass()


def drop(glass):
    """Two drops make it wet; they stay."""
    glass.hand.down(8, 200, 200)
    glass.hand.down(9, 300, 200)
    glass.frames(0.2)
    assert glass.hand.wet


def test_while_the_screen_is_wet_only_the_key_that_stops_works(glass):
    drop(glass)
    assert not glass.hand.ready
    glass.tap(LEFT)
    glass.tap(STOP)
    glass.hand.up(8, 200, 200)
    glass.hand.up(9, 300, 200)
    glass.tap(LEFT)
    assert glass.acted() == (0, 0)
    assert glass.stop.heard[:1] == ["begin"]
    glass.frames(0.5)
    assert glass.hand.ready
    glass.tap(LEFT)
    assert glass.acted() == (1, 0)


def test_what_is_held_or_armed_ends_when_the_screen_gets_wet(glass):
    for touch in range(6):
        glass.hand.down(20 + touch, 200, 200 + 40 * touch)
        glass.hand.up(20 + touch, 200, 200 + 40 * touch)
        glass.frames(0.05)
    glass.hand.down(1, *RIGHT)
    assert glass.hand.wet
    assert glass.right.heard == [], "the seventh touch in a second holds nothing"
    assert glass.disarmed == ["The screen is wet."]


def test_a_finger_on_a_hold_target_does_not_make_it_wet_and_one_elsewhere_does(glass):
    glass.hand.down(1, *RIGHT)
    glass.frames(20)
    assert glass.right.heard == ["begin"]
    glass.hand.up(1, *RIGHT)
    assert glass.right.heard == ["begin", "The finger was lifted."]
    glass.hand.down(2, *LEFT)
    glass.frames(8.2)
    assert glass.hand.wet
    assert glass.left.heard == ["begin", "The screen is wet."]
    glass.hand.up(2, *LEFT)
    assert glass.acted() == (0, 1)


@pytest.mark.parametrize(("age", "acts"), [(0.0, 1), (0.29, 1), (0.31, 0), (3600.0, 0), (-3600.0, 1)])
def test_a_touch_that_was_stamped_too_long_ago_does_nothing(glass, age, acts):
    glass.tap(age=age)
    assert glass.acted() == (acts, 0)


def test_what_was_touched_while_the_picture_stood_still_does_nothing(glass):
    glass.now += 2.0
    glass.hand.look()
    for touch in range(10):
        glass.hand.down(touch, *LEFT)  # the mouse is read only now, so each says that it is new
        glass.hand.up(touch, *LEFT)
    glass.frames(FRAME_S)
    glass.tap(RIGHT)
    assert glass.acted() == (0, 0), "it may have come down while the picture stood still"
    assert not glass.hand.wet, "a hand that got impatient is not water"
    glass.tap()
    assert glass.acted() == (1, 0)


def test_an_old_touch_still_stops_and_still_is_a_second_touch(glass):
    glass.hand.down(1, *RIGHT)
    glass.hand.down(2, *STOP, age=5.0)
    assert glass.right.heard == ["begin", "A second touch came."]
    assert glass.stop.heard == ["begin"]


def test_what_is_held_ends_when_the_picture_stood_still(glass):
    glass.hand.down(1, *RIGHT)
    glass.now += 0.4
    glass.hand.look()
    assert glass.right.heard == ["begin", "The picture stood still."]
    assert glass.disarmed == ["The picture stood still."]
    glass.hand.up(1, *RIGHT)
    assert glass.acted() == (0, 0)


def test_a_touch_delivered_twice_counts_once(glass):
    glass.hand.down(1, *LEFT)
    glass.hand.down(1, *LEFT)
    glass.now += 0.01
    glass.hand.down(2, LEFT[0] + 1, LEFT[1])
    assert glass.left.heard == ["begin"]
    glass.frames(0.2)
    assert not glass.hand.wet
    glass.hand.up(1, *LEFT)
    glass.hand.up(2, *LEFT)
    assert glass.acted() == (1, 0)
    glass.frames(0.2)
    glass.tap(RIGHT)
    assert glass.acted() == (1, 1)


def test_a_touch_that_is_told_again_and_again_counts_once(glass):
    for _ in range(10):
        glass.hand.down(1, *LEFT)
        glass.frames(0.075)
    assert glass.left.heard == ["begin"]
    assert not glass.hand.wet
    glass.hand.up(1, *LEFT)
    assert glass.acted() == (1, 0)


@pytest.mark.parametrize("first", [1, 2])
def test_of_a_touch_delivered_twice_either_lift_ends_it_and_either_drift(glass, first):
    glass.hand.down(1, *RIGHT)
    glass.hand.down(2, *RIGHT)
    glass.hand.up(first, *RIGHT)
    assert glass.right.heard == ["begin", "The finger was lifted."]
    glass.hand.up(3 - first, *RIGHT)
    glass.frames(0.2)
    glass.hand.down(3, *RIGHT)
    glass.hand.down(4, *RIGHT)
    glass.hand.move(2 + first, *NOWHERE)
    assert glass.right.heard[2:] == ["begin", "The finger drifted off."]


def test_a_whole_tap_delivered_twice_acts_once(glass):
    for touch in (1, 2):
        glass.hand.down(touch, *LEFT)
        glass.hand.up(touch, *LEFT)
    assert glass.acted() == (1, 0)


def test_two_fingers_near_each_other_are_two(glass):
    glass.hand.down(1, *LEFT)
    glass.hand.down(2, LEFT[0] + 4, LEFT[1])
    assert glass.left.heard == ["begin", "A second touch came."]


def test_a_touch_that_the_window_counts_no_more_is_lifted_and_does_nothing(glass):
    glass.listed = {1}
    glass.hand.down(1, *RIGHT)
    glass.frames(1)
    assert glass.right.heard == ["begin"]
    glass.listed = set()
    glass.frames(FRAME_S)
    assert glass.right.heard == ["begin"], "its lift may come with this frame"
    glass.frames(FRAME_S)
    assert glass.right.heard == ["begin", "The touch was lost."]
    glass.listed = None
    glass.tap(LEFT, 2)
    assert glass.acted() == (1, 0)


def test_a_lift_that_comes_one_frame_late_is_a_lift(glass):
    glass.hand.down(1, *LEFT)
    glass.listed = set()
    glass.frames(FRAME_S)
    glass.hand.up(1, *LEFT)
    assert glass.acted() == (1, 0)


def test_a_touch_that_says_nothing_for_a_minute_is_given_up_and_is_a_touch_again_when_it_moves(glass):
    glass.hand.down(1, 200, 200)
    glass.frames(59)
    assert glass.hand.wet
    glass.frames(2)
    assert glass.hand.ready
    glass.tap(LEFT, 2)
    assert glass.acted() == (1, 0)
    glass.hand.down(3, *RIGHT)
    glass.hand.move(1, 201, 200)
    assert glass.right.heard == ["begin", "A second touch came."]
    glass.hand.up(3, *RIGHT)
    glass.hand.up(1, 201, 200)
    glass.tap(LEFT, 4)
    assert glass.acted() == (2, 0)


def test_a_touch_that_was_given_up_presses_no_key_when_it_moves_onto_one(glass):
    glass.hand.down(1, 200, 200)
    glass.frames(61)
    glass.hand.move(1, *LEFT)
    glass.hand.up(1, *LEFT)
    assert glass.left.heard == []
    assert glass.acted() == (0, 0)


def test_the_first_touch_after_the_window_came_back_only_wakes_it(glass):
    glass.hand.down(1, *RIGHT)
    glass.hand.out_of_sight("The window is not in front any more.")
    assert glass.right.heard == ["begin", "The window is not in front any more."]
    assert glass.disarmed == ["The window is not in front any more."]
    glass.hand.up(1, *RIGHT)
    glass.frames(5)
    glass.hand.in_sight()
    glass.frames(0.9)
    assert not glass.hand.ready
    glass.tap()
    assert glass.acted() == (0, 0)
    glass.tap()
    assert glass.acted() == (1, 0)


def test_a_second_after_the_window_came_back_a_touch_does_what_it_is_for(glass):
    glass.hand.out_of_sight("The window is not in front any more.")
    glass.hand.in_sight()
    glass.frames(1.025)
    glass.tap()
    assert glass.acted() == (1, 0)


def test_a_window_that_was_never_away_does_not_have_to_be_woken(glass):
    glass.hand.in_sight()
    glass.tap()
    assert glass.acted() == (1, 0)


def test_a_window_that_nobody_says_is_back_is_woken_by_a_touch(glass):
    glass.hand.out_of_sight("The window is not in front any more.")
    glass.frames(60)
    glass.tap()
    assert glass.acted() == (0, 0)
    glass.tap()
    assert glass.acted() == (1, 0)


def test_a_touch_right_after_a_page_came_by_itself_does_nothing_but_stop(glass):
    glass.hand.page_came()
    glass.frames(0.375)
    glass.tap(LEFT)
    assert glass.acted() == (0, 0)
    glass.tap(LEFT)
    assert glass.acted() == (1, 0)
    glass.hand.page_came()
    glass.tap(STOP)
    assert glass.stop.heard[0] == "begin"


def test_what_is_known_of_the_fingers_is_never_called_newer_than_it_is(glass):
    """The order of Kivy's loop: what was read after a frame is told in the next one, behind its clock."""
    read = told = glass.now
    for frame_s in (0.025, 0.2, 0.025, 0.025, 0.1, 0.025):
        glass.now += frame_s
        glass.hand.look()
        assert glass.hand.sampled <= told
        told = read
        glass.now += 0.004
        read = glass.now
