"""Words and figures of one tile."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.reading import Quality
from app.show import Look, age_words, figure, tile

NOW = 1000.0


@pytest.mark.parametrize(
    ("value", "decimals", "text"),
    [
        (71.4, 0, "71"),
        (14.05, 1, "14.1"),
        (-3.5, 1, "-3.5"),
        (-0.04, 1, "0.0"),
        (0.98249, 3, "0.982"),
        (12345.0, 0, "12345"),
    ],
)
def test_a_figure_has_fixed_decimals_and_is_never_minus_zero(value, decimals, text):
    assert figure(value, decimals) == text


@given(st.floats(-1e9, 1e9), st.integers(0, 3))
def test_a_figure_is_the_value_to_half_of_its_last_digit(value, decimals):
    assert abs(float(figure(value, decimals)) - value) <= 0.5000001 * 10**-decimals + abs(value) * 1e-15


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0.4, "1 s"), (4.9, "4 s"), (59.9, "59 s"), (60, "1 min"), (3599, "59 min"), (7300, "2 h")],
)
def test_an_age_is_told_in_its_largest_unit(seconds, words):
    assert age_words(seconds) == words


def test_a_good_value_stands_with_its_unit(make):
    shown = tile(make.info(), make.value(), Quality.GOOD, NOW, None)
    assert (shown.text, shown.look, shown.word, shown.figure) == ("71 °C", Look.GOOD, "", True)


def test_an_old_value_says_no_data_and_its_age_and_never_stands_as_a_figure(make):
    shown = tile(make.info(), make.value(age=4.2), Quality.STALE, NOW, None)
    assert (shown.text, shown.note, shown.look) == ("no data 4 s", "was 71 °C", Look.STALE)
    assert not shown.figure


@pytest.mark.parametrize(
    ("quality", "value", "text", "note"),
    [
        (Quality.NOT_AVAILABLE, None, "not sent", "or not fitted"),
        (Quality.ERROR, None, "sensor fault", "says the controller"),
        (Quality.OUT_OF_RANGE, 400.0, "400 °C", "out of range"),
        (Quality.OUT_OF_RANGE, math.nan, "no number", "out of range"),
        (Quality.OUT_OF_RANGE, None, "no number", "out of range"),
    ],
)
def test_a_value_that_is_not_to_be_trusted_says_so_in_words(make, quality, value, text, note):
    shown = tile(make.info(), make.value(value), quality, NOW, None)
    assert (shown.text, shown.note, shown.look.value) == (text, note, quality.value)


def test_a_signal_that_never_came_is_waited_for(make):
    shown = tile(make.info(), None, None, NOW, None)
    assert (shown.text, shown.look) == ("waiting", Look.WAITING)


@pytest.mark.parametrize(
    ("severity", "generic", "source"), [("watch", True, "generic default"), ("alarm", False, "family data")]
)
def test_a_passed_limit_is_named_with_its_source(make, severity, generic, source):
    limit = make.limit(severity, "above", 80.0, generic=generic)
    shown = tile(make.info(), make.value(82.0), Quality.GOOD, NOW, limit)
    assert (shown.text, shown.word, shown.look.value) == ("82 °C", severity, severity)
    assert shown.note == f"max 80 · {source}"


def test_a_limit_with_a_fraction_keeps_it(make):
    limit = make.limit("watch", "below", 12.2)
    shown = tile(make.info("Volts", "V", 1), make.value(12.04), Quality.GOOD, NOW, limit)
    assert shown.note.startswith("min 12.2 ")


def test_a_text_stands_as_it_came(make):
    shown = tile(make.info("State", ""), make.value("Low oil pressure"), Quality.GOOD, NOW, None)
    assert (shown.text, shown.figure) == ("Low oil pressure", False)


@given(
    quality=st.sampled_from(Quality),
    value=st.none() | st.floats() | st.text(min_size=1, max_size=9),
    age=st.floats(0, 1e5),
)
def test_every_tile_says_something_and_only_good_values_look_good(make, quality, value, age):
    shown = tile(make.info(), make.value(value, quality, age), quality, NOW, None)
    assert shown.text
    assert (shown.look is Look.GOOD) == (quality is Quality.GOOD)
    if quality in (Quality.STALE, Quality.NOT_AVAILABLE, Quality.ERROR):
        assert not shown.figure
        assert shown.unit == ""
