"""Choosing by touch what stands where."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st
from msgspec import structs

from app.choices import Choices
from app.choosing import NOTHING, OWN, Choosing, exchanged, two_lines
from app.pages import big_values, chart_lines, signal_pages


def board(make):
    signals = [structs.replace(info, enumerated=info.name == "State") for info in make.signals()]
    made = make.board()
    made.take(
        make.view(catalogue=make.catalogue(signals, groups=("Engine", "Electrics", "Switches"))), make.now
    )
    return made


def keys(choosing, seen):
    return [entry.key for entry in choosing.entries(seen)]


def test_place_then_part_then_signal(make):
    seen, choosing = board(make), Choosing("six")
    assert [entry.text for entry in choosing.entries(seen)] == ["speed", "volts", *["empty"] * 4]
    choosing.pick("1", seen)
    assert (choosing.title(seen), keys(choosing, seen)) == (
        "Instead of volts",
        ["Engine", "Electrics", "Switches"],
    )
    choosing.pick("Switches", seen)
    assert keys(choosing, seen) == ["Key"]
    choosing.pick("Key", seen)
    assert choosing.step == "place"
    assert seen.pages[0].signals == ("Speed", "Key")
    assert seen.choices.six("auk") == ("Speed", "Key")
    shown = [name for page in seen.pages for name in page.signals]
    assert sorted(shown) == ["Key", "Speed", "State", "Volts"]


def test_an_empty_place_is_filled_and_the_family_s_own_come_back(make):
    seen, choosing = board(make), Choosing("six")
    for key in ("5", "Engine", "State"):
        choosing.pick(key, seen)
    assert seen.pages[0].signals == ("Speed", "Volts", "State")
    choosing.pick(OWN, seen)
    assert seen.pages[0].signals == ("Speed", "Volts")
    assert seen.choices.six("auk") is None


def test_the_arc_and_the_chart_take_only_numbers_with_a_scale(make):
    seen = board(make)
    for kind, place, wanted in (
        ("six", "0", ["Speed"]),
        ("chart", "1", ["Speed"]),
        ("six", "1", ["Speed", "State"]),
    ):
        choosing = Choosing(kind)
        choosing.pick(place, seen)
        choosing.pick("Engine", seen)
        assert keys(choosing, seen) == wanted


def test_a_line_of_the_chart_can_be_left_out(make):
    seen, choosing = board(make), Choosing("chart")
    assert seen.lines() == ("Speed", "Volts")
    choosing.pick("0", seen)
    assert keys(choosing, seen)[-1] == NOTHING
    choosing.pick(NOTHING, seen)
    assert seen.lines() == ("Volts",)
    choosing.pick("0", seen)
    choosing.pick(NOTHING, seen)
    assert seen.lines() == ()
    choosing.pick(OWN, seen)
    assert seen.lines() == ("Speed", "Volts")


def test_back_leads_one_step_back_and_then_out(make):
    seen, choosing = board(make), Choosing("six")
    choosing.pick("0", seen)
    choosing.pick("Engine", seen)
    steps = []
    while choosing.back():
        steps.append(choosing.step)
    assert steps == ["group", "place"]


@given(
    st.lists(st.sampled_from("ABCDEF"), unique=True, min_size=1),
    st.integers(0, 5),
    st.sampled_from("ABCDEFG"),
)
def test_nothing_stands_twice_and_only_what_gave_way_is_gone(names, place, name):
    new = exchanged(tuple(names), place, name)
    assert len(set(new)) == len(new)
    assert name in new
    if place < len(names):
        assert new[place] == name
        assert len(new) == len(names)
        assert set(names) - set(new) <= {names[place]}


def test_a_choice_that_the_craft_does_not_have_gives_way_to_the_family_s(make):
    catalogue = make.catalogue()
    assert big_values(catalogue, ("Key", "Gone", "Volts", "Key")) == ("Key", "Volts")
    assert big_values(catalogue, ("Gone",)) == ("Speed", "Volts")
    assert big_values(catalogue, ("State", "Key")) == ("Speed", "Volts"), "a text cannot stand on the arc"
    assert chart_lines(catalogue, ("State", "Gone", "Key")) == ("Key",)
    assert signal_pages(catalogue, ("Key",))[0].signals == ("Key",)


def test_a_choice_holds_for_the_next_craft_of_its_family(make):
    choices = Choices()
    choices.keep("six", "auk", ("Volts", "Key"))
    from app.board import Board

    seen = Board(make.now, choices)
    for number in (1, 2):
        seen.take(make.view(number=number), make.now)
        assert seen.pages[0].signals == ("Volts", "Key")
        assert not seen.shows_speed


def test_long_words_are_broken_near_their_middle():
    assert two_lines("Coolant") == "Coolant"
    assert two_lines("Engine speed, display") == "Engine speed,\ndisplay"
    assert two_lines("Temperature") == "Temperature"
