"""Hours by engine speed in words: whole, with a gap, old, or not there."""

from __future__ import annotations

import pytest
from msgspec import structs, to_builtins
from some_faults import report

from app.diagnosis import IdentityLine
from app.engine_data import EngineData
from app.entry import Kind
from app.hours import bands_of
from app.hours_words import CYCLE, hours_words
from app.identity_words import identity_words
from app.messages import LinkState
from app.visits import last_visit

BANDS = ((0, 4000), (4000, 8000))


def told(*hours):
    return report(
        identity=[
            IdentityLine("engine", "Software", "3.2"),
            *(
                IdentityLine("engine", f"Hours at {low} to {high} rev/min", text, "h", (low, high))
                for (low, high), text in zip(BANDS, hours, strict=True)
            ),
        ]
    )


def said(make, one, rated=8000.0, before=(), **view):
    catalogue = structs.replace(make.catalogue(), engine=EngineData(rated_speed=rated))
    return hours_words(make.after_reading(one, catalogue=catalogue, **view), before)


def test_every_band_has_its_hours_and_percent_and_the_load_its_measure(make):
    words = said(make, told("300.0", "100.0"))
    assert words.title == "400.0 h by rev/min, read 2 min ago"
    assert [(row.label, row.text) for row in words.rows] == [
        ("0 to 4000", "300.0 h · 75%"),
        ("4000 to 8000", "100.0 h · 25%"),
    ]
    assert [row.share for row in words.rows] == [0.75, 0.25]
    # 0.75 x 0.25^2.5 + 0.25 x 0.75^2.5 = 0.0234 + 0.1218 by hand; against 0.207 that is 0.7 times
    assert words.say == "Load 0.15: 0.7 times the duty cycle's 0.207."
    assert words.note == CYCLE


def test_a_band_that_is_not_given_leaves_no_bars_to_be_compared(make):
    words = said(make, told("300.0", ""))
    assert words.title == "Hours: not all given, read 2 min ago"
    assert [row.text for row in words.rows] == ["300.0 h", "not given"]
    assert {(row.share, row.cycle) for row in words.rows} == {(0.0, 0.0)}
    assert words.say == "How hard it was used cannot be said."


def test_without_a_rated_speed_the_bars_stand_alone(make):
    words = said(make, told("300.0", "100.0"), rated=0.0)
    assert {row.cycle for row in words.rows} == {0.0}
    assert words.say == "How hard it was used cannot be said."


def test_where_there_is_nothing_it_says_why(make):
    assert said(make, None).title == "Hours: not read yet"
    assert said(make, report()).title == "Hours: not told"


def test_of_a_craft_that_was_lost_they_are_old(make):
    assert "OLD: read 2 min ago" in said(make, told("300.0", "100.0"), state=LinkState.LOST).title


def test_the_identity_page_leaves_them_to_their_own(make):
    lines = identity_words(make.after_reading(told("300.0", "100.0")))[1]
    assert not any("Hours at" in line.strong for line in lines)


@pytest.fixture
def scan(make_entry):
    """An entry of a reading on this visit."""
    return lambda body, visit: structs.replace(make_entry(Kind.SCAN, to_builtins(body)), visit=visit)


def test_what_came_since_the_last_visit_is_told(make, scan):
    entries = [
        scan(told("312.4", "103.0"), "b"),
        scan(told("310.0", "102.0"), "b"),
        scan(told("300.0", "100.0"), "a"),
    ]
    before = last_visit(entries, bands_of)
    assert [band.hours for band in before] == [300.0, 100.0]
    words = said(make, told("312.4", "103.0"), before=before)
    assert words.say.endswith("15.4 h since the last visit.")


def test_bands_that_shrank_were_replaced_or_reset(make, scan):
    before = last_visit([scan(report(), "b"), scan(told("300.0", "100.0"), "a")], bands_of)
    words = said(make, told("305.0", "20.0"), before=before)
    assert words.say.endswith("Fewer than at the last visit: replaced or reset.")


def test_where_the_book_tells_no_earlier_hours_nothing_is_said_of_them(make, scan):
    same_visit = [scan(told("305.0", "20.0"), "b"), scan(told("300.0", "100.0"), "b")]
    assert last_visit(same_visit, bands_of) == []
    assert last_visit([], bands_of) == []
    strange = [scan(told("305.0", "20.0"), "b"), scan({"what": 1}, "a")]
    assert last_visit(strange, bands_of) == []
    assert "visit" not in hours_words(make.after_reading(told("305.0", "20.0")), []).say
