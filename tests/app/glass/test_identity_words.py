"""Identity in words: what was told, what was not, and a hull number that is not written as it should be."""

from __future__ import annotations

from some_faults import report, rows, shapes

from app.diagnosis import IdentityLine
from app.identity_words import identity_words
from app.messages import LinkState


def line(label, value, unit="", module="engine"):
    return IdentityLine(module, label, value, unit)


def test_what_was_told_stands_there_with_what_a_hull_number_means(make):
    told = [line("Hull number", "ABC12345L495"), line("Engine hours", "1142.3", "h"), line("Software", "")]
    title, lines = identity_words(make.after_reading(report(identity=told)))
    assert title == "Identity, read 2 min ago"
    assert rows(lines) == [
        "Hull number: ABC12345L495 Maker ABC, serial 12345, built December 1994, model year 1995.",
        "Engine hours: 1142.3 h",
        "Software: not given",
        "Engine controller was read to the end.",
        "Display was read to the end.",
    ]
    assert shapes(lines) == ["", "", "", "tick", "tick"]


def test_a_hull_number_that_is_not_right_comes_first(make):
    told = [line("Software", "3.2.1"), line("Hull number", "ABC1234OL495")]
    lines = identity_words(make.after_reading(report(identity=told)))[1]
    assert rows(lines)[0] == (
        "Hull number: ABC1234OL495 Not as the rules ask: its serial 1234O holds O; I, O and Q are not used."
    )
    assert shapes(lines)[0] == "triangle"


def test_a_controller_that_was_not_read_is_said_to_be_that(make):
    one = report(unread={"display": "Display did not answer."})
    lines = identity_words(make.after_reading(one))[1]
    assert "Display was not read to the end. Display did not answer." in rows(lines)


def test_of_a_craft_that_was_lost_since_it_is_old(make):
    told = report(identity=[line("Software", "3.2.1")])
    title, lines = identity_words(make.after_reading(told, state=LinkState.LOST))
    assert title == "Identity, OLD: read 2 min ago"
    assert shapes(lines)[0] == "triangle"


def test_before_anybody_was_asked_nothing_is_claimed(make):
    title, lines = identity_words(make.after_reading(None))
    assert title == "Identity: not read yet"
    assert rows(lines) == ["Nobody has been asked yet. “Read faults” on the faults page asks for this too."]


def test_where_nobody_can_be_asked_it_says_what_the_bus_tells(make):
    title, lines = identity_words(make.moment())
    assert title == "Identity"
    assert rows(lines) == [
        "Auk three-cylinder. The family names no controllers that can be asked.",
        "Serial: 20417",
        "Hours: not told",
    ]
