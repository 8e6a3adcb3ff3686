"""Hull numbers against 33 CFR 181.25 and public examples, as collected in shared/reference/standards.md 7."""

from __future__ import annotations

import calendar
import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.hull_number import MONTHS, hull_number

SERIALS = st.text(alphabet="ABCDEFGHJKLMNPRSTUVWXYZ0123456789", min_size=5, max_size=5)


@pytest.mark.parametrize(
    ("text", "month", "year", "model"),
    [
        ("ABC12345L495", 12, 1994, 1995),  # a public example: December 1994 of model year 95
        ("ABC0A1B2I404", 9, 2004, 2004),  # I is September in the ninth place
        ("ABC12345K485", 11, 1984, 1985),  # November 1984, model year 85
        ("ABC12345C585", 3, 1985, 1985),
        ("abc12345l495", 12, 1994, 1995),
    ],
)
def test_numbers_that_are_right(text, month, year, model):
    found = hull_number(text)
    assert (found.maker, found.month, found.year, found.model_year) == ("ABC", month, year, model)
    assert found.country == ""


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("ABC1234OL495", "holds O"),
        ("ABC1234IL495", "holds I"),
        ("ABC1234QL495", "holds Q"),
        ("ABC12345M495", "its month is M"),
        ("ABC12345LA95", "its year is A"),
        ("ABC12345L4A5", "its model year is A5"),
        ("ABC1234L495", "11 characters"),
        ("ABC123456L495", "13 characters"),
        ("", "0 characters"),
        ("ABC1234/L495", "more than letters and digits"),
        ("U1ABC12345D404", "its country"),
    ],
)
def test_numbers_that_are_not(text, words):
    with pytest.raises(ValueError, match=words):
        hull_number(text)


def test_fourteen_characters_begin_with_a_country_however_they_are_parted():
    """ISO 10087 by secondary sources, which differ about hyphens; the date of this one is from memory."""
    for text in ("US-ABC12345D404", "US ABC 12345 D4 04", "USABC12345D404"):
        found = hull_number(text)
        assert (found.country, found.maker, found.serial) == ("US", "ABC", "12345")
        assert (found.month, found.year, found.model_year) == (4, 2004, 2004)
    assert hull_number("US-ABC12345D404").words() == (
        "maker ABC, US, serial 12345, built April 2004, model year 2004"
    )


@given(SERIALS, st.integers(1, 12), st.integers(1985, 2084), st.integers(-1, 0))
def test_what_is_written_is_read(serial, month, model, step):
    """A craft is built in its model year or the year before it."""
    year = model + step
    found = hull_number(f"ABC{serial}{MONTHS[month - 1]}{year % 10}{model % 100:02}")
    assert (found.serial, found.month, found.year, found.model_year) == (serial, month, year, model)
    assert calendar.month_name[month] in found.words()


@given(st.text(max_size=20))
def test_whatever_is_written_only_says_what_is_wrong(text):
    with contextlib.suppress(ValueError):
        assert len(hull_number(text).text) in (12, 14)
