"""Fuel in the cylinders: charged, never taken back, unknown means full. Ceilings from the design, 4.5."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bus.fuel import FuelBook

PER_CYLINDER, PER_CRAFT = 3.0, 4.0


def start(craft, cylinder, cm3):
    return {"kind": "output_start", "body": {"craft": craft, "cylinder": cylinder, "fuel_cm3": cm3}}


def purge(craft):
    return {"kind": "purge", "body": {"craft": craft}}


GAP = {"kind": "gap", "body": {}}


def test_fuel_adds_up_by_cylinder_and_by_craft():
    book = FuelBook([start("a", 1, 0.5), start("a", 2, 0.7), start("a", 1, 0.5), start("b", 1, 2.0)])
    assert book.total("a", 1) == 1.0
    assert book.total("a", 2) == 0.7
    assert book.total("a", 3) == 0.0
    assert book.total("a") == pytest.approx(1.7)
    assert book.total("b") == 2.0
    assert book.total("c") == 0.0


@pytest.mark.parametrize(
    ("charged", "cylinder", "cm3", "room"),
    [
        ({1: 2.5}, 1, 0.5, True),  # exactly 3.0
        ({1: 2.5}, 1, 0.51, False),
        ({1: 2.5, 2: 1.0}, 2, 0.5, True),  # exactly 4.0 in the craft
        ({1: 2.5, 2: 1.0}, 2, 0.51, False),
        ({1: 3.0}, 2, 1.0, True),
        ({1: 3.01}, 1, 0.0, False),
        ({}, 1, 3.01, False),
        ({}, 1, math.nan, False),
    ],
)
def test_both_ceilings_hold_exactly(charged, cylinder, cm3, room):
    book = FuelBook([start("a", number, fuel) for number, fuel in charged.items()])
    assert book.room("a", cylinder, cm3) is room


def test_a_purge_empties_its_own_craft():
    book = FuelBook([start("a", 1, 3.0), start("b", 1, 3.0), purge("a")])
    assert (book.total("a"), book.total("b")) == (0.0, 3.0)
    assert book.room("a", 1, 3.0)
    book.charge("a", 1, 0.5)
    assert book.total("a") == 0.5


def test_a_purge_by_cranking_empties_its_own_craft_too():
    by_hand = {"kind": "purge", "body": {"craft": "a", "how": "cranked", "operator": "Kim"}}
    book = FuelBook([start("a", 1, 3.0), start("b", 1, 3.0), by_hand])
    assert (book.total("a"), book.total("b")) == (0.0, 3.0)


@pytest.mark.parametrize("kind", ["output_end", "refused", "settled", "vented", "confirm"])
def test_nothing_else_takes_fuel_back(kind):
    book = FuelBook([start("a", 1, 2.0)])
    book.take({"kind": kind, "body": {"craft": "a", "cylinder": 1, "fuel_cm3": -2.0, "fired": False}})
    assert book.total("a", 1) == 2.0


@pytest.mark.parametrize("cm3", [None, "0.5", math.nan, math.inf, -0.5, 4.1, [0.5]])
def test_an_amount_that_is_no_sensible_number_counts_as_all_that_is_allowed(cm3):
    book = FuelBook([start("a", 1, cm3)])
    assert not book.room("a", 1, 0.1)
    assert not book.room("a", 2, 0.1)


def test_an_output_without_fuel_counts_nothing():
    book = FuelBook([start("a", 0, 0.0)])
    assert book.total("a") == 0.0


def test_where_lines_are_missing_every_craft_is_full_until_its_engine_ran():
    book = FuelBook([start("a", 1, 0.5), purge("b"), GAP])
    for craft in ("a", "b", "never_seen"):
        assert not book.room(craft, 1, 0.1)
    book.take(purge("a"))
    assert book.room("a", 1, 3.0)
    assert not book.room("b", 1, 0.1)
    book.take(GAP)
    assert not book.room("a", 1, 0.1)


@given(
    st.lists(
        st.one_of(
            st.builds(start, st.sampled_from("ab"), st.integers(1, 3), st.floats(0, 4)),
            st.builds(purge, st.sampled_from("ab")),
        ),
        max_size=40,
    )
)
def test_whatever_was_booked_the_sum_since_the_last_purge_is_what_counts(entries):
    book = FuelBook(entries)
    for craft in "ab":
        last = max((n for n, entry in enumerate(entries) if entry == purge(craft)), default=-1)
        charges = [entry["body"] for entry in entries[last + 1 :] if entry["kind"] == "output_start"]
        by_hand = {
            cylinder: sum(
                body["fuel_cm3"]
                for body in charges
                if body["craft"] == craft and body["cylinder"] == cylinder
            )
            for cylinder in (1, 2, 3)
        }
        assert book.total(craft) == pytest.approx(sum(by_hand.values()))
        for cylinder, cm3 in by_hand.items():
            assert book.total(craft, cylinder) == pytest.approx(cm3)
            if book.room(craft, cylinder, 0.5):
                assert cm3 + 0.5 <= PER_CYLINDER + 1e-6
                assert sum(by_hand.values()) + 0.5 <= PER_CRAFT + 1e-6
