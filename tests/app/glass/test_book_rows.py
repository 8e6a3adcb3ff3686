"""What the Book lane says about an entry, and where there is none."""

from datetime import UTC, datetime

import pytest

from app.book_words import LONGEST, book_rows, book_title, entry_row
from app.entry import Entry, Kind
from app.keeper import BookKeeper

CRAFT = "auk 1042"
WRITTEN = datetime(2026, 11, 25, 10, 32, tzinfo=UTC)


def entry(kind=Kind.NOTE, body=None, **more):
    values = {
        "device": "d", "number": 7, "id": "i", "craft": CRAFT, "visit": "", "hlc": "0" * 16,
        "wall_ms": int(WRITTEN.timestamp() * 1000), "wall_trusted": True, "boot": "b", "mono_ms": 1_000_000,
        "operator": "Mara", "kind": str(kind), "schema": 1, "previous": "", "hash": "",
        "body": {"text": "a word"} if body is None else body,
    }  # fmt: skip
    return Entry(**values | more)


def ended(**what):
    what = {"output": "fan", "press": 1, "cause": "Finger lifted"} | what
    return entry(Kind.OUTPUT_END, {"what": what, "journal": {"mono": 1000.0, "boot": "b"}})


def row(one, **more):
    return entry_row(one, UTC, **more)


@pytest.fixture
def keeper(tmp_path):
    return BookKeeper(tmp_path)


def test_a_row_says_when_what_who_and_on_which_craft():
    line = row(entry())
    assert (line.strong, line.plain) == ("2026-11-25 10:32 Note: a word.", f"By Mara, {CRAFT}")
    assert row(entry(), with_craft=False).plain == "By Mara"
    assert row(entry(operator="")).plain == CRAFT


def test_a_clock_that_was_never_set_is_not_believed():
    assert "(clock not trusted)" in row(entry(wall_trusted=False)).strong


@pytest.mark.parametrize(
    ("what", "said", "shape"),
    [
        ({"fired": True, "confirmed": True}, "Fan: fired, confirmed stopped. Finger lifted.", ""),
        ({"fired": True, "confirmed": False}, "Fan: NOT CONFIRMED STOPPED. Finger lifted.", "triangle"),
        ({"fired": None, "confirmed": None}, "Fan: NOT CONFIRMED STOPPED. Finger lifted.", "triangle"),
        ({"fired": False, "confirmed": False}, "Fan: did not fire. Finger lifted.", ""),
    ],
)
def test_the_end_of_an_output_asks_for_care_unless_it_was_confirmed_or_never_fired(what, said, shape):
    line = row(ended(**what))
    assert line.strong.removeprefix("2026-11-25 10:32 ") == said
    assert line.shape == shape


def test_a_lock_asks_for_care_and_an_end_that_cannot_be_read_stands_too():
    locked = {"what": {"words": "Fan was not confirmed stopped"}, "journal": {}}
    assert row(entry(Kind.LOCKED, locked)).shape == "triangle"
    assert "Cannot be put in words" in row(entry(Kind.OUTPUT_END, {"what": []})).strong


def test_what_is_too_long_loses_its_middle_and_names_the_entry():
    codes = ", ".join(f"P{number:04}" for number in range(90))
    said = row(entry(body={"text": f"{codes}; NOT READ: Gauge display"})).strong
    assert "P0000" in said
    assert said.endswith("NOT READ: Gauge display. (All of it: entry 7.)")
    assert len(said) < LONGEST + 60


def test_a_book_that_is_opened_one_without_entries_of_a_craft_and_none_are_told_apart(keeper):
    def said():
        return [line.strong for line in book_rows(keeper, (), with_craft=True, first=True)]

    assert said() == ["One moment."]
    keeper.entries = (entry(),)
    assert said() == ["Nothing stands here yet."]
    none = book_rows(None, (), with_craft=True, first=True)
    assert [line.strong for line in none] == ["No book is open."]


def test_trouble_stands_first_with_its_shape_on_the_first_page_alone(keeper):
    keeper.trouble = "The storage is full."
    (only,) = book_rows(keeper, (), with_craft=True, first=True)
    assert (only.strong, only.shape) == ("The storage is full.", "triangle")
    keeper.entries = (entry(),)
    assert len(book_rows(keeper, keeper.entries, with_craft=True, first=True)) == 2
    assert len(book_rows(keeper, (), with_craft=True, first=True)) == 2
    assert len(book_rows(keeper, keeper.entries, with_craft=True, first=False)) == 1


def test_the_title_says_whose_entries_stand_there():
    assert book_title("", all_craft=False) == "Craft book"
    assert book_title(CRAFT, all_craft=False) == f"Craft book: {CRAFT}"
    assert book_title(CRAFT, all_craft=True) == "Craft book: all craft"
