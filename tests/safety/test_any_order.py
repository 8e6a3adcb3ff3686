"""Everything that can happen around a press, in any order: what moves is allowed to move, at every turn.

The judge (``any_order_parts/judge.py``) is worked out from the safety notes by hand. Each cause that ends a
press has a story of its own among the steps, so that rare ones come often; and each cause is switched off
once, to show that the judge would see it.
"""

import collections
import os
import time

import pytest
from any_order_parts.causes import MUST_COME, none_yet, table_of
from any_order_parts.drive import sessions
from any_order_parts.inhibit_stories import HELD_STORIES
from any_order_parts.judge import KEYS, PROVED, Wrong
from any_order_parts.stories import CAUSES, DELAYS, NEVER_LIVE, Stories
from any_order_parts.switched_off import OFF, RULE_8, WHILE_CHARGED

STEPS = 120
"""In the life of one bench."""

MANY_STEPS, OFTEN = 225_000, 500
"""The long profile: steps in all, and how often each cause must have ended a press."""


def ended(counts, cause):
    return counts[cause, True] + counts[cause, False]


def test_in_any_order_nothing_moves_that_must_not_and_nothing_is_claimed_that_is_not_known(make_bench):
    counts, ends, kinds, _ = sessions(make_bench, [f"quick {number}" for number in range(3)], STEPS)
    print(table_of(counts))
    assert counts["starts"] > 50, "too little was fired to have shown anything"
    assert len(kinds) >= len(KEYS) - 1
    assert {"live", "latched", "ended", "refused", "releasing", "not_confirmed"} <= ends


@pytest.mark.slow
@pytest.mark.timeout(4 * 3600)
def test_the_same_in_very_many_orders_new_ones_each_time(make_bench, capsys):
    began = time.time_ns()
    seeds = [f"long {began} {number}" for number in range(-(-MANY_STEPS // STEPS))]
    counts, ends, kinds, cranked_out = sessions(make_bench, seeds, STEPS, workers=os.cpu_count() or 1)
    with capsys.disabled():
        print(f"\nseeds 'long {began} 0' to '{len(seeds) - 1}'\n{table_of(counts)}")
    assert counts["steps"] >= MANY_STEPS
    assert set(KEYS) == kinds
    assert {"starting", "live", "latched", "ended", "refused", "releasing", "not_confirmed"} == ends
    assert cranked_out > 10
    assert {cause: ended(counts, cause) for cause in MUST_COME if ended(counts, cause) < OFTEN} == {}


@pytest.mark.parametrize("cause", CAUSES)
def test_each_cause_ends_a_press_at_every_moment_of_it_and_is_named(make_bench, cause):
    machine = Stories(make_bench)
    delays = DELAYS[::4] if cause in HELD_STORIES else DELAYS  # what is held is so at every moment
    for draw, delay in enumerate(delays):
        machine.story(cause, draw * 4, delay)
    fired = [machine.counts[cause, fired] for fired in (True, False)]
    assert sum(fired) == len(delays)
    assert (fired[0] == 0) if cause in NEVER_LIVE else (fired[0] >= len(delays) // 2)
    print(table_of(machine.counts))


def test_every_cause_of_the_table_has_a_story_and_a_way_to_switch_it_off():
    assert set(CAUSES) == set(MUST_COME) == set(OFF)


@pytest.mark.parametrize("cause", OFF)
def test_with_a_cause_switched_off_the_judge_sees_it(make_bench, monkeypatch, cause):
    OFF[cause](monkeypatch)
    machine = Stories(make_bench)
    machine.words = False
    with pytest.raises(Wrong):
        stories_of(machine, cause)
    assert ended(machine.counts, cause) == 0


def stories_of(machine, cause):
    for draw in range(1, 5):
        machine.story(cause, draw, 25 * draw)


@pytest.mark.parametrize("cause", ["lift", "page", "operator", "second press"])
def test_a_press_that_ends_while_it_is_charged_must_not_start(make_bench, monkeypatch, cause):
    WHILE_CHARGED(monkeypatch)
    machine = Stories(make_bench)
    machine.words = False
    with pytest.raises(Wrong, match="a press that was over starts"):
        machine.story(cause, 0, 0)


def held_off_and_cranked(machine):
    machine.make_fit("fuel_off")
    machine.hold_off("fuel_off")
    machine.wait(0.1)
    machine.lift("lift")
    machine.crank(250.0, "both", 1.5)


def what_rule_8_speaks_of(machine):
    """Held and cranked on; denied by the controller; at rest again; and the process killed under a crank."""
    held_off_and_cranked(machine)
    machine.bench.controller.forgets = True
    machine.wait(2.4)
    machine.bench.controller.forgets = False
    machine.the_switch_is_let_go_of_and_the_engine_runs_down(3.0)
    held_off_and_cranked(machine)
    machine.the_process_is_killed_and_started()
    machine.wait(1.2)


def test_all_that_rule_8_speaks_of_is_right_to_the_judge(make_bench):
    machine = Stories(make_bench)
    what_rule_8_speaks_of(machine)
    assert machine.endings == ["held: says 00"]
    assert machine.holding


@pytest.mark.parametrize("sentence", RULE_8)
def test_with_a_sentence_of_rule_8_broken_the_judge_sees_it(make_bench, monkeypatch, sentence):
    RULE_8[sentence](monkeypatch)
    with pytest.raises(Wrong):
        what_rule_8_speaks_of(Stories(make_bench))


def test_after_a_restart_the_judge_sees_a_release_before_rest(make_bench, monkeypatch):
    machine = Stories(make_bench)
    held_off_and_cranked(machine)
    RULE_8["released while it turns"](monkeypatch)
    with pytest.raises(Wrong, match="given back"):
        machine.the_process_is_killed_and_started()


def test_what_a_dead_process_fired_on_a_craft_that_fell_silent_ends_by_itself_and_is_released(make_bench):
    """The next process knows of no craft to send anything to; the request itself is finite."""
    machine = Stories(make_bench)
    machine.press_as_an_honest_hand_does(output="injector_2", held=0.0)
    machine.bench.silent.add("all")
    machine.wait(0.02)
    machine.the_process_is_killed_and_started()
    assert machine.bench.sent == []
    machine.wait(4.0, ms=20)
    assert machine.bench.controller.live() == set()
    machine.bench.silent.clear()
    machine.wait(0.5)
    assert bytes.fromhex("2fd10200") in [data[1:5] for _, _, data in machine.bench.sent]


@pytest.mark.parametrize(("told_s", "ends"), [(0.0, "stale"), (0.15, "engine speed")])
def test_a_speed_that_its_source_never_came_to_tell_ends_nothing_before_the_silence_does(
    make_bench, told_s, ends
):
    machine = Stories(make_bench)
    machine.press_as_an_honest_hand_does(output="fan", held=0.1)
    machine.bench.values["EngineSpeedDisplay"] = 20.0
    machine.wait(told_s)
    machine.something_falls_silent(what="DisplayMain")
    machine.wait(0.5)
    assert machine.endings == [ends]


def test_a_run_with_a_dip_too_short_to_be_heard_still_counts_as_one(make_bench):
    machine = Stories(make_bench)
    machine.the_engine_fires_up()
    machine.wait(0.02)
    machine.engine(20.0, "two")
    machine.engine_runs_for_half_a_minute()
    assert machine.purges == 1


def test_a_run_with_a_dip_that_is_heard_does_not(make_bench):
    machine = Stories(make_bench)
    machine.bench.values |= {"EngineSpeed": 1300.0, "EngineSpeedDisplay": 1300.0, "ManifoldPressure": 40.0}
    machine.wait(20.0, ms=40)
    machine.engine(20.0, "two")
    machine.wait(0.3)
    machine.engine(1300.0, "two")
    machine.wait(20.0, ms=40)
    assert machine.purges == 0


def test_a_process_killed_before_its_start_left_does_not_know_that_and_asks_the_controller(make_bench):
    machine = Stories(make_bench)
    machine.make_fit("fuel_off")
    machine.hold_off("fuel_off")
    machine.the_process_is_killed_and_started()
    assert [data[1] for _, _, data in machine.bench.sent if data[1] in (0x22, 0x2F)][:1] == [0x22]
    machine.wait(4.0)
    assert not machine.bench.actuation._past.due(f"auk {PROVED}")


def test_cranked_before_its_release_is_confirmed_it_is_not_called_held(make_bench):
    machine = Stories(make_bench)
    machine.make_fit("fuel_off")
    machine.hold_off("fuel_off")
    machine.wait(0.1)
    machine.bench.controller.mute = True  # it obeys, and its answer is lost
    machine.it_is_ended_on_the_glass()
    machine.wait(0.1)
    machine.crank(250.0, "both", 0.3)
    assert machine.bench.state.phase == "latched"
    assert "NOT known to hold" in machine.bench.state.doubt


def test_a_crank_with_the_plugs_out_purges_in_these_orders_too(make_bench):
    machine = Stories(make_bench)
    machine.fuel_comes_in_and_is_cranked_out(300.0, 1.0)
    assert machine.cranked_out == 1


def test_the_table_counts_what_it_is_given():
    counts = none_yet()
    counts["lift", True] = 7
    assert isinstance(counts, collections.Counter)
    assert "lift" + " " * 24 + f"{7:9} {0:8}" in table_of(counts)
