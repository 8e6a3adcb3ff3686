"""Facts at the exact edge of their limits, and which of several causes counts. Times are exact in binary."""

import pytest

TURNS = {"EngineSpeed": 900.0, "EngineSpeedDisplay": 900.0}
CRANKS = {"EngineSpeed": 300.0, "EngineSpeedDisplay": 300.0}


@pytest.fixture
def craft(craft_kit):
    return craft_kit.craft().say().pull().run(3.0)


def on_the_second(craft):
    """The clock at a whole second, all messages heard at this moment."""
    craft.run(1.0)
    craft.now = float(int(craft.now) + 1)
    return craft.run(2.5, step=0.0625).say()


def cranked_at(craft):
    """A crank that ends at this very moment."""
    craft.run(5.5, step=0.0625, **CRANKS)
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


def test_a_crank_counts_up_to_its_last_moment_and_its_age_is_told(craft):
    at = cranked_at(on_the_second(craft))
    assert craft.table.cranked_ago(at + 0.25) == 0.25
    assert craft.table.cranked_ago(at + 120.0) == 120.0
    assert craft.table.cranked_ago(at + 120.125) is None


def test_a_crank_is_spent_with_the_moment_at_which_it_was_heard(craft):
    at = cranked_at(on_the_second(craft))
    craft.table.spend_crank(at)
    assert craft.table.cranked_ago(at) is None


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
