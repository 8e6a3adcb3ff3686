"""When a touch counts: keys without a window."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from screens.touch import Finger

LEFT, RIGHT, NOWHERE = (5, 5), (25, 5), (15, 5)


class FakeKey:
    def __init__(self, text, left):
        self.text, self.left, self.down, self.acted = text, left, False, 0

    def collide_point(self, x, y):
        return self.left <= x <= self.left + 10 and 0 <= y <= 10

    def act(self):
        self.acted += 1


class Hand:
    def __init__(self):
        self.left, self.right = FakeKey("left", 0), FakeKey("right", 20)
        self.told = []
        self.finger = Finger(
            lambda: (self.left, self.right),
            lambda x, y, key: self.told.append((x, y, key.text if key else None)),
        )

    def acted(self):
        return self.left.acted, self.right.acted


@pytest.fixture
def hand():
    return Hand()


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


PLACES = st.sampled_from([LEFT, RIGHT, NOWHERE])
EVENTS = st.lists(
    st.tuples(st.sampled_from(["begin", "move", "end", "forget"]), st.integers(1, 3), PLACES), max_size=30
)


@given(EVENTS)
def test_a_key_acts_only_for_one_finger_that_stayed_on_it_alone(events):
    hand = Hand()
    touching, alone = set(), None  # the one finger that may still act, and its key
    for what, finger, place in events:
        before = sum(hand.acted())
        allowed = None
        if what == "begin":
            if finger in touching:
                continue
            touching.add(finger)
            alone = (finger, place) if len(touching) == 1 and place != NOWHERE else None
        elif what == "move" and alone and alone[0] == finger and place != alone[1]:
            alone = None
        elif what == "end":
            allowed = alone if alone and alone == (finger, place) else None
            touching.discard(finger)
            alone = None if alone and alone[0] == finger else alone
        elif what == "forget":
            alone = None
        if what == "forget":
            hand.finger.forget()
        else:
            getattr(hand.finger, what)(finger, *place)
        assert sum(hand.acted()) - before == (1 if allowed else 0)
        assert not (hand.left.down and hand.right.down)
        if not touching:
            assert not hand.left.down
            assert not hand.right.down
