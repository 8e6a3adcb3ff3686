"""Hours by engine speed, as the simulated engine counts them."""

import pytest

from simulator.craft import Craft
from simulator.usage import EDGES, PAST, Usage


def test_what_was_before_adds_up():
    assert sum(PAST) == pytest.approx(1.0)
    assert sum(Usage(400.0).hours) == pytest.approx(400.0)
    assert len(PAST) == len(EDGES)


@pytest.mark.parametrize(
    ("speed", "band"), [(0.0, 0), (1499.9, 0), (1500.0, 1), (7999.0, 5), (8000.0, 6), (9000.0, 6)]
)
def test_hours_are_counted_in_the_band_of_the_speed(speed, band):
    usage = Usage(0.0)
    usage.run(speed, 2.0)
    assert usage.hours == [2.0 if number == band else 0.0 for number in range(len(EDGES))]


def test_an_idling_craft_counts_in_the_lowest_band_and_the_bands_stay_its_hours():
    craft = Craft("auk", "idle")
    before, hours = list(craft.engine.usage.hours), craft.engine.hours
    assert sum(before) == pytest.approx(hours)
    craft.advance(30.0)
    assert craft.engine.usage.hours[0] > before[0]
    assert craft.engine.usage.hours[1:] == before[1:]
    assert sum(craft.engine.usage.hours) == pytest.approx(craft.engine.hours)
