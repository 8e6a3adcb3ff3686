"""Clocks: a process that stood still, a wall clock set back and forward, a start that knows no time.

Nothing that decides whether an output may move asks what time it is; how long ago something was is counted by
a clock that only runs on, and after a restart from the beginning.
"""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
DECIDES = (
    "app/interlock.py",
    "bus/actuate.py",
    "bus/admit.py",
    "bus/charging.py",
    "bus/confirmations.py",
    "bus/exchange.py",
    "bus/facts.py",
    "bus/fuel.py",
    "bus/gate.py",
    "bus/heard.py",
    "bus/inhibit_run.py",
    "bus/output_facts.py",
    "bus/output_past.py",
    "bus/output_run.py",
    "bus/outputs.py",
    "bus/owed.py",
)

CLOCKS = {  # what the entries of an earlier run say of their time: wall clock, running clock, which start
    "set back ten years": {"wall": 1.6e9, "boot": "before"},
    "set forward ten years": {"wall": 2.3e9, "boot": "before"},
    "no time known": {"wall": 0.0, "boot": ""},
    "before its beginning": {"wall": -1.0, "mono": -5.0, "boot": "before"},
    "far ahead of this start": {"mono": 9.9e8, "boot": "before"},
    "no number": {"wall": "yesterday", "mono": None, "boot": 7},
    "nothing": {"wall": None, "mono": None, "boot": None},
}


def with_clock(entries, clock):
    return [{**entry, **clock} for entry in entries]


def lacks(bench, key):
    bench.consider(key)
    bench.run(0.1)
    return set(bench.missing())


def sniffed(bench):
    """Everything a person promises, said again."""
    for what in ("no_smell", "no_leak", "hands_clear", "spark_safe"):
        bench.confirm(what)
    bench.turn()
    return bench


@pytest.fixture
def fired(make_bench):
    """Entries of a run in which an injector was fired to its end."""
    bench = make_bench().make_ready().live("injector_1")
    bench.until(lambda: not bench.actuation.busy, 12.0)
    bench.lift()
    bench.run(1.0)
    assert bench.journal.of("output_start")
    return bench.journal.entries


@pytest.mark.parametrize("clock", CLOCKS)
def test_whatever_the_clocks_of_an_earlier_run_say_venting_begins_anew_and_fuel_is_kept(
    make_bench, fired, clock
):
    again = make_bench(with_clock(fired, CLOCKS[clock]), start_s=40).make_ready()
    assert "vented" in lacks(again, "horn")
    again.wait_out(220.0)
    assert "vented" in lacks(sniffed(again), "horn")
    again.wait_out(20.0)
    assert "vented" not in lacks(sniffed(again), "horn")
    assert "purged" in lacks(again, "coil_1")
    again.consider("injector_1")
    again.run(0.1)
    room = next(need for need in again.state.needs if need.need == "fuel_room")
    assert "0.5 of 3.0" in room.seen


@pytest.mark.parametrize("clock", CLOCKS)
def test_whatever_they_say_what_is_owed_is_released_first_and_stays_locked(make_bench, clock):
    bench = make_bench().make_ready().live("horn")
    again = make_bench(with_clock(bench.journal.entries, CLOCKS[clock]), start_s=3)
    assert again.actuation.locked
    assert bytes.fromhex("042FD12200000000") in again.run(0.5)


ENDED = ("The tool was too slow for a moment.", "The finger's hold was not seen in time.")


@pytest.mark.parametrize("asleep_s", [0.15, 0.6, 5.0, 700.0])
@pytest.mark.parametrize("key", ["horn", "fan"])
def test_a_process_that_stood_still_ends_what_is_live_at_once(make_bench, key, asleep_s):
    bench = make_bench().make_ready().live(key)
    bench.ms += round(asleep_s * 1000)
    sent = bench.turn()
    assert sent[:1] == [bytes.fromhex(f"042FD1{'22' if key == 'horn' else '21'}00000000")]
    bench.until(lambda: not bench.actuation.busy, 3.0)
    assert bench.state.cause in ENDED
    assert not bench.controller.live()
    bench.lift()
    bench.press(key)
    bench.run(0.5)
    assert bench.state.phase == "refused"
    assert {"speed_known", "engine_stopped"} & set(bench.missing())
    bench.lift()


@pytest.mark.parametrize("asleep_s", [0.6, 5.0, 700.0])
def test_after_standing_still_no_promise_holds_that_was_made_before(make_bench, asleep_s):
    bench = make_bench().make_ready()
    for what in ("no_leak", "spark_safe"):
        bench.confirm(what)
    bench.turn()
    bench.silent = {"all"}
    bench.ms += round(asleep_s * 1000)
    bench.turn()
    bench.silent = set()
    bench.run(4.0)
    assert "no_smell" in lacks(bench, "horn")
    assert "hands_clear" in lacks(bench, "fan")
    assert "spark_safe" in lacks(bench, "coil_1")


def test_time_asleep_after_a_fuel_test_counts_only_as_it_passed(make_bench, fired):
    bench = make_bench(fired, start_s=40).make_ready()
    bench.ms += 200_000
    bench.run(5.0, ms=50)
    assert "vented" in lacks(sniffed(bench), "horn")
    bench.ms += 60_000
    bench.run(5.0, ms=50)
    assert "vented" not in lacks(sniffed(bench), "horn")


@pytest.mark.parametrize("module", DECIDES)
def test_nothing_that_decides_asks_what_time_it_is(module):
    tree = ast.parse((ROOT / module).read_text("utf-8"))
    named = {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
    named |= {node.id for node in ast.walk(tree) if isinstance(node, ast.Name)}
    named |= {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    assert not named & {"datetime", "time_ns", "localtime", "gmtime", "ctime", "CLOCK_REALTIME"}
    calls = [node.func for node in ast.walk(tree) if isinstance(node, ast.Call)]
    assert not [
        call
        for call in calls
        if isinstance(call, ast.Attribute)
        and call.attr == "time"
        and isinstance(call.value, ast.Name)
        and call.value.id == "time"
    ]
