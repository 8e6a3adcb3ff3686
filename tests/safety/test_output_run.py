"""One press, without a gate: when what goes out, and what may be claimed afterwards. Times: design, 4."""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from one_press import CLOSE_S, DEFAULT, DEFAULT_YES, RELEASE_S, REPEAT_S, SESSION, SESSION_YES, TURN_S, Press

from app.interlock import Fact, Kind, Need
from app.output_messages import Phase
from bus.output_run import OutputRun, Step

NOT_FOR_A_FAN = """settled fuel_room purged spark_ago pump_quiet no_leak aft_clear jet_clear spark_safe
    not_under_way battery_for_writing"""


@pytest.fixture
def fan(output_plans):
    return Press(output_plans["fan"])


@pytest.fixture
def horn(output_plans):
    return Press(output_plans["horn"])


@pytest.fixture
def injector(output_plans):
    return Press(output_plans["injector_1"])


def test_the_start_waits_for_the_session(fan):
    assert (fan.run.since, fan.run.cause, fan.run.phase) == (fan.now, "", Phase.STARTING)
    assert fan.step() == [SESSION]
    assert fan.for_(0.4) == []
    assert fan.run.phase is Phase.STARTING
    assert fan.step(SESSION_YES) == [fan.plan.start]
    assert fan.run.phase is Phase.LIVE


def test_a_session_answer_that_came_before_the_question_opens_nothing(fan):
    assert fan.step(SESSION_YES) == [SESSION]
    assert fan.run.phase is Phase.STARTING


def test_a_controller_that_opens_no_session_is_not_fired_at(fan):
    fan.for_(0.6)
    assert fan.plan.start not in [pdu for _, pdu in fan.sent]
    assert fan.ends() is Phase.ENDED
    assert not fan.run.fired
    assert fan.run.cause == "The controller did not answer. Nothing was fired."


def test_a_controller_that_does_not_answer_the_start_is_released(fan):
    fan.live()
    sent = fan.for_(0.51)
    assert sent[-1] == fan.plan.release
    assert fan.run.cause == "The controller did not answer the start."


@pytest.mark.parametrize("step", ["session", "start"])
def test_a_refusal_ends_the_press_and_is_told_with_its_number(fan, step):
    if step == "session":
        fan.step()
        assert fan.step(bytes.fromhex("7f1022")) == [DEFAULT]
    else:
        fan.live()
        assert fan.step(bytes.fromhex("7f2f83")) == [fan.plan.release]
    words = {"session": "conditionsNotCorrect, code 22", "start": "engineIsRunning, code 83"}
    assert fan.run.cause.startswith("The controller refused. ")
    assert fan.run.cause.endswith(f"({words[step]}).")  # names: ISO 14229-1, table of response codes


@pytest.mark.parametrize("answer", ["7f2f22", "7f3e22", "7f10", "7f", "", "50", "6f"])
def test_an_answer_to_something_else_changes_nothing_while_the_session_opens(fan, answer):
    fan.step()
    assert fan.step(bytes.fromhex(answer)) == []
    assert fan.run.step_now is Step.OPENING


def test_a_controller_may_ask_for_time_once_and_not_for_ever(fan):
    fan.step()
    sent = fan.for_(6.2, bytes.fromhex("7f1078"))  # P2* of 5 s: standards notes 2.2
    assert sent == [DEFAULT]
    assert fan.run.cause.startswith("The controller did not answer")


def test_the_time_it_asked_for_is_given(fan):
    fan.step()
    fan.step(bytes.fromhex("7f1078"))
    fan.for_(5.0)
    assert fan.step(SESSION_YES) == [fan.plan.start]


def test_the_finger_must_hold_while_the_controller_takes_its_time(fan):
    fan.step()
    fan.step(bytes.fromhex("7f1078"))
    fan.held = False
    fan.for_(0.35)
    assert fan.run.step_now is Step.CLOSING
    assert not fan.run.fired


def test_bursts_are_renewed_before_they_end_and_only_after_an_answer(fan):
    fan.answered()
    end = fan.now + 2.0
    while fan.now < end:
        starts = len(fan.times(fan.plan.start))
        if fan.step():
            fan.step(fan.yes(fan.plan.start))
        assert len(fan.times(fan.plan.start)) - starts <= 1
    gaps = [b - a for a, b in pairwise(fan.times(fan.plan.start))]
    assert len(gaps) >= 5
    assert all(0.25 < gap < 0.5 for gap in gaps)


def test_fuel_is_asked_for_once_in_a_press_and_never_again(injector):
    injector.answered()
    injector.for_(6.0, injector.yes(injector.plan.start))
    assert len(injector.times(injector.plan.start)) == 1


def test_nothing_keeps_a_session_alive(fan):
    fan.answered()
    fan.for_(5.0, fan.yes(fan.plan.start))
    assert {pdu[0] for _, pdu in fan.sent} <= {0x10, 0x2F}


@pytest.mark.parametrize(
    ("how", "cause"),
    [
        ("stop", "The finger was lifted."),
        ("permit", "The finger's hold was not seen in time."),
        ("fact", "Lanyard: pulled."),
        (
            "refusal",
            "The controller refused. The engine is running. Stop it, ask again. (engineIsRunning, code 83).",
        ),
        ("given_back", "The controller gave the output back by itself."),
        ("session_gone", "The controller left the session."),
    ],
)
def test_the_release_goes_out_in_the_very_step_in_which_the_cause_appears(fan, how, cause):
    fan.answered()
    answers = []
    if how == "stop":
        fan.run.stop("The finger was lifted.", fan.now)
    elif how == "permit":
        fan.lock.revoke()
    elif how == "fact":
        fan.facts[Need.LANYARD_IN] = Fact(False, "Lanyard: pulled")
    elif how == "refusal":
        answers = [bytes.fromhex("7f2f83")]
    elif how == "given_back":
        answers = [fan.yes(fan.plan.release)]
    else:
        answers = [DEFAULT_YES]
    assert fan.step(*answers) == [fan.plan.release]
    assert fan.run.cause == cause


def test_a_finger_gone_without_a_word_releases_within_its_300_ms(fan):
    fan.answered()
    fan.held = False
    at = fan.now
    fan.for_(0.4)
    assert fan.times(fan.plan.release)[0] - at <= 0.3 + TURN_S
    assert fan.run.cause == "The finger's hold was not seen in time."


@pytest.mark.parametrize("need", list(Need))
def test_every_need_of_a_fan_ends_it_when_it_lapses_and_no_other_need_does(fan, need):
    fan.answered()
    fan.facts[need] = Fact(None, "Not known any more")
    fan.step()
    assert (fan.run.step_now is Step.RELEASING) is (need.value not in NOT_FOR_A_FAN.split())


def test_the_first_cause_stays(fan):
    fan.answered()
    fan.run.stop("first", fan.now)
    fan.run.stop("second", fan.now)
    fan.facts[Need.BATTERY] = Fact(False, "Battery low")
    fan.ends()
    assert fan.run.cause == "first"


def test_a_release_is_repeated_every_50_ms_for_one_second_then_the_session_closed_then_silence(fan):
    fan.answered()
    fan.run.stop("lifted", fan.now)
    at = fan.now
    assert fan.ends() is Phase.NOT_CONFIRMED
    releases = fan.times(fan.plan.release)
    assert releases[0] - at <= TURN_S + 1e-9
    assert all(abs(b - a - REPEAT_S) < TURN_S + 1e-9 for a, b in pairwise(releases))
    assert RELEASE_S - REPEAT_S - TURN_S <= releases[-1] - releases[0] <= RELEASE_S
    assert len(fan.times(DEFAULT)) == 1
    assert RELEASE_S <= fan.times(DEFAULT)[0] - at <= RELEASE_S + 3 * TURN_S
    assert fan.now - at <= RELEASE_S + CLOSE_S + 5 * TURN_S
    assert fan.for_(3.0) == []


def test_a_release_confirmed_ends_and_closes_the_session(fan):
    fan.answered()
    fan.run.stop("lifted", fan.now)
    assert fan.step() == [fan.plan.release]
    assert fan.step(fan.yes(fan.plan.release)) == [DEFAULT]
    assert fan.run.phase is Phase.RELEASING
    assert fan.step(DEFAULT_YES) == []
    assert fan.run.phase is Phase.ENDED
    assert len(fan.times(fan.plan.release)) == 1


def test_a_session_that_does_not_close_makes_no_confirmed_release_unconfirmed(fan):
    fan.answered()
    fan.run.stop("lifted", fan.now)
    fan.step()
    fan.step(fan.yes(fan.plan.release))
    assert fan.ends() is Phase.ENDED


def test_a_confirmation_older_than_the_release_confirms_nothing(fan):
    fan.answered()
    fan.run.stop("lifted", fan.now)
    assert fan.step(fan.yes(fan.plan.release)) == [fan.plan.release]
    assert fan.ends() is Phase.NOT_CONFIRMED


@pytest.mark.parametrize(
    "answer",
    ["6fd12200", "6fd12103", "6fd12101", "6fd1", "2fd12100", "7f2f7f", "7f2f22", "7f2f78", "5001003201f4"],
    ids=["other", "start", "reset", "short", "request", "refused", "conditions", "pending", "default"],
)
def test_only_the_answer_to_this_very_release_confirms(fan, answer):
    fan.answered()
    fan.run.stop("lifted", fan.now)
    fan.step()
    fan.for_(0.98, bytes.fromhex(answer))
    assert fan.ends() is Phase.NOT_CONFIRMED


def test_a_confirmation_may_carry_the_state_of_the_output(fan):
    fan.answered()
    fan.run.stop("lifted", fan.now)
    fan.step()
    fan.step(
        bytes.fromhex("6fd121003c")
    )  # ISO 14229-1: a status byte after the parameter, standards notes 2.1
    assert fan.ends() is Phase.ENDED


def test_a_confirmation_while_the_session_closes_still_counts(fan):
    fan.answered()
    fan.run.stop("lifted", fan.now)
    fan.for_(1.1)
    assert fan.run.step_now is Step.CLOSING
    fan.step(fan.yes(fan.plan.release))
    assert fan.ends() is Phase.ENDED


def test_a_start_carried_out_after_its_release_is_released_again(fan):
    fan.answered()
    fan.run.stop("lifted", fan.now)
    fan.step()
    fan.step(fan.yes(fan.plan.release))
    assert fan.step(fan.yes(fan.plan.start)) == [fan.plan.release]
    assert fan.ends() is Phase.NOT_CONFIRMED
    assert len(fan.times(DEFAULT)) == 2


def test_a_controller_that_says_so_again_and_again_does_not_hold_us_for_ever(fan):
    fan.answered()
    fan.run.stop("lifted", fan.now)
    end = fan.now + 3.3
    while fan.run.step_now is not Step.DONE:
        assert fan.now < end
        fan.step(fan.yes(fan.plan.release), fan.yes(fan.plan.start))


def test_a_loop_that_stalls_after_the_stop_still_sends_the_release(fan):
    fan.answered()
    fan.run.stop("lifted", fan.now)
    assert fan.step(dt=2.0) == [fan.plan.release]


def test_a_stop_before_anything_was_sent_sends_nothing(fan):
    fan.run.stop("lifted", fan.now)
    assert fan.step() == []
    assert (fan.run.phase, fan.run.fired) == (Phase.ENDED, False)


def test_a_stop_while_the_session_opens_closes_it_and_fires_nothing(fan):
    fan.step()
    fan.run.stop("lifted", fan.now)
    assert fan.step() == [DEFAULT]
    assert fan.step(SESSION_YES) == []
    assert fan.ends() is Phase.ENDED
    assert not fan.run.fired


def test_a_session_closed_before_it_was_asked_is_asked_to_close_all_the_same(fan):
    fan.step()
    fan.run.stop("lifted", fan.now)
    assert fan.step(DEFAULT_YES) == [DEFAULT]


QUARTER = 0.25  # a time that is exact in binary, so that limits are met to the bit


def test_the_session_is_waited_for_exactly_half_a_second(fan):
    fan.step(dt=QUARTER)
    assert fan.step(dt=QUARTER) == []
    assert fan.step(dt=QUARTER) == [DEFAULT]


def test_the_start_is_waited_for_exactly_half_a_second(fan):
    fan.step(dt=QUARTER)
    fan.step(SESSION_YES, dt=QUARTER)
    assert fan.step(dt=QUARTER) == []
    assert fan.step(dt=QUARTER) == [fan.plan.release]


def test_release_and_close_last_exactly_as_long_as_the_design_says(fan):
    fan.step(dt=QUARTER)
    fan.step(SESSION_YES, dt=QUARTER)
    fan.run.stop("lifted", fan.now)
    out = [fan.step(dt=QUARTER) for _ in range(7)]
    assert out == [[fan.plan.release]] * 4 + [[DEFAULT], [], []]
    assert fan.run.step_now is Step.DONE


def test_the_time_limit_is_met_to_the_bit(horn):
    horn.step(dt=QUARTER)
    horn.step(SESSION_YES, dt=QUARTER)
    out = [horn.step(horn.yes(horn.plan.start), dt=QUARTER) for _ in range(12)]
    assert out[-1] == [horn.plan.release]
    assert [horn.plan.release] not in out[:-1]
    assert horn.run.complete


def test_pulses_whose_time_is_exactly_over_are_given(injector):
    injector.step(dt=QUARTER)
    injector.step(SESSION_YES, dt=QUARTER)
    injector.step(injector.yes(injector.plan.start), dt=QUARTER)
    for _ in range(16):
        injector.step(dt=QUARTER)
    assert injector.run.complete


def test_the_time_limit_of_the_family_holds_with_the_finger_still_there(horn):
    horn.answered()
    at = horn.times(horn.plan.start)[0]
    horn.for_(3.1, horn.yes(horn.plan.start))
    assert 3.0 <= horn.times(horn.plan.release)[0] - at <= 3.0 + 2 * TURN_S
    assert horn.run.complete
    assert horn.run.cause == "The time limit of 3 s is reached."


def test_pulses_are_called_given_only_when_the_controller_said_yes_and_their_time_has_passed(injector):
    injector.answered()
    injector.for_(4.1)
    assert not injector.run.cause
    injector.for_(0.1)
    assert injector.run.complete
    assert injector.run.cause == "Done: every pulse was given."


@pytest.mark.parametrize("late_s", [None, 0.4], ids=["never", "late"])
def test_pulses_a_controller_did_not_say_yes_to_in_time_are_not_called_given(output_plans, late_s):
    press = Press(output_plans["injector_1"])
    press.live()
    press.step(bytes.fromhex("7f2f78"))
    if late_s:
        press.for_(late_s)
        press.step(press.yes(press.plan.start))
    press.for_(4.2)
    assert not press.run.complete
    assert press.run.cause == "The time is up. Not every pulse is known to have been given."
    assert press.run.step_now is Step.RELEASING


def test_nothing_is_told_of_pulses_before_the_controller_said_yes(injector):
    injector.live()
    injector.for_(0.3)
    assert injector.run.known_live_s(injector.now) == 0.0
    injector.step(injector.yes(injector.plan.start))
    injector.for_(0.5)
    assert injector.run.known_live_s(injector.now) == pytest.approx(0.5, abs=0.01)


def test_what_is_told_of_the_pulses_stands_still_when_the_finger_lifts(injector):
    injector.answered()
    injector.for_(1.0)
    injector.run.stop("lifted", injector.now)
    told = injector.run.known_live_s(injector.now)
    assert told == pytest.approx(1.0, abs=0.02)
    injector.ends()
    assert injector.run.known_live_s(injector.now) == told
    assert not injector.run.complete


def test_a_run_that_only_releases_needs_no_permit_and_fires_nothing(output_plans):
    press = Press(output_plans["fan"])
    press.run = OutputRun.only_release(press.plan, 7, press.lock, press.now, "left")
    assert (press.run.press, press.run.cause, press.run.since) == (7, "left", press.now)
    assert press.run.known_live_s(press.now) == 0.0
    assert press.step() == [press.plan.release]
    press.step(press.yes(press.plan.release))
    assert press.ends() is Phase.ENDED
    assert not press.times(press.plan.start)


def test_a_run_without_a_permit_starts_nothing(output_plans):
    press = Press(output_plans["fan"])
    press.run = OutputRun(press.plan, 1, None, press.lock, press.now)
    assert press.for_(1.0, SESSION_YES) == []
    assert press.run.cause == "No leave was given."


def test_a_lost_wire_leaves_unconfirmed_what_was_fired(fan):
    fan.answered()
    fan.run.stop("The adapter went away.", fan.now)
    fan.run.give_up(fan.now + 1.0)
    assert (fan.run.phase, fan.run.since) == (Phase.NOT_CONFIRMED, fan.now + 1.0)
    assert fan.step() == []


@pytest.mark.parametrize(("step", "wanted"), [("opening", SESSION), ("live", None), ("over", b"")])
def test_a_frame_is_the_presss_own_only_at_its_moment(fan, step, wanted):
    fan.step()
    if step != "opening":
        fan.step(SESSION_YES)
    if step == "over":
        fan.run.stop("lifted", fan.now)
    wanted = fan.plan.start if wanted is None else wanted
    for pdu in (SESSION, fan.plan.start, b"\x3e\x00", b"\x10\x02", b"\x2f\xd1\x21\x03\x06"):
        assert fan.run.may_send(pdu) is (pdu == wanted)
    assert fan.run.may_send(fan.plan.release)
    assert fan.run.may_send(DEFAULT)


def test_a_start_is_not_the_presss_own_once_a_fact_has_lapsed(fan):
    fan.live()
    assert fan.run.may_send(fan.plan.start)
    fan.facts[Need.BATTERY] = Fact(None, "Battery not known")
    assert not fan.run.may_send(fan.plan.start)
    fan.facts[Need.BATTERY] = Fact(True, "Battery 12.4 V")
    assert not fan.run.may_send(fan.plan.start)
    assert fan.step() == [fan.plan.release]
    assert fan.run.cause == "Battery not known."


ANSWERS = [
    "5003003201f4",
    "5001003201f4",
    "6fd12103",
    "6fd12100",
    "7f1078",
    "7f2f78",
    "7f2f22",
    "7f2f21",
    "7f2f7f",
    "7f1022",
    "62",
]


def confirmed_by(heard):
    """Whether what was heard, in order, is enough: worked out from the rules, not from the run."""
    after = heard  # the last start
    while "6fd12103" in after:
        after = after[after.index("6fd12103") + 1 :]
    refused = after.index("7f2f7f") if "7f2f7f" in after else len(after)
    return "6fd12100" in after or "5001003201f4" in after[refused:]


@given(
    script=st.lists(
        st.tuples(
            st.lists(st.sampled_from(ANSWERS), max_size=3),
            st.sampled_from([0.005, 0.02, 0.3, 2.0]),
            st.sampled_from(["hold", "hold", "hold", "stop", "fact"]),
        ),
        max_size=60,
    )
)
@settings(max_examples=300, deadline=None)
def test_whatever_a_controller_says_a_start_is_always_followed_by_a_release(script):
    from bus.outputs import OutputData, plan

    data = OutputData("fan", "Fan", Kind.FAN, "engine", 0xD121, ("burst_100ms",), burst_s=0.5)
    press = Press(plan(data, 0x7E0, 0x7E8, 0))
    stopped, heard = False, []
    for answers, dt, finger in script:
        if finger == "stop":
            press.run.stop("lifted", press.now)
        elif finger == "fact":
            press.facts[Need.LANYARD_IN] = Fact(False, "pulled")
        stopped = stopped or finger != "hold"
        heard += answers if press.run.step_now is not Step.DONE else []
        out = press.step(*map(bytes.fromhex, answers), dt=dt)
        assert not (stopped and press.plan.start in out)
        assert press.plan.start not in out or dt < 0.3
    press.held = False
    at = press.now
    phase = press.ends(11.0)
    pending_s = 6.0 if "7f2f78" in heard else 0.0
    assert press.now - at <= 0.3 + pending_s + 2 * (RELEASE_S + CLOSE_S) + 0.1
    starts, releases = press.times(press.plan.start), press.times(press.plan.release)
    assert press.run.fired is (bool(starts) or "6fd12103" in heard)
    if press.run.fired:
        assert releases
        assert not starts or releases[0] >= starts[-1]
        assert phase is (Phase.ENDED if press.run.confirmed else Phase.NOT_CONFIRMED)
        assert confirmed_by(heard) or not press.run.confirmed
