"""Presses through the gate: charged before fired, stopped by everything that must stop, honest afterwards.

The little controller on the bench is the witness of what moves.
"""

import dataclasses
import gc
import math

import pytest
from presses import DEFAULT, RELEASE, SESSION, START, fire_injector, hexed, last_move, unconfirmed

from app.interlock import RULES


def test_a_press_runs_from_session_to_default_session_and_nothing_else_is_sent(ready):
    ready.live("horn")
    ready.run(1.0)
    assert ready.state.phase == "live"
    ready.lift()
    ready.run(0.2)
    sent = hexed(data for _, _, data in ready.sent)
    assert sent[0] == SESSION
    assert sent[-2:] == [RELEASE["horn"], DEFAULT]
    assert set(sent[1:-2]) == {START["horn"]}
    assert {ident for _, ident, _ in ready.sent} == {0x7E0}
    assert ready.state.phase == "ended"
    assert ready.state.cause == "The finger was lifted."


# --- what stops it, and how soon --------------------------------------------------------------------------

STOPS = {
    "lift": lambda bench: bench.lift(),
    "second_press": lambda bench: bench.press("fan"),
    "second_press_of_the_same": lambda bench: bench.press("horn"),
    "another_page": lambda bench: bench.consider("fan"),
    "no_page": lambda bench: bench.consider(None),
    "somebody_else": lambda bench: bench.sign_in(operator="Lee"),
    "signed_out": lambda bench: bench.sign_in(role="", operator=""),
    "leak": lambda bench: bench.confirm("leak_seen", at=0.0),
    "another_craft": lambda bench: bench.serve(type(bench)().actuation),
}


@pytest.mark.parametrize("how", STOPS)
def test_the_release_is_sent_in_the_very_turn_of_whatever_stops(ready, how):
    ready.live("horn")
    ready.run(0.4)
    STOPS[how](ready)
    ready.finger = None
    assert hexed(ready.turn())[-1:] == [RELEASE["horn"]]
    assert not ready.controller.live()


SEEN = {
    "lanyard": {"Lanyard": "Pulled"},
    "start_switch": {"StartSwitch": "Pressed"},
    "lanyard_error": {"Lanyard": "Error"},
    "engine": {"EngineSpeed": 250.0},
    "engine_by_the_display": {"EngineSpeedDisplay": 250.0},
    "speed_sentinel": {"EngineSpeed": 0xFFFF * 0.25},
    "battery": {"BatteryVoltage": 11.0},
    "manifold": {"ManifoldPressure": 60.0},
    "serial": {"serial": 20418},
}


@pytest.mark.parametrize("what", SEEN)
def test_the_release_is_sent_in_the_very_turn_in_which_the_craft_says_so(ready, what):
    ready.live("horn")
    ready.run(0.4)
    ready.values |= {key: value for key, value in SEEN[what].items() if key != "serial"}
    ready.serial = SEEN[what].get("serial", ready.serial)
    period_s = 0.1 if what in ("engine_by_the_display", "battery", "serial") else 0.05
    at = ready.clock()
    ready.until(lambda: RELEASE["horn"] in hexed(data for _, _, data in ready.sent))
    assert ready.clock() - at <= period_s + 0.005
    assert not ready.controller.live()
    assert ("Another controller answers now" in ready.state.cause) is (what == "serial")


@pytest.mark.parametrize(
    ("silent", "longest_s"),
    [
        ("EngineFast", 0.15),
        ("DisplayMain", 0.25),
        ("EngineSwitches", 0.15),
        ("EngineAir", 0.06),
        ("EngineFluids", 0.3),
        ("alive", 0.15),
        ("all", 0.15),
    ],
)
def test_what_is_not_heard_any_more_stops_within_its_longest_age(ready, silent, longest_s):
    ready.live("horn")
    ready.run(0.4)
    ready.silent.add(silent)
    at = ready.clock()
    ready.until(lambda: RELEASE["horn"] in hexed(data for _, _, data in ready.sent))
    assert ready.clock() - at <= longest_s + 0.01
    assert not ready.controller.live()


def test_a_finger_that_vanishes_without_a_word_stops_within_300_ms(ready):
    ready.live("horn")
    ready.run(0.4)
    ready.finger = None
    at = ready.clock()
    ready.until(lambda: not ready.controller.live())
    assert ready.clock() - at <= 0.3 + 0.005


def test_a_loop_that_was_late_stops_and_waits_for_what_is_heard_afterwards(ready):
    ready.live("horn")
    ready.run(0.4)
    assert hexed(ready.turn(ms=101))[-1:] == [RELEASE["horn"]]
    ready.run(1.0)
    assert "too slow" in ready.state.cause
    ready.lift()
    ready.run(0.6)
    ready.press("horn")
    ready.turn()
    assert ready.state.phase == "refused"
    assert "engine_stopped" in ready.missing()


def test_a_loop_that_was_late_before_a_press_forgets_too(ready):
    ready.turn(ms=110)  # no gap in any message, and yet
    ready.press("horn")
    ready.run(0.5)
    assert ready.sent == []


def test_a_loop_that_is_100_ms_slow_is_not_late(ready):
    ready.live("horn")
    ready.run(0.1, ms=5)
    ready.turn(ms=100)
    assert ready.state.phase == "live"


def test_another_tester_releases_locks_and_is_named(ready):
    ready.live("horn")
    ready.extra.append((0x7DF, bytes.fromhex("023e000000000000")))
    assert hexed(ready.turn())[-1:] == [RELEASE["horn"]]
    ready.lift()
    ready.run(8.0)
    assert "Another tester" in ready.actuation.locked
    ready.press("horn")
    ready.run(0.5)
    assert ready.state.phase == "refused"
    ready.gate.unlock_outputs()
    ready.lift()
    ready.run(0.6)
    ready.live("horn")


def test_the_time_limit_needs_a_lift_and_a_fresh_press(ready):
    ready.live("horn")
    ready.run(7.0)
    assert ready.state.cause == "The time limit of 3 s is reached."
    assert ready.state.phase == "ended"
    assert last_move(ready) == pytest.approx(3.0, abs=0.02)
    moves = len(ready.controller.moves)
    ready.press("horn")  # the finger never left
    ready.run(3.0)
    assert ready.state.phase == "refused"
    assert "Lift the finger" in ready.state.cause
    assert len(ready.controller.moves) == moves


@pytest.mark.parametrize(("away_s", "fires"), [(0.49, False), (0.5, True)])
def test_the_finger_must_have_been_away_for_half_a_second(ready, away_s, fires):
    ready.live("horn")
    ready.run(0.5)
    ready.lift()
    ready.run(4.0)
    ready.finger = 99
    ready.beat()
    ready.turn(ms=10)
    ready.lift()
    ready.turn(ms=10)
    at = ready.clock()
    while ready.clock() < at + away_s - 1e-9:
        ready.turn(ms=10)
    ready.press("horn")
    ready.run(0.2)
    assert bool(ready.controller.live()) is fires


def test_the_same_output_rests_for_two_seconds_another_does_not(ready):
    ready.live("horn")
    ready.lift()
    ready.until(lambda: ready.state.phase == "ended")
    ready.run(1.5)
    ready.press("horn")
    ready.turn()
    assert ready.missing() == ["outputs_free"]
    ready.lift()
    ready.run(0.51)
    ready.live("horn")
    ready.lift()
    ready.run(0.7)
    ready.live("fan")


def test_a_press_number_fires_once_and_never_again(ready):
    number = ready.press("horn")
    ready.until(ready.controller.live)
    ready.lift()
    ready.run(4.0)
    moves = len(ready.controller.moves)
    ready.press("horn", number=number)
    ready.run(1.0)
    assert len(ready.controller.moves) == moves
    assert ready.state.phase == "ended"


@pytest.mark.parametrize("at", [-0.296, 0.006, 3600.0, math.inf, math.nan], ids=str)
def test_a_press_of_another_time_fires_nothing(ready, at):
    ready.press("horn", at=ready.clock() + at)
    ready.turn(ms=5)  # it is looked at then
    ready.finger = None
    ready.run(4.0)
    assert ready.sent == []
    assert ready.journal.of("output_start") == []


@pytest.mark.parametrize("at", [0.021, 3600.0, math.inf, math.nan], ids=str)
def test_beats_of_another_time_keep_nothing_live(ready, at):
    ready.live("horn")
    number, ready.finger = ready.finger, None
    for _ in range(20):
        ready.beat(at=ready.clock() + at, number=number)
        ready.turn(ms=20)
    assert not ready.controller.live()


def test_beats_of_another_press_keep_nothing_live(ready):
    ready.live("horn")
    ready.finger += 1
    ready.run(0.4)
    assert not ready.controller.live()


def test_a_lift_of_another_press_stops_nothing(ready):
    from app.output_messages import Lift

    ready.live("horn")
    ready.ask(Lift(ready.finger + 5, "an old one"))
    ready.run(0.3)
    assert ready.state.phase == "live"


# --- charged before fired ---------------------------------------------------------------------------------


def test_nothing_is_sent_before_the_charge_is_on_the_disk(ready):
    ready.journal.stuck = True
    ready.press("injector_1")
    ready.run(1.0)
    assert ready.sent == []
    assert ready.state.phase == "starting"
    ready.journal.stuck = False
    ready.until(ready.controller.live)
    starts = [at for at, _, data in ready.sent if data.hex() == START["injector_1"]]
    assert [entry["kind"] for entry in ready.journal.entries if entry["mono"] <= starts[0]][
        -1
    ] == "output_start"
    body = ready.journal.of("output_start")[0]
    assert (body["craft"], body["cylinder"], body["fuel_cm3"]) == ("auk 20417", 1, pytest.approx(0.5))


@pytest.mark.parametrize("end", ["lift", "silent_finger", "fact", "too_slow", "full"])
def test_a_press_that_ends_while_it_is_charged_fires_nothing_later(ready, end):
    ready.journal.stuck = True
    ready.press("injector_1")
    ready.run(0.2)
    if end == "lift":
        ready.lift()
    elif end == "silent_finger":
        ready.finger, finger = None, ready.finger
        ready.run(0.4)
        ready.finger = finger
    elif end == "fact":
        ready.values["Lanyard"] = "Pulled"
        ready.run(0.2)
        ready.values["Lanyard"] = "In place"
    elif end == "too_slow":
        ready.run(2.1)
    else:
        ready.journal.full = True
    ready.run(0.1)
    ready.journal.stuck = False
    ready.run(2.0)
    assert ready.sent == []
    assert ready.state.phase == "refused"
    assert ready.state.cause
    ready.lift()
    ready.run(3.0)
    ready.consider("injector_1")
    ready.turn(ms=50)
    room = next(need for need in ready.state.needs if need.need == "fuel_room")
    assert "0.5 of 3.0" in room.seen  # charged, and never taken back


def test_a_refused_press_charges_nothing(ready):
    ready.values["BatteryVoltage"] = 11.0
    ready.run(0.3)
    ready.press("injector_1")
    ready.run(0.5)
    assert ready.journal.of("output_start") == []
    assert ready.journal.of("refused")[0]["needs"] == ["battery"]


def test_fuel_stops_at_the_ceilings_of_cylinder_and_craft_over_restarts(make_bench):
    bench = make_bench().make_ready()
    fired = [fire_injector(bench) for _ in range(3)]
    bench = make_bench(bench.journal.entries).make_ready()
    bench.wait_out(241.0)
    fired += [fire_injector(bench) for _ in range(4)]
    assert fired == [True] * 6 + [False]  # 6 x 0.5 = 3.0 cm3 in the cylinder: by hand
    fired = [fire_injector(bench, "injector_2") for _ in range(3)]
    assert fired == [True, True, False]  # 3.0 + 2 x 0.5 = 4.0 cm3 in the craft
    assert "fuel_room" in bench.missing()


def test_fuel_of_one_craft_is_not_charged_to_another_and_a_run_of_the_engine_burns_it(make_bench):
    bench = make_bench().make_ready()
    fire_injector(bench)
    bench.values |= {"EngineSpeed": 1300.0, "EngineSpeedDisplay": 1300.0, "ManifoldPressure": 40.0}
    bench.run(31.0, ms=20)
    assert bench.purged == ["auk 20417"]
    bench.values |= {"EngineSpeed": 0.0, "EngineSpeedDisplay": 0.0, "ManifoldPressure": 101.0}
    bench.consider("injector_1")
    bench.run(3.0, ms=20)
    room = next(need for need in bench.state.needs if need.need == "fuel_room")
    assert "0.0 of 3.0" in room.seen
    other = make_bench(bench.journal.entries, serial=5).make_ready()
    other.consider("injector_1")
    other.turn(ms=50)
    assert "fuel_room" not in other.missing()


# --- venting ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("output", ["injector_2", "fan", "horn"])
def test_after_fuel_nothing_moves_for_four_minutes_and_a_nose_comes_again(ready, output):
    ready.live("injector_1")
    ready.lift()
    ready.run(0.3)
    ended = ready.clock()
    ready.run(3.0)
    ready.confirm("no_smell")  # too early a nose
    ready.consider(output)
    ready.run(1.0, ms=50)
    assert {"vented", "no_smell"} <= set(ready.missing())
    while ready.clock() < ended + 239.0:
        ready.turn(ms=50)
    assert "vented" in ready.missing()
    ready.run(1.5, ms=50)
    assert "vented" not in ready.missing()
    assert "no_smell" in ready.missing()
    ready.confirm("no_smell")
    ready.confirm("hands_clear")
    ready.run(0.1)
    assert ready.missing() == []


def test_after_a_restart_the_full_four_minutes_begin_again(make_bench):
    bench = make_bench().make_ready()
    bench.live("injector_1")
    bench.lift()
    bench.wait_out(200.0)
    bench = make_bench(bench.journal.entries, start_s=100_000).make_ready()
    bench.consider("horn")
    bench.wait_out(230.0)
    assert "vented" in bench.missing()
    bench.run(12.0, ms=50)
    assert "vented" not in bench.missing()
    again = make_bench(bench.journal.entries, start_s=1000).make_ready()
    again.consider("horn")
    again.turn(ms=50)
    assert again.missing() == []  # that it was vented is in the journal


def test_a_leak_seen_starts_the_same_clock_and_always_counts(ready):
    ready.confirm("leak_seen", at=0.0)
    ready.consider("horn")
    ready.turn(ms=50)
    assert {"vented", "no_smell"} <= set(ready.missing())
    ready.wait_out(240.5)
    assert ready.missing() == ["no_smell"]
    assert ready.journal.of("leak")


def test_only_what_lets_fuel_in_starts_the_clock(ready):
    ready.live("fan")
    ready.lift()
    ready.run(3.0)
    ready.consider("horn")
    ready.turn(ms=50)
    assert ready.missing() == []


# --- not confirmed ----------------------------------------------------------------------------------------


def test_a_release_not_confirmed_is_repeated_said_and_locks_everything(ready):
    unconfirmed(ready)
    assert ready.state.phase == "not_confirmed"
    assert ready.actuation.locked == "horn was not confirmed stopped"
    assert hexed(data for _, _, data in ready.sent).count(RELEASE["horn"]) >= 20
    before = len(ready.sent)
    for output in ("horn", "fan", "injector_1"):
        ready.run(3.0)
        ready.press(output)
        ready.run(0.5)
        ready.lift()
    assert len(ready.sent) == before
    ready.consider("fan")
    ready.turn(ms=50)
    assert ready.state.phase == "not_confirmed"  # no other page hides it
    assert ready.state.output == "horn"


def test_a_lock_ends_with_a_fresh_reading_and_with_nothing_else(ready, make_bench):
    unconfirmed(ready)
    ready.controller.mute = ready.controller.stubborn = False
    ready.run(20.0, ms=20)
    assert ready.actuation.locked
    ready.sign_in(operator="Lee")
    ready.turn()
    assert ready.actuation.locked
    restarted = make_bench(ready.journal.entries).make_ready()
    assert restarted.actuation.locked
    ready.gate.unlock_outputs()
    ready.run(0.1)
    assert ready.actuation.locked == ""
    assert ready.state is None or ready.state.phase != "not_confirmed"
    assert make_bench(ready.journal.entries).make_ready().actuation.locked == ""


def test_a_lock_is_on_the_craft_that_earned_it(ready, make_bench):
    unconfirmed(ready)
    other = make_bench(ready.journal.entries, serial=5).make_ready()
    assert other.actuation.locked == ""
    assert other.sent == []
    other.gate.unlock_outputs()
    other.live("horn")
    other.lift()
    other.run(3.0)
    first = make_bench(other.journal.entries)
    assert first.actuation.locked


def test_a_reading_of_a_craft_whose_serial_is_not_known_unlocks_nothing(ready):
    unconfirmed(ready)
    ready.silent.add("all")
    ready.run(1.0)
    ready.gate.unlock_outputs()
    ready.run(0.2)
    assert ready.actuation.locked


# --- who, and what is told --------------------------------------------------------------------------------


@pytest.mark.parametrize("role", ["", "rider", "owner", "dock", "Technician", "technician "])
def test_only_a_technician_fires(ready, role):
    ready.sign_in(role)
    ready.press("horn")
    ready.run(0.5)
    assert ready.sent == []
    assert ready.missing() == ["role"]


@pytest.mark.parametrize("output", ["horn", "fan", "injector_1"])
def test_what_this_version_does_not_fire_is_not_fired(ready, output, monkeypatch):
    unreleased = {kind: dataclasses.replace(rule, released=False) for kind, rule in RULES.items()}
    monkeypatch.setattr("bus.output_facts.RULES", unreleased)
    ready.press(output)
    ready.run(0.5)
    assert ready.sent == []
    assert ready.missing() == ["released"]


def test_an_output_nobody_knows_is_ignored(ready):
    ready.press("warp_drive")
    ready.consider("warp_drive")
    ready.run(0.5)
    assert ready.sent == []
    assert ready.state is None


def test_while_one_is_live_the_glass_is_told_of_that_one(ready):
    ready.live("horn")
    ready.consider("fan")
    ready.turn()
    assert ready.state.output == "horn"
    assert ready.state.phase == "releasing"


def test_the_glass_is_told_what_a_press_is_doing(ready):
    seen = []
    ready.press("injector_1")
    for _ in range(1000):
        ready.turn()
        if not seen or seen[-1] != ready.state.phase:
            seen.append(ready.state.phase)
    assert seen == ["starting", "live", "releasing", "ended"]
    assert ready.state.fired
    assert ready.state.pulses == 20
    assert ready.state.progress == 1.0


def test_pulses_are_told_from_the_controllers_own_yes(ready):
    ready.controller.mutes.add(0x2F)
    ready.live("injector_1")
    ready.run(0.4)
    assert ready.state.pulses == 0
    ready.run(2.5)
    assert ready.state.phase == "not_confirmed"
    assert ready.state.pulses == 0


def test_an_end_before_anything_moved_is_told_as_such(ready):
    ready.controller.mute = True
    ready.press("horn")
    ready.run(1.5)
    assert ready.state.phase == "ended"
    assert not ready.state.fired
    assert not ready.actuation.locked
    assert ready.journal.of("output_end")[0]["confirmed"] is False


def test_only_words_that_count_are_in_the_journal(ready):
    before = len(ready.journal.of("confirm"))
    ready.confirm("no_smell", at=ready.clock() - 2.0)
    ready.confirm("anything")
    ready.turn()
    assert len(ready.journal.of("confirm")) == before


def test_answers_of_another_controller_confirm_nothing(ready):
    ready.live("horn")
    ready.controller.mute = ready.controller.stubborn = True
    ready.lift()
    ready.extra.append((0x7E9, bytes.fromhex("046fd12200000000")))
    ready.turn()
    ready.extra.append((0x7E9, bytes.fromhex("046fd12200000000")))
    ready.run(2.0)
    assert ready.state.phase == "not_confirmed"


def test_no_collection_stops_the_loop_while_something_is_live(ready):
    assert gc.isenabled()
    ready.live("horn")
    assert not gc.isenabled()
    ready.lift()
    ready.run(0.5)
    assert gc.isenabled()
