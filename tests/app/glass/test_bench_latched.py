"""An inhibit on the glass: latched by the bus side, kept without the finger, given back when asked.

Not dropped when speed rises, ended only at zero speed: rule 8 of the design's section on safety, which the
bus side keeps. Here: what the glass asks for, and that nobody is ever left without the page.
"""

from __future__ import annotations

from itertools import pairwise

import pytest
from bench_hand import Hand

from app.bench import ANSWER_S, ARM_S, END_EVERY_S, UNHEARD_S, WATCH_EVERY_S, Stage
from app.output_messages import (
    Beat,
    Consider,
    EndInhibit,
    Lift,
    OutputInfo,
    Phase,
    Press,
    Watch,
)

FUEL = OutputInfo("fuel", "Hold fuel off", "fuel_inhibit", 120.0, 0, 0.0, 0.0, released=True, latched=True)


class InhibitHand(Hand):
    """Its output is an inhibit; what the bus side says is about the newest press."""

    def __init__(self, make):
        super().__init__(make, FUEL)

    def says(self, phase=None, press=None, **more):
        return super().says(phase, press=self.bench._press if press is None else press, **more)

    def pressed(self):
        """It is held, not yet read back; the number of the press."""
        return self.held().press

    def latched(self):
        press = self.pressed()
        assert self.says(Phase.LATCHED, confirmed_at=self.now) is Stage.LATCHED
        return press


@pytest.fixture
def hand(make):
    return InhibitHand(make)


def test_before_it_is_read_back_a_lift_ends_it(hand):
    press = hand.pressed()
    hand.bench.lifted("The finger was lifted.")
    assert hand.asked[-1] == Lift(press, "The finger was lifted.")
    assert hand.asked_for(Watch) == []


def test_once_it_is_latched_no_finger_is_needed_and_none_ends_it(hand):
    hand.latched()
    beats = len(hand.asked_for(Beat))
    hand.bench.lifted("The finger was lifted.")
    hand.bench.disarm("The screen is wet.")
    assert hand.ticks(3) is Stage.LATCHED
    assert hand.asked_for(Lift) == hand.asked_for(EndInhibit) == []
    assert len(hand.asked_for(Beat)) == beats


def test_the_bus_side_hears_that_it_stands_on_the_glass_but_not_too_often(hand):
    press = hand.latched()
    hand.ticks(3)
    watches = hand.asked_for(Watch)
    assert {watch.press for watch in watches} == {press}
    assert all(watch.at <= hand.now for watch in watches)
    gaps = [later.at - watch.at for watch, later in pairwise(watches)]
    assert all(WATCH_EVERY_S - 1e-6 <= gap < 1.0 for gap in gaps)


def test_giving_back_is_asked_until_the_bus_side_says_that_it_does(hand):
    press = hand.latched()
    hand.bench.end("Touched.")
    assert hand.asked[-1] == EndInhibit(press, "Touched.")
    hand.bench.end("Touched again.")
    assert len(hand.asked_for(EndInhibit)) == 1, "a second touch asks for nothing new"
    hand.ticks(3 * END_EVERY_S + 0.25)
    assert hand.asked_for(EndInhibit) == [EndInhibit(press, "Touched.")] * 4
    hand.says(Phase.LATCHED, ending="Touched.")
    hand.ticks(2)
    assert len(hand.asked_for(EndInhibit)) == 4


@pytest.mark.parametrize(
    ("phase", "stage"), [(Phase.ENDED, Stage.ENDED), (Phase.NOT_CONFIRMED, Stage.UNCONFIRMED)]
)
def test_it_stays_over_everything_until_it_was_released(hand, phase, stage):
    hand.latched()
    hand.says(Phase.LATCHED, ending="Touched.")
    assert hand.says(Phase.RELEASING) is Stage.LATCHED
    assert hand.says(phase) is stage
    assert hand.bench.latch is None
    hand.ticks(1)
    count = len(hand.asked_for(Watch))
    hand.ticks(1)
    assert len(hand.asked_for(Watch)) == count


@pytest.mark.parametrize("late", [False, True])
def test_stop_test_and_stop_keys_give_it_back_even_if_it_was_latched_a_moment_ago(hand, late):
    press = hand.pressed() if late else hand.latched()
    hand.bench.stop("The stop key was pressed.")
    assert hand.says(Phase.LATCHED) is Stage.LATCHED
    assert hand.asked_for(EndInhibit)[0] == EndInhibit(press, "The stop key was pressed.")


def test_a_stop_of_another_press_gives_nothing_back(hand):
    hand.bench.stop("The stop key was pressed.")
    hand.latched()
    hand.ticks(1)
    assert hand.asked_for(EndInhibit) == []


def test_a_stop_while_it_was_armed_gives_the_press_after_it_not_back(hand):
    hand.bench.choose("fuel", hand.now)
    hand.says(None, 0)
    for stopped in (True, False):
        hand.bench.arm_begins(hand.now)
        hand.tick(ARM_S + 0.01)
        hand.bench.arm_ends()
        assert hand.tick() is Stage.ARMED
        if stopped:
            hand.bench.stop("The stop key was pressed.")
            assert hand.tick() is Stage.READY
    hand.bench.pressed(hand.now)
    assert hand.says(Phase.LATCHED) is Stage.LATCHED
    hand.ticks(1)
    assert hand.asked_for(EndInhibit) == []


@pytest.mark.parametrize("chosen", [None, "fuel"])
def test_a_glass_that_was_started_again_shows_it_and_can_end_it(hand, chosen):
    if chosen:
        hand.bench.choose(chosen, hand.now)
        hand.tick()
    assert hand.says(Phase.LATCHED, 77) is Stage.LATCHED
    assert hand.bench.info == FUEL
    assert hand.asked_for(Watch)[-1].press == 77
    hand.bench.end("Touched.")
    assert hand.asked[-1] == EndInhibit(77, "Touched.")
    assert hand.says(Phase.ENDED, 77) is Stage.ENDED
    assert hand.bench.told, "its result is shown too"
    hand.latched()
    assert hand.asked_for(Press)[-1].press > 77


def test_silence_is_no_end_but_after_a_while_it_is_called_unknown(hand):
    press = hand.latched()
    hand.silent = True
    assert hand.ticks(UNHEARD_S - 0.2) is Stage.LATCHED
    assert not hand.bench.latch.heard
    assert hand.asked_for(Consider)[1:] == [], "it is not asked to consider anything meanwhile"
    assert hand.ticks(0.4) is Stage.ENDED
    assert hand.bench.trouble
    hand.silent = False
    assert hand.tick() is Stage.LATCHED, "whatever was thought of it, it holds"
    assert hand.bench.latch.state.press == press
    assert hand.bench.trouble == ""


def test_a_bus_side_that_knows_nothing_of_it_any_more_is_believed_sooner(hand):
    hand.latched()
    hand.state = None
    assert hand.ticks(ANSWER_S - 0.1) is Stage.LATCHED
    assert hand.ticks(0.3) is Stage.ENDED
    assert "does not speak of it" in hand.bench.trouble


def test_leaving_asks_to_give_it_back_and_the_page_comes_again_while_it_holds(hand):
    press = hand.latched()
    hand.bench.leave("Another page was opened.")
    assert EndInhibit(press, "Another page was opened.") in hand.asked
    assert hand.tick() is Stage.LATCHED
