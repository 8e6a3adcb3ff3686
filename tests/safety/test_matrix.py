"""The matrix of outputs, row by row, through the gate: what each kind needs beside what all need.

Rows: trade facts, table 2.2, and the design's section 4 from its rule 6 on. The little controller on the
bench obeys every start; what it heard is what was let out.
"""

import pytest

from app.interlock import Kind
from bus.outputs import OutputData, plan

START = {
    "coil_1": "062fd111030a1e00",
    "fuel_pump": "052fd12303050000",
    "bilge_pump": "052fd12403050000",
    "plate": "052fd12503050000",
    "gate": "052fd13103050000",
    "trim": "052fd13203050000",
    "lamp": "052fd12603050000",
    "gauges": "052fd12703050000",
}
BURSTS = {
    "bilge_pump": (Kind.BILGE_PUMP, 0xD124, 0.0),
    "plate": (Kind.THROTTLE_PLATE, 0xD125, 0.0),
    "lamp": (Kind.LAMP, 0xD126, 0.0),
    "gauges": (Kind.GAUGES, 0xD127, 0.0),
    "gate": (Kind.REVERSE_GATE, 0xD131, 4.0),
    "trim": (Kind.TRIM, 0xD132, 3.0),
}
OWN_WORDS = {  # what a person must say for this kind beside "hatch open, no smell"
    "coil_1": ["spark_safe"],
    "fuel_pump": ["no_leak"],
    "bilge_pump": [],
    "plate": ["hands_clear"],
    "gate": ["hands_clear", "aft_clear"],
    "trim": ["hands_clear", "aft_clear"],
    "lamp": [],
    "gauges": [],
}
LONGEST_S = {"fuel_pump": 5.0, "bilge_pump": 10.0, "plate": 10.0, "gate": 4.0, "trim": 3.0, "lamp": 10.0}


@pytest.fixture
def plans(output_plans):
    more = {
        key: plan(
            OutputData(key, key, kind, "engine", did, ("burst_100ms",), burst_s=0.5, longest_s=longest_s),
            0x7E0,
            0x7E8,
            0,
        )
        for key, (kind, did, longest_s) in BURSTS.items()
    }
    return output_plans | more


@pytest.fixture
def make(make_bench, plans):
    """A bench where all is ready but the person's words."""

    def made(entries=(), **more):
        bench = make_bench(entries, plans=plans, **more).make_ready()
        bench.facts.doubt("hands_clear")
        return bench

    return made


@pytest.fixture
def bench(make):
    return make()


def sent(bench):
    return [data.hex() for _, _, data in bench.sent]


def say(bench, *words):
    for word in words:
        bench.confirm(word)
    bench.turn()
    return bench


def lacks(bench, output):
    bench.consider(output)
    bench.run(0.1)
    return set(bench.missing())


def fired(bench, output):
    """Press and hold for a moment; whether its start went out."""
    before = len(bench.sent)
    bench.press(output)
    bench.run(0.4)
    bench.lift()
    bench.run(0.4)
    return START[output] in sent(bench)[before:]


@pytest.mark.parametrize("output", OWN_WORDS)
def test_every_kind_fires_once_its_own_words_are_said_and_not_without_any_one_of_them(make, output):
    words = ["no_smell", *OWN_WORDS[output]]
    for left_out in words:
        bench = make()
        bench.facts.doubt("no_smell")
        say(bench, *(word for word in words if word != left_out))
        assert lacks(bench, output) == {left_out}
        assert not fired(bench, output)
        assert bench.sent == []
    bench = say(make(), *words)
    assert lacks(bench, output) == set()
    assert fired(bench, output)
    assert not bench.controller.live()


@pytest.mark.parametrize("output", LONGEST_S)
def test_a_press_ends_at_the_time_of_its_kind_or_of_its_sweep(bench, output):
    say(bench, "hands_clear", "aft_clear", "no_leak")
    bench.live(output)
    bench.run(11.0)
    _, began, ended = bench.controller.moves[-1]
    assert ended - began == pytest.approx(LONGEST_S[output], abs=0.02)
    assert "time limit" in bench.state.cause


@pytest.mark.parametrize("output", ["gate", "trim"])
def test_a_word_about_people_lapses_in_half_a_minute(bench, output):
    say(bench, "hands_clear", "aft_clear")
    bench.run(31.0, ms=50)
    assert lacks(bench, output) == {"hands_clear", "aft_clear"}


# --- coil ------------------------------------------------------------------------------------------------


def injected(bench):
    """A fuel test, and the venting after it."""
    bench.live("injector_1")
    bench.run(4.5)
    bench.lift()
    bench.wait_out(241.0)
    return say(bench, "no_smell", "spark_safe")


def test_no_spark_with_test_fuel_in_any_cylinder(bench):
    injected(bench)
    assert lacks(bench, "coil_1") == {"purged"}
    assert not fired(bench, "coil_1")


def test_no_fuel_for_four_minutes_after_a_spark(bench):
    say(bench, "spark_safe").live("coil_1")
    bench.run(3.0)
    assert bench.state.pulses == 10
    bench.lift()
    bench.wait_out(230.0)
    assert lacks(bench, "injector_1") == {"spark_ago"}
    bench.run(15.0, ms=50)
    assert lacks(bench, "injector_1") == set()


def test_a_coil_rests_ten_seconds_and_gives_its_sparks_once_a_press(bench):
    say(bench, "spark_safe").live("coil_1")
    bench.run(8.0)
    assert sent(bench).count(START["coil_1"]) == 1
    bench.lift()
    assert lacks(bench, "coil_1") == {"outputs_free"}
    bench.run(5.0)
    assert lacks(bench, "coil_1") == set()


@pytest.mark.parametrize(("value", "holds"), [("On", False), ("Error", None), ("Not available", None)])
def test_no_spark_while_the_fuel_pump_is_not_known_to_stand(bench, value, holds):
    say(bench, "spark_safe")
    bench.values["FuelPumpRelay"] = value
    bench.run(0.3)
    assert "pump_quiet" in lacks(bench, "coil_1")
    assert next(need for need in bench.state.needs if need.need == "pump_quiet").holds is holds
    assert not fired(bench, "coil_1")


def test_after_the_pump_ran_by_itself_a_nose_must_come_again(bench):
    say(bench, "spark_safe")
    bench.values["FuelPumpRelay"] = "On"
    bench.run(2.0)
    bench.values["FuelPumpRelay"] = "Off"
    bench.run(0.3)
    assert lacks(bench, "coil_1") == {"no_smell", "spark_safe"}


def test_a_spark_stops_when_the_pump_starts(bench):
    say(bench, "spark_safe").live("coil_1")
    bench.run(0.3)
    bench.values["FuelPumpRelay"] = "On"
    bench.until(lambda: not bench.controller.live(), 0.2)
    assert "Fuel pump: on" in bench.state.cause


# --- fuel pump -------------------------------------------------------------------------------------------


def test_the_pump_test_is_not_stopped_by_its_own_relay_and_starts_the_venting(bench):
    say(bench, "no_leak").live("fuel_pump")
    bench.values["FuelPumpRelay"] = "On"
    bench.run(2.0)
    assert bench.state.phase == "live"
    bench.lift()
    bench.values["FuelPumpRelay"] = "Off"
    bench.run(3.0)
    assert lacks(bench, "horn") == {"vented", "no_smell"}
    assert lacks(bench, "coil_1") >= {"vented", "no_smell"}


def test_a_leak_that_was_seen_stops_the_pump_and_keeps_it_off_until_somebody_looked_again(bench):
    say(bench, "no_leak").live("fuel_pump")
    bench.confirm("leak_seen")
    bench.turn()
    assert not bench.controller.live()
    bench.lift()
    bench.wait_out(241.0)
    say(bench, "no_smell")
    assert lacks(bench, "fuel_pump") == {"no_leak"}
    say(bench, "no_leak")
    assert lacks(bench, "fuel_pump") == set()


# --- throttle plate --------------------------------------------------------------------------------------


@pytest.mark.parametrize("other", ["injector_1", "coil_1"])
def test_the_plate_does_not_move_beside_fuel_or_spark_and_ends_it(bench, other):
    say(bench, "hands_clear", "spark_safe").live(other)
    bench.press("plate")
    bench.turn()
    assert not bench.controller.live()
    bench.run(1.0)
    assert START["plate"] not in sent(bench)


# --- purge by cranking -----------------------------------------------------------------------------------


def crank(bench, seconds=5.3, speed=300.0):
    """The person presses the craft's own start switch; plugs out, so that it does not start."""
    bench.values |= {"StartSwitch": "Pressed", "EngineSpeed": speed, "EngineSpeedDisplay": speed}
    bench.run(seconds, ms=20)
    bench.values |= {"StartSwitch": "Released", "EngineSpeed": 0.0, "EngineSpeedDisplay": 0.0}
    bench.run(2.5, ms=20)
    return bench


def purged(bench):
    return "purged" not in lacks(bench, "coil_1")


def test_a_crank_that_was_heard_and_confirmed_purges_and_the_hull_is_vented_after(bench):
    crank(injected(bench))
    bench.consider("coil_1")
    bench.run(0.1)
    need = next(need for need in bench.state.needs if need.need == "purged")
    assert need.do == "Confirm it, then vent and sniff again"
    assert "plugs out and coils unpowered" in need.seen
    say(bench, "purged_by_cranking")
    assert lacks(bench, "coil_1") == {"vented", "no_smell", "spark_safe"}
    [entry] = bench.journal.of("purge")
    assert entry == {"craft": "auk 20417", "how": "cranked", "operator": "Kim"}
    bench.wait_out(241.0)
    say(bench, "no_smell", "spark_safe")
    assert fired(bench, "coil_1")


def test_without_a_crank_the_word_purges_nothing(bench):
    injected(bench)
    say(bench, "purged_by_cranking")
    assert not purged(bench)
    assert bench.state.needs[0].do.startswith("Run the engine 30 s; or plugs out, coils unpowered")


NOT_PURGED = {
    "too_short": lambda bench: crank(bench, 4.5),
    "creeping": lambda bench: crank(bench, speed=100.0),
    "it_started": lambda bench: crank(crank(bench), 1.0, speed=900.0),
    "too_long_ago": lambda bench: crank(bench).wait_out(120.5),
    "key_off": lambda bench: (crank(bench), bench.silent.add("all"), bench.run(1.0), bench.silent.clear()),
    "nobody_signed_in": lambda bench: (crank(bench), bench.sign_in("", "")),
    "dock_hand": lambda bench: (crank(bench), bench.sign_in("dock", "Lee")),
    "locked": lambda bench: (crank(bench), bench.extra.append((0x7E8, bytes.fromhex("056fd12203050000")))),
    "still_turning": lambda bench: (crank(bench), bench.values.update(EngineSpeed=200.0)),
}


@pytest.mark.parametrize("why", NOT_PURGED)
def test_a_word_without_all_that_makes_it_a_purge_purges_nothing(bench, why):
    injected(bench)
    NOT_PURGED[why](bench)
    bench.run(1.0, ms=20)
    say(bench, "purged_by_cranking")
    assert not purged(bench)
    assert bench.journal.of("purge") == []


@pytest.mark.parametrize("age_s", [-0.5, 1.5])
def test_a_touch_of_another_time_purges_nothing(bench, age_s):
    crank(injected(bench))
    bench.confirm("purged_by_cranking", bench.clock() - age_s)
    bench.turn()
    assert not purged(bench)


def test_fuel_let_in_after_the_crank_is_not_purged_by_it(bench):
    crank(bench)
    say(bench, "no_smell").live("injector_1")
    bench.lift()
    bench.run(1.0)
    say(bench, "purged_by_cranking")
    assert not purged(bench)


def test_one_crank_purges_once(bench):
    crank(injected(bench))
    say(bench, "purged_by_cranking", "purged_by_cranking")
    assert len(bench.journal.of("purge")) == 1


def test_a_crank_of_an_earlier_process_counts_for_nothing(bench, make):
    crank(injected(bench))
    again = make(bench.journal.entries)
    say(again, "purged_by_cranking")
    assert not purged(again)


# --- nothing is wiped by a restart -----------------------------------------------------------------------


def test_a_restart_keeps_fuel_and_its_purge(bench, make):
    injected(bench)
    again = make(bench.journal.entries)
    again.wait_out(241.0)
    say(again, "no_smell", "spark_safe")
    assert lacks(again, "coil_1") == {"purged"}
    again.consider("injector_1")
    again.run(0.1)
    room = next(need for need in again.state.needs if need.need == "fuel_room")
    assert "0.5 of 3.0" in room.seen
    crank(again)
    say(again, "purged_by_cranking")
    third = make(again.journal.entries)
    assert "purged" not in lacks(third, "coil_1")


@pytest.mark.parametrize(
    ("first", "other", "need"),
    [
        ("injector_1", "horn", "vented"),
        ("fuel_pump", "horn", "vented"),
        ("coil_1", "injector_1", "spark_ago"),
        ("leak", "horn", "vented"),
        ("crank", "horn", "vented"),
    ],
)
def test_a_restart_begins_every_clock_anew_and_in_full(bench, make, first, other, need):
    if first == "leak":
        say(bench, "leak_seen")
    elif first == "crank":
        crank(injected(bench))
        say(bench, "purged_by_cranking")
    else:
        say(bench, "spark_safe", "no_leak").live(first)
        bench.lift()
    bench.wait_out(200.0)
    again = make(bench.journal.entries, start_s=500_000)
    again.wait_out(225.0)
    assert need in lacks(again, other)
    again.run(15.0, ms=50)
    assert need not in lacks(again, other)


@pytest.mark.parametrize("output", ["coil_1", "fuel_pump", "plate"])
def test_a_restart_keeps_what_is_owed_and_the_lock(bench, make, output):
    say(bench, "spark_safe", "no_leak", "hands_clear").live(output)
    again = make(bench.journal.entries)
    assert again.actuation.locked
    assert f"042fd1{START[output][6:8]}00000000" in sent(again)
    assert make(again.journal.entries).actuation.locked
    again.gate.unlock_outputs()
    again.turn()
    assert make(again.journal.entries).actuation.locked == ""
