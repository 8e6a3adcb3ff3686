"""Whole simulated crafts are named by their traffic, in whatever order families come, and together too."""

import itertools
import random

import pytest

from bus.family import SHIPPED, load_family
from bus.frame import Frame
from bus.recognise import Recogniser
from simulator.craft import Craft

NAMES = ("auk", "j1939", "nmea2000", "skua", "tern")
FAMILIES = [load_family(SHIPPED / name) for name in NAMES]
SIMULATED = ("auk", "nmea2000", "skua", "tern")
WITHIN_S = 1.2
"""The slowest message that names one of them comes every second."""


def traffic(name, seconds=WITHIN_S):
    craft = Craft(name, "idle")
    return [Frame(at, ident, data) for at, ident, data in craft.advance(seconds)]


TRAFFIC = {name: traffic(name) for name in SIMULATED}


def heard(*names, shuffle=0):
    """A recogniser that has heard these crafts on one bus, in the order of time."""
    families = list(FAMILIES)
    random.Random(shuffle).shuffle(families)
    recogniser = Recogniser(families)
    for frame in sorted(itertools.chain(*(TRAFFIC[name] for name in names))):
        recogniser.feed(frame)
    return recogniser


@pytest.mark.parametrize("name", SIMULATED)
@pytest.mark.parametrize("shuffle", range(4))
def test_each_is_named_whatever_the_order_of_the_families(name, shuffle):
    assert heard(name, shuffle=shuffle).family.name == name


@pytest.mark.parametrize("shuffle", range(4))
@pytest.mark.parametrize("name", ["auk", "skua", "tern"])
def test_a_make_with_instruments_of_an_open_standard_on_its_bus_is_the_make(name, shuffle):
    assert heard(name, "nmea2000", shuffle=shuffle).family.name == name


@pytest.mark.parametrize("pair", list(itertools.combinations(("auk", "skua", "tern"), 2)))
def test_two_makes_on_one_bus_are_told_with_their_difference_and_none_is_guessed(pair):
    recogniser = heard(*pair)
    assert recogniser.family is None
    assert {family.name for family in recogniser.candidates} == set(pair)
    for family in recogniser.candidates:
        assert f"Only {family.title} knows" in recogniser.doubt


@pytest.mark.parametrize("name", ["auk", "skua", "tern"])  # a fast packet of NMEA 2000 says its own length
def test_frames_with_their_lengths_changed_name_nobody(name):
    recogniser = Recogniser(FAMILIES)
    for frame in TRAFFIC[name]:
        recogniser.feed(frame._replace(data=frame.data[:-1]))
    assert recogniser.family is None
