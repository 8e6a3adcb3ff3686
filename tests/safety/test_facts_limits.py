"""Facts at the exact edge of their limits, and which of several causes counts. Times are exact in binary."""

import dataclasses
import re

import pytest

from app.interlock import Need
from bus.facts import PROMISES, FactTable
from bus.frame import Frame

SIXTEENTH = 1 / 16
TESTER = 0x7DF
TURNS = {"EngineSpeed": 900.0, "EngineSpeedDisplay": 900.0}
CRANKS = {"EngineSpeed": 300.0, "EngineSpeedDisplay": 300.0}


@pytest.fixture
def craft(craft_kit):
    return craft_kit.craft().say().pull().run(3.0)


@pytest.fixture
def exact(craft_kit):
    """The same, with a clock of whole sixteenths of a second."""
    return craft_kit.craft().say().pull().run(3.0, step=SIXTEENTH)


def cranked_at(craft):
    """A crank that ends at this very moment."""
    craft.run(5.5, step=SIXTEENTH, **CRANKS)
    return craft.now - craft.table.cranked_ago(craft.now)


def test_a_fuel_pump_that_runs_in_a_press_of_our_own_is_no_purge(craft):
    craft.table.fuel_is_ours = True
    craft.say(FuelPumpRelay="On")
    assert craft.purged == []


def test_an_engine_that_runs_in_a_press_that_lets_fuel_in_is_no_purge(craft):
    craft.table.fuel_is_ours = True
    craft.run(40.0, step=0.1, **TURNS)
    assert craft.purged == []
    craft.table.fuel_is_ours = False
    craft.run(31.0, step=0.1, **TURNS)
    assert craft.purged == ["auk 20417"]


def test_a_crank_in_a_press_that_lets_fuel_in_counts_for_nothing_while_it_lasts(craft):
    craft.run(5.5, **CRANKS)
    craft.table.fuel_is_ours = True
    assert craft.table.cranked_ago(craft.now) is None
    craft.table.fuel_is_ours = False
    assert craft.table.cranked_ago(craft.now) is not None


def test_a_crank_counts_up_to_its_last_moment_and_its_age_is_told(exact):
    at = cranked_at(exact)
    assert exact.table.cranked_ago(at + 0.25) == 0.25
    assert exact.table.cranked_ago(at + 120.0) == 120.0
    assert exact.table.cranked_ago(at + 120.125) is None


def test_a_crank_is_spent_with_the_moment_at_which_it_was_heard(exact):
    at = cranked_at(exact)
    exact.table.spend_crank(at)
    assert exact.table.cranked_ago(at) is None


def test_a_craft_that_says_no_serial_is_nameless_for_as_long_as_it_is_heard(craft_kit):
    craft = craft_kit.craft()
    nameless = craft.others("DisplayPages")
    assert craft.table.nameless_s(craft.now) == 0.0
    craft.say(*nameless)
    begun = craft.now
    craft.run(2.0, *nameless)
    assert craft.table.nameless_s(craft.now) == pytest.approx(craft.now - begun)
    assert craft.table.nameless_s(craft.now + 0.51) == 0.0
    craft.say()
    assert craft.table.nameless_s(craft.now) == 0.0


def held(craft, need, at):
    return craft.table.facts(at)[Need(need)].holds


def test_another_tester_is_away_after_five_seconds_and_not_at_five(exact):
    exact.table.feed(Frame(exact.now, TESTER, bytes(8)))
    assert exact.table.another_tester(exact.now + 5.0)
    assert not exact.table.another_tester(exact.now + 5.0 + SIXTEENTH)


def test_listening_for_another_tester_takes_exactly_two_seconds(craft_kit):
    craft = craft_kit.craft().say()
    begun = craft.now
    craft.run(2.0 - SIXTEENTH, step=SIXTEENTH)
    assert held(craft, "alone", begun + 2.0 - SIXTEENTH) is None
    assert held(craft, "alone", begun + 2.0) is True


def test_an_engine_stands_at_exactly_two_seconds_of_zero(exact):
    exact.say(**TURNS)
    exact.now += SIXTEENTH
    exact.say()
    begun = exact.now
    exact.run(2.0 - SIXTEENTH, step=SIXTEENTH)
    assert held(exact, "engine_stopped", exact.now) is False
    exact.run(SIXTEENTH, step=SIXTEENTH)
    assert exact.now - begun == 2.0
    assert held(exact, "engine_stopped", exact.now) is True


def test_a_word_that_was_touched_exactly_a_second_ago_counts_and_an_older_one_does_not(exact):
    assert exact.table.takes_word(exact.now - 1.0, exact.now)
    assert not exact.table.takes_word(exact.now - 1.0 - SIXTEENTH, exact.now)
    assert not exact.table.takes_word(exact.now + SIXTEENTH, exact.now)


def test_a_word_is_worth_something_up_to_its_last_moment(exact):
    assert exact.confirm("hands_clear")
    said = exact.now
    exact.run(29.9, step=SIXTEENTH)
    assert held(exact, "hands_clear", said + 30.0) is True
    assert held(exact, "hands_clear", said + 30.0 + SIXTEENTH) is False


@pytest.mark.parametrize("signal", ["EngineSpeed", "EngineSpeedDisplay"])
def test_a_craft_at_exactly_its_idle_limit_is_not_under_way(exact, craft_kit, signal):
    limit = craft_kit.family().idle_below
    exact.say(**{signal: limit})
    assert held(exact, "not_under_way", exact.now) is True
    exact.say(**{signal: limit + 1.0})
    assert held(exact, "not_under_way", exact.now) is False


def test_a_craft_is_heard_for_half_a_second_after_its_last_frame(exact):
    assert exact.table.hears(exact.now + 0.5) is True
    assert exact.table.hears(exact.now + 0.5 + SIXTEENTH) is False


def table_of(family):
    return FactTable(family, frozenset(), set(), print, print)


PRESSURES = {"manifold_pressure", "barometric_pressure"}


@pytest.mark.parametrize("told", [PRESSURES, {"manifold_pressure"}, {"barometric_pressure"}, set()])
def test_the_manifold_is_a_witness_only_where_both_pressures_are_told(craft_kit, told):
    table = table_of(craft_kit.family_without(*(set(craft_kit.family().roles) - told)))
    assert table.facts(0.0)[Need.MANIFOLD_AT_REST].holds is (None if told == PRESSURES else True)


def says(craft, **values):
    """The table, told values by role as they are: numbers may be whole, or not known."""
    honest = craft.table._heard.good
    craft.table._heard.good = lambda role, now: values[role] if role in values else honest(role, now)
    return craft


NUMBERS = {
    "engine_speed": 0, "engine_speed_second": 0, "battery": 13, "manifold_pressure": 101,
    "barometric_pressure": 101,
}  # fmt: skip


def test_a_whole_number_is_a_number(craft):
    says(craft, **NUMBERS)
    for need in ("speed_known", "engine_stopped", "battery", "battery_for_writing", "manifold_at_rest"):
        assert craft.holds(need) is True, need
    says(craft, engine_speed=5000, engine_speed_second=5000)
    assert craft.holds("not_under_way") is False
    assert craft.holds("engine_stopped") is False


@pytest.mark.parametrize("role", NUMBERS)
@pytest.mark.parametrize("value", [None, "Error"])
def test_what_is_no_number_is_not_known(craft, role, value):
    needs = {
        "engine_speed": ["speed_known", "engine_stopped"],
        "engine_speed_second": ["speed_known", "engine_stopped"],
        "battery": ["battery", "battery_for_writing"],
    }.get(role, ["manifold_at_rest"])
    says(craft, **NUMBERS | {role: value})
    assert [craft.holds(need) for need in needs] == [None] * len(needs)


def test_a_proof_carries_a_mark_of_twelve_digits_that_changes_with_either_file(craft_kit):
    before = table_of(craft_kit.family())._mark
    assert re.fullmatch(r"[0-9a-f]{12}", before)
    changed = craft_kit.changed_family()
    toml, dbc = changed.folder / "family.toml", changed.folder / "signals.dbc"
    assert table_of(changed)._mark != before
    toml.write_bytes((craft_kit.family().folder / "family.toml").read_bytes())
    assert table_of(changed)._mark == before
    dbc.write_bytes(dbc.read_bytes() + b"\n")
    assert table_of(changed)._mark != before


def test_what_a_promise_is_worth_cannot_be_changed():
    with pytest.raises(dataclasses.FrozenInstanceError):
        PROMISES["no_smell"].holds_s = 1e9
