"""Typing a number: only what may become one is taken, and never one outside its range."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.number_entry import BACK, CLEAR, MINUS, MOST, POINT, NumberEntry

KEYS = [*"0123456789", POINT, BACK, CLEAR, MINUS]


def typed(keys, low=0.0, high=100.0, decimals=1):
    entry = NumberEntry("bar", low, high, decimals)
    for key in keys:
        entry.touch(key)
    return entry


@pytest.mark.parametrize(
    ("keys", "text"),
    [
        ("12.5", "12.5"), ("12.55", "12.5"), (".5", "0.5"), ("007", "7"), ("1..5", "1.5"), ("12<3", "13"),
        (["1", CLEAR, "2"], "2"), ("-5", "5"), ("123456789", "1234567"),
    ],
)  # fmt: skip
def test_what_is_typed(keys, text):
    assert typed(keys).text == text


def test_below_zero_only_where_the_range_goes_there():
    assert typed("-5", low=-20).value == -5
    assert typed("5-", low=-20).value == -5
    assert typed("--5", low=-20).value == 5


def test_a_figure_outside_the_range_is_not_a_value_and_says_why():
    entry = typed("250", low=8, high=16)
    assert (entry.value, entry.trouble) == (None, "Too high: 8 to 16 bar.")
    entry = typed("7", low=8, high=16)
    assert (entry.value, entry.trouble) == (None, "Too low: 8 to 16 bar.")
    assert (typed("8", low=8, high=16).value, typed("", low=8, high=16).trouble) == (8.0, "")


def test_a_range_without_a_number_is_refused():
    with pytest.raises(ValueError, match="holds no number"):
        NumberEntry("V", 3, 2)


@given(st.lists(st.sampled_from(KEYS), max_size=30), st.integers(0, 3), st.sampled_from([-50.0, 0.0, 8.0]))
def test_whatever_is_touched_the_value_is_in_range_and_the_text_short(keys, decimals, low):
    entry = typed(keys, low=low, high=120.0, decimals=decimals)
    assert len(entry.text) <= MOST + 1
    assert entry.value is None or low <= entry.value <= 120.0
    assert len(entry.text.partition(".")[2]) <= decimals
    assert entry.value is None or not entry.trouble
