"""One output on the glass: armed by one touch, fired by another, ended by whatever else happens.

Arm for 1 s, then hold elsewhere; the arm dies on any refusal and with the press it was used for: rules of
this tool's design, tried here by hand-written stories.
"""

from __future__ import annotations

import itertools

import pytest
from bench_hand import Hand
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from app.bench import ARM_S, ARMED_FOR_S, Stage
from app.messages import LinkState
from app.output_messages import (
    Beat,
    Consider,
    Lift,
    NeedState,
    OutputInfo,
    Phase,
    Press,
    Watch,
)

HORN = OutputInfo("horn", "Horn", "horn", 3.0, 0, 0.0, 0.0, released=True)
FAN = OutputInfo("fan", "Fan", "fan", 10.0, 0, 0.0, 0.0, released=True)


@pytest.fixture
def hand(make):
    return Hand(make, HORN, FAN)


def test_an_output_is_fired_by_a_second_touch_after_an_arm_of_one_second(hand):
    press = hand.held()
    assert press.output == "horn"
    hand.tick()
    beats = hand.asked_for(Beat)
    assert {beat.press for beat in beats} == {press.press}
    assert all(beat.at < hand.now for beat in beats), "a beat never claims to have looked later than it did"
    hand.bench.lifted("The finger was lifted.")
    assert hand.asked[-1] == Lift(press.press, "The finger was lifted.")
    count = len(hand.asked_for(Beat))
    hand.tick()
    assert len(hand.asked_for(Beat)) == count
    assert hand.says(Phase.ENDED, press=press.press) is Stage.ENDED


def test_a_shorter_touch_does_not_arm(hand):
    hand.bench.choose("horn", hand.now)
    hand.says()
    hand.bench.arm_begins(hand.now)
    hand.tick(ARM_S - 0.1)
    hand.bench.arm_ends()
    assert hand.tick(1.0) is Stage.READY
    hand.bench.pressed(hand.now)
    assert hand.asked_for(Press) == []


def test_an_arm_serves_one_press(hand):
    press = hand.held()
    hand.bench.lifted("x")
    hand.says(Phase.ENDED, press=press.press)
    hand.bench.again()
    hand.bench.pressed(hand.now)
    assert hand.says() is Stage.READY
    hand.bench.pressed(hand.now)
    assert hand.asked_for(Press) == [press]


def test_an_arm_dies_after_a_while_and_on_any_missing_need(hand):
    hand.armed()
    assert hand.tick(ARMED_FOR_S) is Stage.READY
    hand.armed()
    assert hand.says(ready=False) is Stage.NEEDS
    assert hand.says(ready=True) is Stage.READY


def test_stop_test_disarms(hand):
    hand.armed()
    hand.bench.disarm("STOP TEST was touched.")
    assert hand.tick() is Stage.READY


def test_leaving_the_page_lifts_and_considers_nothing(hand):
    press = hand.held()
    hand.bench.leave()
    assert hand.asked[-2:] == [Lift(press.press, "Another page was opened."), Consider(None)]
    assert hand.tick() is Stage.LIST


def test_a_bus_side_that_is_not_heard_ends_the_press(hand):
    press = hand.held()
    hand.silent = True
    assert hand.tick() is Stage.ENDED
    assert hand.asked_for(Lift)[-1].press == press.press
    assert "does not answer" in hand.bench.trouble


def test_a_press_that_nobody_speaks_of_ends(hand):
    hand.armed()
    hand.bench.pressed(hand.now)
    assert hand.says() is Stage.HELD
    assert hand.tick(1.1) is Stage.ENDED
    assert hand.asked_for(Lift)


def test_a_lost_craft_disarms(hand):
    hand.armed()
    hand.link = LinkState.LOST
    assert hand.tick() is Stage.NEEDS


def test_not_confirmed_comes_over_everything_until_a_person_has_seen_it(hand):
    press = hand.held()
    assert hand.says(Phase.NOT_CONFIRMED, ready=False, press=press.press) is Stage.UNCONFIRMED
    hand.bench.seen()
    assert hand.tick() is not Stage.UNCONFIRMED
    assert hand.says(Phase.NOT_CONFIRMED, ready=False, press=press.press + 1) is Stage.UNCONFIRMED


def test_presses_have_numbers_never_used_before(hand):
    numbers = []
    for _ in range(3):
        press = hand.held()
        numbers.append(press.press)
        hand.bench.leave()
    assert all(later > earlier for earlier, later in itertools.pairwise(numbers))
    assert numbers[0] >= int(hand.make.now * 1000), "after a restart of the screen the clock has gone on"


def test_the_chosen_output_is_named_again_to_a_bus_side_that_has_forgotten_it(hand):
    hand.bench.choose("horn", hand.now)
    hand.says(output="fan")
    before = len(hand.asked_for(Consider))
    for _ in range(20):
        hand.tick()
    reminders = hand.asked_for(Consider)[before:]
    assert 1 <= len(reminders) <= 3  # one each half second
    assert set(reminders) == {Consider("horn")}


class AnyOrder(RuleBasedStateMachine):
    """Whatever the hand and the bus side do: no press without a fresh arm, no beat after a lift."""

    make = None

    def __init__(self):
        super().__init__()
        self.hand = Hand(type(self).make)
        self.finger = False
        self.arm_held = 0.0
        self.armed_once = False

    @rule(output=st.sampled_from(["horn", "fan"]))
    def choose(self, output):
        self.finger = self.armed_once = False
        self.hand.bench.leave()
        self.hand.bench.choose(output, self.hand.now)

    @rule(seconds=st.sampled_from([0.05, 0.3, 1.1, 11.0]))
    def wait(self, seconds):
        self.hand.tick(seconds)
        self.armed_once = self.armed_once or self.hand.bench.stage is Stage.ARMED

    @rule(
        phase=st.sampled_from([None, *Phase]),
        ready=st.booleans(),
        output=st.sampled_from(["horn", "fan"]),
        mine=st.booleans(),
    )
    def bus(self, phase, ready, output, mine):
        press = self.hand.bench._press if mine else 7
        self.hand.says(phase, ready=ready, press=press, output=output)

    @rule(silent=st.booleans())
    def silence(self, silent):
        self.hand.silent = silent

    @rule(down=st.booleans())
    def arm(self, down):
        if down:
            self.hand.bench.arm_begins(self.hand.now)
        else:
            self.hand.bench.arm_ends()

    @rule()
    def press(self):
        stage, before = self.hand.bench.stage, len(self.hand.asked_for(Press))
        self.hand.bench.pressed(self.hand.now)
        assert len(self.hand.asked_for(Press)) - before == (stage is Stage.ARMED)

    @rule()
    def lift(self):
        self.hand.bench.lifted("The finger was lifted.")
        assert not self.hand.bench.holding

    @rule()
    def stop(self):
        self.hand.bench.disarm("STOP TEST was touched.")
        self.hand.tick()
        assert self.hand.bench.stage is not Stage.ARMED

    @rule()
    def stop_key(self):
        self.hand.bench.stop("The stop key was pressed.")
        assert not self.hand.bench.holding

    @invariant()
    def every_press_is_followed_by_its_lift_before_the_next(self):
        live = None
        for one in self.hand.asked:
            if isinstance(one, Press):
                assert live is None, "a second press while one is held"
                live = one.press
            elif isinstance(one, Beat):
                assert one.press == live, "a beat of a press that was lifted"
            elif isinstance(one, Lift):
                assert one.press == live
                live = None
            elif isinstance(one, Watch) and one.press == live:
                live = None  # it holds without the finger from here on


def test_in_any_order(make):
    machine = type("AnyOrderHere", (AnyOrder,), {"make": make})
    machine.TestCase.settings = settings(max_examples=60, stateful_step_count=40, deadline=None)
    case = machine.TestCase()
    case.runTest()


def test_needs_are_kept_as_the_bus_side_says_them(hand):
    need = NeedState("battery", False, "Battery 11.2 V", "Charge it")
    hand.bench.choose("horn", hand.now)
    hand.says(ready=False, needs=[need])
    assert hand.bench.state.needs == [need]
