"""Contrast of the colours, by the formula of WCAG 2.2 (W3C, relative luminance and contrast ratio)."""

from __future__ import annotations

import pytest

from screens.colours import DAY, NIGHT

PAIRS = [("ink", "paper"), ("watch_ink", "watch"), ("alarm_ink", "alarm"), ("ink", "hatch")]


def luminance(colour):
    parts = (int(colour[place : place + 2], 16) / 255 for place in (0, 2, 4))
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def test_the_formula_agrees_with_the_examples_of_the_standard():
    assert contrast("FFFFFF", "000000") == pytest.approx(21.0)
    # WebAIM's often quoted grey that just passes AA on white: 4.54 (from memory).
    assert contrast("767676", "FFFFFF") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("table", [DAY, NIGHT], ids=["day", "night"])
@pytest.mark.parametrize(("ink", "ground"), PAIRS)
def test_values_and_warnings_have_a_contrast_of_seven(table, ink, ground):
    assert contrast(table[ink], table[ground]) >= 7.0


def test_day_and_night_name_the_same_colours():
    assert DAY.keys() == NIGHT.keys()


def test_night_turns_paper_and_ink_round_and_is_dimmer():
    assert luminance(NIGHT["paper"]) < luminance(NIGHT["ink"])
    assert luminance(DAY["ink"]) < luminance(DAY["paper"])
    assert max(map(luminance, NIGHT.values())) < luminance(DAY["paper"])
