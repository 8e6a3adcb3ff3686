"""Fuel or spark held off while a person cranks: asked for, read back, kept while it turns, ended at rest.

Rule: design section 4, rule 8. The little controller on the bench is the witness of what is held.
"""

import gc
from itertools import pairwise

import pytest
from inhibits import (
    DEFAULT,
    RELEASE,
    SESSION,
    START,
    STATUS,
    cranked,
    end,
    hexed,
    holds,
    latched,
    lets_go,
    say_clear,
    sent,
    still,
)

from app.output_messages import Watch

NOT_KNOWN = "NOT known to hold"
INHIBITS = list(START)


def stays(bench, seconds=2.2):
    """Nothing but its read back leaves, and it holds all the while."""
    before = len(bench.sent)
    bench.run(seconds, ms=20)
    assert set(sent(bench)[before:]) <= {STATUS["fuel_off"]}
    assert holds(bench)
    assert bench.state.phase == "latched"


@pytest.mark.parametrize("output", INHIBITS)
def test_from_the_press_to_the_default_session_these_frames_leave_and_no_others(ready, output):
    latched(ready, output)
    assert sent(ready) == [SESSION, START[output], STATUS[output]]
    cranked(ready)
    ready.run(4.0)
    still(ready)
    end(ready)
    lets_go(ready)
    ready.run(0.3)
    frames = sent(ready)
    assert frames[-2:] == [RELEASE[output], DEFAULT]
    assert set(frames[3:-2]) == {STATUS[output]}
    assert {ident for _, ident, _ in ready.sent} == {0x7E0}
    assert (ready.state.phase, ready.state.cause) == ("ended", "It was ended on the glass.")
    assert not ready.controller.live()
    assert not ready.actuation.busy


def test_it_is_read_back_every_second_for_as_long_as_it_holds(ready):
    latched(ready)
    ready.run(20.0)
    reads = [at for at, _, data in ready.sent if data.hex() == STATUS["fuel_off"]]
    assert len(reads) == 21
    assert all(b - a == pytest.approx(1.0, abs=0.011) for a, b in pairwise(reads))
    assert ready.clock() - ready.state.confirmed_at <= 1.1
    assert holds(ready)  # the controller's session timer of 5 s (ISO 14229-2) was kept alive by that alone


def test_the_glass_is_told_each_step(ready):
    say_clear(ready)
    ready.watching = ready.press("fuel_off")
    seen = []
    for turn in range(2000):
        ready.turn()
        if turn == 200:
            ready.lift()
        if turn == 1000:
            end(ready)
        state = (ready.state.phase, ready.state.confirmed_at > 0, ready.state.ending)
        if state not in seen:
            seen.append(state)
    ended = "It was ended on the glass."
    assert seen == [
        ("starting", False, ""),
        ("latched", True, ""),
        ("releasing", True, ended),
        ("ended", True, ended),
    ]


# --- never without reading back -----------------------------------------------------------------------------


@pytest.mark.parametrize("how", ["says 00", "negative", "silent", "start refused", "start unanswered"])
def test_it_is_never_latched_unless_the_controller_said_that_it_holds(ready, how):
    controller, phases = ready.controller, set()
    say_clear(ready)
    ready.watching = ready.press("fuel_off")
    ready.until(lambda: SESSION in sent(ready))
    if how == "says 00":
        controller.forgets = True
    elif how in ("negative", "start refused"):
        controller.refuses = {0x22: 0x22} if how == "negative" else {0x2F: 0x22}
    else:
        controller.mutes = {0x22} if how == "silent" else {0x2F}
    for _ in range(600):
        ready.turn()
        phases.add(ready.state.phase)
        if how == "start refused" and RELEASE["fuel_off"] in sent(ready):
            controller.refuses = {}
        if how == "start unanswered" and RELEASE["fuel_off"] in sent(ready):
            controller.mutes = set()
    assert "latched" not in phases
    assert phases <= {"starting", "releasing", "ended"}
    assert ready.state.phase == "ended"
    assert ready.state.cause
    assert ready.state.confirmed_at == 0
    assert not ready.controller.live()
    assert not ready.journal.of("inhibit_held")


def test_silence_to_the_read_back_is_given_a_second_and_no_more(ready):
    say_clear(ready)
    ready.controller.mutes = {0x22}
    ready.press("fuel_off")
    ready.until(ready.controller.live)
    at = ready.clock()
    ready.until(lambda: not ready.controller.live())
    assert ready.clock() - at == pytest.approx(1.0, abs=0.05)
    assert sent(ready).count(STATUS["fuel_off"]) == 1
    assert "did not say that it holds" in ready.state.cause


def test_an_answer_of_another_identifier_latches_nothing(ready):
    say_clear(ready)
    ready.controller.mutes = {0x22}
    ready.press("fuel_off")
    for _ in range(100):
        ready.extra.append((0x7E8, bytes.fromhex("0462d14201000000")))
        ready.extra.append((0x7E9, bytes.fromhex("0462d14101000000")))
        ready.turn()
        assert ready.state.phase != "latched"


@pytest.mark.parametrize("answer", ["0362d14100000000", "0562d14101000000", "0462d141ff000000"])
def test_only_the_exact_answer_counts(ready, answer):
    say_clear(ready)
    ready.controller.mutes = {0x22}
    ready.press("fuel_off")
    ready.until(lambda: STATUS["fuel_off"] in sent(ready))
    ready.extra.append((0x7E8, bytes.fromhex(answer)))
    ready.run(0.3)
    assert ready.state.phase == "ended"
    assert "does not hold" in ready.state.cause


@pytest.mark.parametrize("how", ["lift", "lanyard", "late", "end", "page"])
def test_before_it_is_read_back_it_is_a_press_like_any_other(ready, how):
    say_clear(ready)
    ready.controller.mutes = {0x22}
    ready.watching = ready.press("fuel_off")
    ready.until(lambda: STATUS["fuel_off"] in sent(ready))
    if how == "lift":
        ready.lift()
    elif how == "lanyard":
        ready.values["Lanyard"] = "Pulled"
        ready.run(0.06)
    elif how == "end":
        end(ready)
    elif how == "page":
        ready.consider("fan")
    if how == "late":  # nothing heard before counts any more: at rest for two seconds from then on
        ready.turn(ms=101)
        assert 2.0 <= lets_go(ready) <= 2.3
        return
    assert RELEASE["fuel_off"] in hexed(ready.turn()) or RELEASE["fuel_off"] in sent(ready)
    assert not ready.controller.live()


def test_an_engine_that_turns_before_it_was_read_back_is_in_doubt_and_given_back_at_rest(ready):
    say_clear(ready)
    ready.controller.mutes = {0x22}
    ready.press("fuel_off")
    ready.until(lambda: STATUS["fuel_off"] in sent(ready))
    cranked(ready)
    ready.lift()
    assert ready.state.phase == "latched"
    assert "Do not crank" in ready.state.doubt
    assert NOT_KNOWN in ready.state.doubt
    assert ready.state.confirmed_at == 0
    assert "turning" in ready.state.ending
    stays(ready)
    ready.controller.mutes = set()
    still(ready)
    assert 2.0 <= lets_go(ready) <= 2.3
    ready.run(0.3)
    assert ready.state.phase == "ended"
    assert not ready.journal.of("inhibit_held")


# --- kept ---------------------------------------------------------------------------------------------------

KEPT = {
    "engine speed": {"EngineSpeed": 300.0, "EngineSpeedDisplay": 300.0},
    "engine runs": {"EngineSpeed": 1500.0, "EngineSpeedDisplay": 1500.0},
    "engine speed of one source": {"EngineSpeed": 300.0},
    "engine speed of the other": {"EngineSpeedDisplay": 300.0},
    "engine speed not available": {"EngineSpeed": 0xFFFF * 0.25},
    "start switch": {"StartSwitch": "Pressed"},
    "lanyard": {"Lanyard": "Pulled"},
    "lanyard error": {"Lanyard": "Error"},
    "battery": {"BatteryVoltage": 9.0},
    "manifold": {"ManifoldPressure": 60.0},
}


@pytest.mark.parametrize("what", KEPT)
def test_no_fact_drops_it_once_it_was_read_back(ready, what):
    latched(ready)
    ready.values |= KEPT[what]
    stays(ready)
    assert (ready.state.ending, ready.state.doubt) == ("", "")


@pytest.mark.parametrize("silent", ["EngineFast", "DisplayMain", "EngineSwitches", "EngineFluids", "alive"])
def test_nothing_that_falls_silent_drops_it(ready, silent):
    latched(ready)
    ready.silent.add(silent)
    stays(ready)
    assert ready.state.ending == ""


def test_the_finger_may_lift_and_promises_may_run_out(ready):
    latched(ready)
    stays(ready, 35.0)  # hands and jet clear hold for 30 s
    assert {"hands_clear", "jet_clear"} <= set(ready.missing())
    assert ready.state.ending == ""


def test_a_late_loop_does_not_end_it_but_what_was_heard_before_counts_no_more(ready):
    latched(ready)
    ready.turn(ms=150)
    stays(ready, 0.5)
    assert ready.state.ending == ""
    end(ready)
    assert 1.3 <= lets_go(ready) <= 1.8  # two seconds of standing still, from the late turn on


def test_the_collector_runs_while_it_holds(ready):
    say_clear(ready)
    ready.watching = ready.press("fuel_off")
    ready.until(ready.controller.live)
    assert not gc.isenabled()
    ready.until(lambda: ready.state.phase == "latched")
    ready.turn()
    assert gc.isenabled()


# --- given back only at rest ------------------------------------------------------------------------------


def test_at_rest_it_is_given_back_in_the_very_turn_it_is_asked_for(ready):
    latched(ready)
    end(ready)
    assert hexed(ready.turn()) == [RELEASE["fuel_off"]]
    assert not ready.controller.live()


def test_it_is_given_back_after_two_seconds_of_standing_still(ready):
    cranked(latched(ready))
    end(ready)
    stays(ready)
    assert ready.state.ending == "It was ended on the glass."
    still(ready)
    assert 2.0 <= lets_go(ready) <= 2.2


UNKNOWN = {
    "one source missing": lambda bench: bench.silent.add("EngineFast"),
    "the other missing": lambda bench: bench.silent.add("DisplayMain"),
    "one source turns": lambda bench: bench.values.update(EngineSpeed=200.0),
    "the other turns": lambda bench: bench.values.update(EngineSpeedDisplay=200.0),
    "one not available": lambda bench: bench.values.update(EngineSpeed=0xFFFF * 0.25),
    "start switch pressed": lambda bench: bench.values.update(StartSwitch="Pressed"),
    "start switch not known": lambda bench: bench.values.update(StartSwitch="Error"),
    "switches not heard": lambda bench: bench.silent.add("EngineSwitches"),
}


@pytest.mark.parametrize("what", UNKNOWN)
def test_whatever_is_not_known_to_stand_still_keeps_it(ready, what):
    latched(ready)
    UNKNOWN[what](ready)
    ready.run(0.35)
    end(ready)
    stays(ready, 3.0)
    ready.silent.clear()
    still(ready)
    lets_go(ready)


def test_a_turn_of_the_engine_begins_the_two_seconds_anew(ready):
    cranked(latched(ready))
    end(ready)
    still(ready)
    ready.run(1.5)
    cranked(ready)
    still(ready)
    assert 2.0 <= lets_go(ready) <= 2.2


def test_a_crank_before_the_release_is_confirmed_holds_it_again(ready):
    latched(ready)
    ready.controller.stubborn = True
    end(ready)
    ready.run(0.2)
    assert sent(ready).count(RELEASE["fuel_off"]) >= 3
    cranked(ready)
    assert holds(ready)
    stays(ready)
    assert DEFAULT not in sent(ready)
    ready.controller.stubborn = False
    still(ready)
    assert 2.0 <= lets_go(ready) <= 2.2
    ready.run(0.3)
    assert ready.state.phase == "ended"


def test_a_release_that_is_not_confirmed_locks_as_for_any_output(ready):
    latched(ready)
    ready.controller.mute = ready.controller.stubborn = True
    end(ready)
    ready.run(1.7)
    assert ready.state.phase == "not_confirmed"
    assert ready.actuation.locked == "fuel_off was not confirmed stopped"
    assert sent(ready).count(RELEASE["fuel_off"]) >= 20  # design 7: every 50 ms for 1 s
    ready.gate.unlock_outputs()
    ready.turn()
    assert ready.actuation.locked == ""


# --- nothing beside it ------------------------------------------------------------------------------------


@pytest.mark.parametrize("other", ["horn", "spark_off", "fuel_off"])
def test_nothing_else_starts_while_it_holds(ready, other):
    cranked(latched(ready))
    before = len(ready.sent)
    ready.press(other)
    ready.run(0.5)
    assert set(sent(ready)[before:]) <= {STATUS["fuel_off"]}
    assert ready.journal.of("refused")[-1]["needs"] == ["outputs_free"]


def test_watching_counts_by_its_own_time_and_press(ready):
    latched(ready)
    number, ready.watching = ready.watching, None
    at = ready.clock()
    while not ready.state.ending:
        assert ready.clock() < at + 4.0
        for forged in (Watch(number, ready.clock() + 60.0), Watch(number + 1, ready.clock())):
            ready.ask(forged)
        ready.ask(Watch(number, at - 1.0))
        ready.turn(ms=20)
    assert ready.clock() >= at + 2.0
    assert "glass" in ready.state.ending


def test_an_answer_that_nobody_asked_for_latches_nothing_and_renews_nothing(ready):
    held = (0x7E8, bytes.fromhex("0462d14101000000"))
    say_clear(ready)
    ready.controller.mutes = {0x2F}
    ready.watching = ready.press("fuel_off")
    ready.until(lambda: START["fuel_off"] in sent(ready))
    for _ in range(20):
        ready.extra.append(held)
        ready.turn()
        assert ready.state.phase == "starting"
    ready.controller.mutes = set()
    ready.lift()
    ready.run(3.0)
    latched(ready)
    ready.run(0.5)
    confirmed_at = ready.state.confirmed_at
    ready.extra.append(held)
    ready.run(0.1)
    assert ready.state.confirmed_at == confirmed_at
