"""Hours by engine speed, as the simulated engine counts them."""

import pytest

from simulator.craft import Craft
from simulator.kinds import FOUR, THREE
from simulator.usage import Usage


@pytest.mark.parametrize("kind", [THREE, FOUR], ids=["three", "four"])
def test_what_was_before_adds_up(kind):
    assert sum(kind.past) == pytest.approx(1.0)
    assert sum(Usage(kind, 400.0).hours) == pytest.approx(400.0)
    assert len(kind.past) == len(kind.edges)


@pytest.mark.parametrize(
    ("speed", "band"), [(0.0, 0), (1499.9, 0), (1500.0, 1), (7999.0, 5), (8000.0, 6), (9000.0, 6)]
)
def test_hours_are_counted_in_the_band_of_the_speed(speed, band):
    usage = Usage(THREE, 0.0)
    usage.run(speed, 2.0)
    assert usage.hours == [2.0 if number == band else 0.0 for number in range(len(THREE.edges))]


def test_an_idling_craft_counts_in_the_lowest_band_and_the_bands_stay_its_hours():
    craft = Craft("auk", "idle")
    before, hours = list(craft.engine.usage.hours), craft.engine.hours
    assert sum(before) == pytest.approx(hours)
    craft.advance(30.0)
    assert craft.engine.usage.hours[0] > before[0]
    assert craft.engine.usage.hours[1:] == before[1:]
    assert sum(craft.engine.usage.hours) == pytest.approx(craft.engine.hours)


def starts(craft):
    return craft.engine.usage.times["starts"]


def test_a_start_is_counted_once_however_long_the_engine_runs():
    craft = Craft("auk", "dock")
    before = starts(craft)
    craft.act({"do": "start", "pressed": True})
    craft.advance(3.0)
    craft.act({"do": "start", "pressed": False})
    craft.advance(10.0)
    assert craft.engine.state == "Running"
    assert starts(craft) == before + 1


def test_over_speed_overheat_and_low_oil_are_counted_when_they_begin():
    craft = Craft("auk", "ride")
    before = dict(craft.engine.usage.times)
    craft.act({"do": "part", "part": "oil", "value": 0.1})
    craft.act({"do": "plant", "signal": "CoolantTemperature", "kind": "value", "value": 120})
    craft.advance(15.0)
    counted = {what: times - before[what] for what, times in craft.engine.usage.times.items()}
    assert (counted["overheat"], counted["low_oil"], counted["overspeed"]) == (1, 1, 0)
    loose = Craft("auk", "dock")
    was = loose.engine.usage.times["overspeed"]
    loose.act({"do": "spin", "rev": 8300.0, "seconds": 1.0})
    loose.advance(1.5)
    assert loose.engine.usage.times["overspeed"] == was + 1
