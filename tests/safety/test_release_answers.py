"""What a controller answers to a release, or to a start that it keeps waiting, and what it is worth."""

from itertools import pairwise

import pytest
from one_press import CLOSE_S, DEFAULT, DEFAULT_YES, RELEASE_S, REPEAT_S, SESSION_YES, TURN_S, Press

from app.output_messages import Phase
from bus.output_run import Step


@pytest.fixture
def fan(output_plans):
    return Press(output_plans["fan"])


@pytest.fixture
def horn(output_plans):
    return Press(output_plans["horn"])


@pytest.fixture
def injector(output_plans):
    return Press(output_plans["injector_1"])


# --- a controller that is back in the default session -----------------------------------------------------

OUT_OF_SESSION = [bytes.fromhex("7f2f7f"), bytes.fromhex("7f2f7e")]  # ISO 14229-1, table of response codes


def lifted(press):
    press.run.stop("lifted", press.now)
    return press


@pytest.mark.parametrize("refusal", OUT_OF_SESSION, ids=["7f", "7e"])
def test_a_release_refused_out_of_session_and_the_default_session_after_it_confirm(fan, refusal):
    assert lifted(fan.answered()).step() == [fan.plan.release]
    assert fan.step(refusal) == [DEFAULT]  # the second of releases is not waited out
    assert not fan.run.confirmed
    assert fan.step(DEFAULT_YES) == []
    assert fan.run.phase is Phase.ENDED


@pytest.mark.parametrize("refusal", OUT_OF_SESSION, ids=["7f", "7e"])
def test_a_release_refused_out_of_session_alone_does_not_confirm(fan, refusal):
    lifted(fan.answered()).step()
    fan.step(refusal)
    assert fan.ends() is Phase.NOT_CONFIRMED


@pytest.mark.parametrize("code", ["22", "21", "31", "33", "80"])
def test_another_refusal_does_not_confirm_and_the_release_is_repeated(fan, code):
    lifted(fan.answered()).step()
    sent = fan.for_(0.9, bytes.fromhex("7f2f" + code))
    assert set(sent) == {fan.plan.release}
    assert len(sent) >= 16
    fan.for_(0.11)
    assert fan.step(DEFAULT_YES) == []
    assert fan.ends() is Phase.NOT_CONFIRMED


def test_the_default_session_counts_only_if_asked_for_after_the_refusal(fan):
    lifted(fan.answered()).step()
    assert fan.step(OUT_OF_SESSION[0], DEFAULT_YES) == [DEFAULT]  # this yes was to no question
    assert fan.ends() is Phase.NOT_CONFIRMED


def test_the_default_session_before_the_refusal_confirms_nothing(fan):
    lifted(fan.answered()).for_(1.1)
    assert fan.run.step_now is Step.CLOSING
    assert fan.step(DEFAULT_YES, OUT_OF_SESSION[0]) == []
    assert fan.ends() is Phase.NOT_CONFIRMED


def test_a_refusal_that_comes_while_the_session_closes_asks_for_the_default_session_once_more(fan):
    lifted(fan.answered()).for_(1.1)
    assert fan.run.step_now is Step.CLOSING
    assert fan.step(OUT_OF_SESSION[0]) == [DEFAULT]
    assert fan.for_(0.3, OUT_OF_SESSION[0]) == []
    fan.step(DEFAULT_YES)
    assert fan.run.phase is Phase.ENDED
    assert fan.run.step_now is Step.DONE


def test_a_start_refused_out_of_session_is_no_refused_release(fan):
    fan.live()
    assert fan.step(OUT_OF_SESSION[0]) == [fan.plan.release]
    fan.for_(1.0)
    fan.step(DEFAULT_YES)
    assert fan.ends() is Phase.NOT_CONFIRMED


# --- a start that the controller keeps pending ------------------------------------------------------------

PENDING, BUSY = bytes.fromhex("7f2f78"), bytes.fromhex("7f2f21")
PENDING_S = 6.0  # half a second to answer, P2* of 5 s, half a second for the bus: standards notes 2.2


def kept_waiting(press):
    """The start is pending, the finger gone, the release sent."""
    press.live()
    press.step(PENDING)
    assert lifted(press).step() == [press.plan.release]
    return press


def test_while_a_start_is_pending_the_release_is_repeated_and_the_session_stays_open(fan):
    sent = kept_waiting(fan).for_(5.0, BUSY)
    assert set(sent) == {fan.plan.release}
    releases = fan.times(fan.plan.release)
    assert all(abs(b - a - REPEAT_S) < TURN_S + 1e-9 for a, b in pairwise(releases))
    assert fan.run.phase is Phase.RELEASING


def test_a_pending_start_that_is_carried_out_is_released_for_a_second_from_then_on(fan):
    kept_waiting(fan).for_(3.0, BUSY)
    at = fan.now
    assert fan.step(fan.yes(fan.plan.start)) == [fan.plan.release]
    assert fan.ends() is Phase.NOT_CONFIRMED
    after = [when for when in fan.times(fan.plan.release) if when > at]
    assert RELEASE_S - REPEAT_S - TURN_S <= after[-1] - after[0] <= RELEASE_S
    assert fan.times(DEFAULT)[0] > after[-1]


def test_only_a_release_confirmed_after_the_pending_start_was_carried_out_counts(fan):
    kept_waiting(fan).step(fan.yes(fan.plan.release))
    assert not fan.run.confirmed
    fan.for_(1.5)
    assert fan.run.phase is Phase.RELEASING
    fan.step(fan.yes(fan.plan.start))
    assert not fan.run.confirmed
    assert fan.step(fan.yes(fan.plan.release)) == [DEFAULT]
    assert fan.ends() is Phase.ENDED


@pytest.mark.parametrize("release", ["confirmed", "refused", "unanswered"])
def test_a_start_without_a_final_answer_is_not_confirmed_whatever_is_said_of_its_release(fan, release):
    asked = kept_waiting(fan).times(fan.plan.start)[0]
    answers = {"confirmed": [fan.yes(fan.plan.release)], "refused": [BUSY], "unanswered": []}[release]
    fan.step(*answers)
    assert fan.ends(PENDING_S + 1.0) is Phase.NOT_CONFIRMED
    assert PENDING_S <= fan.times(DEFAULT)[0] - asked <= PENDING_S + 2 * TURN_S
    assert fan.now - asked <= PENDING_S + CLOSE_S + 3 * TURN_S


def test_a_pending_start_that_is_refused_in_the_end_needs_its_release_confirmed_all_the_same(fan):
    kept_waiting(fan).for_(2.0, BUSY)
    at = fan.now
    assert fan.step(bytes.fromhex("7f2f22")) == [fan.plan.release]
    fan.for_(0.9)
    assert fan.run.phase is Phase.RELEASING
    fan.step(fan.yes(fan.plan.release))
    assert fan.ends() is Phase.ENDED
    assert fan.times(DEFAULT)[0] - at < RELEASE_S


def test_a_pending_start_that_is_refused_after_its_release_was_confirmed_ends_the_press(fan):
    kept_waiting(fan).for_(1.0, fan.yes(fan.plan.release))
    assert fan.step(bytes.fromhex("7f2f22")) == [DEFAULT]
    assert fan.ends() is Phase.ENDED


def test_a_pending_start_refused_out_of_session_is_no_refused_release(fan):
    kept_waiting(fan)
    assert fan.step(OUT_OF_SESSION[0]) == [fan.plan.release]
    assert fan.step(OUT_OF_SESSION[0]) == [DEFAULT]
    assert fan.step(DEFAULT_YES) == []
    assert fan.run.phase is Phase.ENDED


def test_a_controller_that_asks_for_time_only_after_the_release_was_sent_is_waited_for_too(fan):
    lifted(fan.live()).step()
    fan.step(PENDING)
    fan.for_(2.0, fan.yes(fan.plan.release))
    assert fan.run.phase is Phase.RELEASING
    assert fan.ends(PENDING_S) is Phase.NOT_CONFIRMED


def test_a_controller_that_asks_for_time_while_the_session_closes_is_released_again(fan):
    lifted(fan.live()).step()
    assert fan.step(fan.yes(fan.plan.release)) == [DEFAULT]
    assert fan.step(PENDING) == [fan.plan.release]
    assert fan.step(fan.yes(fan.plan.start)) == [fan.plan.release]
    assert fan.step(fan.yes(fan.plan.release)) == [DEFAULT]
    assert fan.ends() is Phase.ENDED


def test_a_busy_controller_has_not_given_its_last_word_on_the_start(fan):
    fan.live()
    fan.step(PENDING)
    assert fan.step(BUSY) == []
    assert fan.run.phase is Phase.LIVE
    lifted(fan).step()
    fan.step(BUSY, fan.yes(fan.plan.release))
    assert not fan.run.confirmed


def test_a_start_carried_out_once_more_after_the_pending_one_is_released_too(fan):
    kept_waiting(fan)
    for _ in range(2):
        assert fan.step(fan.yes(fan.plan.start)) == [fan.plan.release]
        assert fan.step(fan.yes(fan.plan.release)) == [DEFAULT]
    assert fan.ends() is Phase.ENDED


def test_a_release_that_takes_its_time_is_no_pending_start(fan):
    lifted(fan.answered()).step()
    fan.step(PENDING)
    assert fan.step(fan.yes(fan.plan.release)) == [DEFAULT]
    assert fan.ends() is Phase.ENDED


def test_the_newest_start_may_be_the_pending_one(fan):
    fan.answered()
    while len(fan.times(fan.plan.start)) < 2:
        fan.step()
    fan.step(PENDING)
    lifted(fan).step()
    fan.step(fan.yes(fan.plan.release))
    assert not fan.run.confirmed
    assert fan.ends(PENDING_S + 1.0) is Phase.NOT_CONFIRMED


def test_fuel_that_is_kept_pending_is_never_asked_for_again(injector):
    kept_waiting(injector).for_(2.0, BUSY)
    injector.step(injector.yes(injector.plan.start))
    injector.step(injector.yes(injector.plan.release))
    assert injector.ends() is Phase.ENDED
    assert len(injector.times(injector.plan.start)) == 1


def test_the_last_word_counts_when_a_controller_starts_again_and_again(fan):
    lifted(fan.answered()).step()
    for _ in range(3):
        fan.step(fan.yes(fan.plan.release), fan.yes(fan.plan.start))
    assert not fan.run.confirmed
    assert fan.ends(4.0) is Phase.NOT_CONFIRMED


@pytest.mark.parametrize("step", ["opening", "opened", "closing"])
def test_a_start_of_an_earlier_press_is_released_even_if_this_press_has_sent_none(fan, step):
    fan.step()
    if step == "closing":
        lifted(fan).step()
    before = [SESSION_YES] if step == "opened" else []
    assert fan.step(*before, fan.yes(fan.plan.start)) == [fan.plan.release]
    assert fan.plan.start not in [pdu for _, pdu in fan.sent]
    assert fan.run.cause
    assert fan.ends() is Phase.NOT_CONFIRMED
