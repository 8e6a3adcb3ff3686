"""One press at the edges of its times, and answers that come when nobody waits for them."""

import pytest
from one_press import DEFAULT, REPEAT_S, SESSION, SESSION_YES, Press

from app.interlock import PermitDenied
from app.output_messages import Phase
from bus.output_run import Step

QUARTER = 0.25  # a time that is exact in binary
SESSION_PENDING, START_PENDING = bytes.fromhex("7f1078"), bytes.fromhex("7f2f78")


@pytest.fixture
def fan(output_plans):
    return Press(output_plans["fan"])


@pytest.fixture
def injector(output_plans):
    return Press(output_plans["injector_1"])


def waits(press, times):
    """Quarters of a second in which the finger holds and the loop does not come to this press."""
    for _ in range(times):
        press.now += QUARTER
        press.lock.renew(press.permit, press.now)
    return press


def test_an_answer_that_asks_for_time_before_anything_was_asked_gains_none(fan):
    assert fan.step(SESSION_PENDING, dt=QUARTER) == [SESSION]
    assert fan.step(dt=QUARTER) == []
    assert fan.step(dt=QUARTER) == [DEFAULT]


def test_the_time_for_the_session_counts_from_the_question_and_not_from_the_press(fan):
    waits(fan, 4)
    assert fan.step(dt=0.0) == [SESSION]
    assert fan.step(SESSION_PENDING, dt=QUARTER) == []
    waits(fan, 21)
    assert fan.step(dt=QUARTER) == []
    assert fan.step(dt=QUARTER) == [DEFAULT]  # 0.5 s and 5.5 s after the question


def test_a_press_by_finger_is_never_held_without_it_and_never_in_doubt(fan):
    fan.answered()
    assert fan.run.held is False
    assert fan.run.doubt == ""
    assert fan.run.confirmed_at == 0.0


def test_a_stop_kills_the_permit(fan):
    fan.answered()
    fan.run.stop("lifted", fan.now)
    with pytest.raises(PermitDenied) as denied:
        fan.lock.check(fan.permit)
    assert denied.value.dead


def test_a_press_that_something_else_ended_did_not_end_by_the_interlock(fan):
    fan.answered()
    fan.run.stop("lifted", fan.now)
    fan.step()
    assert fan.run.lapsed is None


def test_a_release_is_repeated_exactly_every_fifty_milliseconds(fan):
    fan.answered()
    fan.run.stop("lifted", fan.now)
    assert fan.step() == [fan.plan.release]
    first = fan.now
    fan.now = first + 0.049
    assert fan.step(dt=0.0) == []
    fan.now = first + REPEAT_S
    assert fan.step(dt=0.0) == [fan.plan.release]


def test_a_burst_is_renewed_exactly_when_its_share_is_over(fan):
    fan.answered()
    fan.now = fan.times(fan.plan.start)[0] + 0.28
    fan.lock.renew(fan.permit, fan.now)
    assert fan.step(dt=0.0) == []
    fan.now = fan.times(fan.plan.start)[0] + 0.5 * 0.6
    assert fan.step(dt=0.0) == [fan.plan.start]


def test_a_start_that_asked_for_time_is_released_again_and_again_until_its_last_moment(injector):
    injector.step(dt=QUARTER)
    injector.step(SESSION_YES, dt=QUARTER)
    asked = injector.now
    injector.step(START_PENDING, dt=QUARTER)
    injector.run.stop("lifted", injector.now)
    while injector.now < asked + 6.0 - QUARTER:
        assert injector.step(dt=QUARTER) == [injector.plan.release]
    assert injector.step(dt=QUARTER) == [DEFAULT]  # 0.5 s and 5.5 s after the start was asked for
    assert injector.step(START_PENDING, dt=0.0) == []  # it has had its time once
    assert injector.step(START_PENDING, dt=QUARTER) == []
    assert injector.run.step_now is Step.CLOSING


def test_a_yes_to_the_start_may_carry_the_state_of_the_output(fan):
    fan.live()
    fan.step(bytes.fromhex("6fd121033c"))  # ISO 14229-1: a status byte after the parameter
    fan.for_(0.25)
    assert fan.run.known_live_s(fan.now) == pytest.approx(0.25)


def test_a_session_that_opens_again_while_the_output_is_released_starts_nothing(fan):
    fan.answered()
    fan.run.stop("lifted", fan.now)
    fan.step()
    fan.step(SESSION_YES)
    assert (fan.run.step_now, fan.run.cause) == (Step.RELEASING, "lifted")


@pytest.mark.parametrize("answer", ["7f1022", "7f3e22", "7f3e78", "7f2222"])
def test_a_refusal_of_something_else_changes_nothing_while_the_output_is_live(fan, answer):
    fan.answered()
    assert fan.step(bytes.fromhex(answer)) == []
    assert (fan.run.step_now, fan.run.cause) == (Step.LIVE, "")
    assert fan.run.confirmed is False


def test_a_start_refused_after_it_asked_for_time_is_pending_no_more(fan):
    fan.live()
    fan.step(START_PENDING)
    assert fan.step(bytes.fromhex("7f2f22")) == [fan.plan.release]
    assert fan.step(fan.yes(fan.plan.release)) == [DEFAULT]
    assert fan.run.confirmed


def test_a_refusal_older_than_the_release_says_nothing_about_it(fan):
    fan.answered()
    fan.run.stop("lifted", fan.now)
    assert fan.step(bytes.fromhex("7f2f7f")) == [fan.plan.release]
    assert fan.step() == []
    assert fan.run.step_now is Step.RELEASING
    assert fan.ends() is Phase.NOT_CONFIRMED


def test_a_controller_that_asks_for_time_for_what_was_never_fired_gets_no_release(fan):
    fan.step()
    fan.run.stop("lifted", fan.now)
    assert fan.step() == [DEFAULT]
    assert fan.step(START_PENDING) == []
    assert fan.run.step_now is Step.CLOSING


def test_a_controller_that_asks_for_time_while_it_is_released_hurries_no_release(fan):
    fan.live()
    fan.run.stop("lifted", fan.now)
    assert fan.step() == [fan.plan.release]
    assert fan.step(START_PENDING) == []


def test_pulses_have_a_moment_to_end_in_before_the_press_is_over(injector):
    injector.answered()
    start = injector.times(injector.plan.start)[0]
    injector.for_(start + 4.14 - injector.now)
    assert injector.run.step_now is Step.LIVE
    injector.for_(start + 4.16 - injector.now)
    assert injector.run.complete


def test_the_default_session_is_waited_for_half_a_second(fan):
    fan.answered()
    fan.run.stop("lifted", fan.now)
    fan.step()
    fan.step(fan.yes(fan.plan.release))
    fan.for_(0.48)
    assert fan.run.step_now is Step.CLOSING
    fan.for_(0.04)
    assert fan.run.step_now is Step.DONE


def test_a_controller_that_is_busy_and_asked_for_no_time_has_refused(fan):
    fan.live()
    assert fan.step(bytes.fromhex("7f2f21")) == [fan.plan.release]
    assert "code 21" in fan.run.cause
