"""A quick check stands in the craft book: by whom, of which craft, with every row in words."""

from __future__ import annotations

import pytest

from app.book import Book
from app.book_words import entry_row
from app.entry import Kind
from app.entry_words import headline, page
from app.keeper import BookKeeper
from app.messages import Craft, Link, LinkState, Mode, Snapshot
from app.ports import View

CRAFT = "auk 1042"

ROWS = [
    {
        "row": "battery", "verdict": "keep ashore", "known": True, "seen": "Battery too low: 11.2 V",
        "limit": "Under 11.5 V.",
    },
    {"row": "faults", "verdict": "look", "known": False, "seen": "Faults: not read", "limit": ""},
    {"row": "heat", "verdict": "fit", "known": True, "seen": "Coolant 24 °C", "limit": "At most 95 °C."},
]  # fmt: skip
ASHORE = {"verdict": "keep ashore", "engine": "off", "rows": ROWS}
FIT = {"verdict": "fit", "engine": "off", "rows": ROWS[2:]}


def kept(tmp_path, *, mode=Mode.LIVE):
    """What a keeper has put into the book."""
    keeper = BookKeeper(tmp_path)
    keeper.start()
    link, craft = Link(LinkState.FOUND, 0.0), Craft("auk", "Auk three-cylinder", "1042")
    keeper.saw(View(True, Snapshot(60.0, link, mode, craft, None, 1, [], operator="Mara"), None))
    keeper.checked(CRAFT, ASHORE)
    keeper.stop()
    book = Book.read(tmp_path)
    try:
        return [entry for entry in book.entries(limit=100) if entry.kind == Kind.QUICK_CHECK]
    finally:
        book.close()


def test_a_check_is_kept_with_who_made_it_and_the_craft_on_its_visit(tmp_path):
    (entry,) = kept(tmp_path)
    assert (entry.operator, entry.craft, entry.body) == ("Mara", CRAFT, ASHORE)
    assert entry.visit


def test_a_check_of_a_recording_is_not_kept(tmp_path):
    assert kept(tmp_path, mode=Mode.REPLAY) == []


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (ASHORE, "Quick check: KEEP ASHORE. Battery too low: 11.2 V; Faults: not read"),
        (FIT, "Quick check: fit, engine off"),
        ({"verdict": "look", "engine": "off", "rows": []}, "Quick check: LOOK"),
        ({}, "Cannot be put in words: quick_check"),
    ],
)
def test_its_line_says_the_verdict_and_what_it_comes_from(open_book, body, words):
    entry = open_book().add(Kind.QUICK_CHECK, CRAFT, "Ines", body)
    assert headline(entry) == words
    assert words in entry_row(entry).strong


def test_its_page_has_every_row(open_book):
    entry = open_book().add(Kind.QUICK_CHECK, CRAFT, "Ines", ASHORE)
    lines = page(entry)
    assert lines[1:4] == [
        "keep ashore: Battery too low: 11.2 V. Under 11.5 V.",
        "look: Faults: not read.",
        "fit: Coolant 24 °C. At most 95 °C.",
    ]
    assert "By: Ines" in lines


@pytest.mark.parametrize(
    "body", [{}, {"rows": 3}, {"rows": [3]}, {"rows": [{}]}, {"verdict": 1, "rows": None}]
)
def test_whatever_stands_in_it_its_page_can_be_shown(open_book, body):
    entry = open_book().add(Kind.QUICK_CHECK, CRAFT, "", body)
    assert page(entry)
