"""Contrast and colours as they are drawn, read from the pictures of every page: not from a table of colours.

Formulas: contrast and relative luminance of WCAG 2.2 (W3C); sRGB to CIELAB of IEC 61966-2-1 and CIE 15, and
the matrices of Machado, Oliveira, Fernandes 2009 for full colour deficiency, both from memory; they are
checked below against figures measured elsewhere.
"""

from __future__ import annotations

import itertools

import pytest
from keys_seen import LANES

from screens.pages import PAGES

pytestmark = pytest.mark.glass

GROUND_SHARE, SAME_GROUND = 0.04, 3.0
"""The most frequent colour of the box of a line is its ground; so is one of this share that is as near to it
as the bars of old data."""

LARGE_MM, SMALL_RATIO, VALUE_RATIO = 5.0, 4.5, 7.0
"""Letters from this em up are values, titles and warnings."""


def luminance(colour):
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in rgb(colour)]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def rgb(colour):
    return [part / 255 for part in colour[:3]]


def contrast(one, other):
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def drawn_contrast(colours):
    """Of the letters to the ground they stand on; where that is hatched, to the worse of both colours."""
    first = colours[0][1]
    grounds = [
        colour
        for share, colour in colours
        if colour == first or (share >= GROUND_SHARE and contrast(colour, first) < SAME_GROUND)
    ]
    inks = [colour for share, colour in colours if share >= 0.002]
    return max(min(contrast(ink, ground) for ground in grounds) for ink in inks)


MACHADO = {
    "protan": (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    "deutan": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
    "tritan": (
        (1.255528, -0.076749, -0.178779),
        (-0.078411, 0.930809, 0.147602),
        (0.004733, 0.691367, 0.303900),
    ),
}


def linear(colour):
    return [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in rgb(colour)]


def seen_by(colour, eye):
    """Linear light as somebody with this deficiency sees it; "normal" changes nothing."""
    parts = linear(colour)
    if eye == "normal":
        return parts
    return [min(1.0, max(0.0, sum(f * p for f, p in zip(row, parts, strict=True)))) for row in MACHADO[eye]]


def lab(light):
    red, green, blue = light
    xyz = (
        (0.4124564 * red + 0.3575761 * green + 0.1804375 * blue) / 0.95047,
        0.2126729 * red + 0.7151522 * green + 0.0721750 * blue,
        (0.0193339 * red + 0.1191920 * green + 0.9503041 * blue) / 1.08883,
    )
    x, y, z = (part ** (1 / 3) if part > 216 / 24389 else (24389 / 27 * part + 16) / 116 for part in xyz)
    return 116 * y - 16, 500 * (x - y), 200 * (y - z)


def difference(one, other, eye):
    """CIE 1976 colour difference."""
    pairs = zip(lab(seen_by(one, eye)), lab(seen_by(other, eye)), strict=True)
    return sum((a - b) ** 2 for a, b in pairs) ** 0.5


def test_the_formulas_agree_with_figures_measured_elsewhere():
    """Pure red to pure green: 171 to a normal eye, 28 to a deuteranope (human-factors notes, part 1.4)."""
    red, green = (255, 0, 0), (0, 255, 0)
    assert difference(red, green, "normal") == pytest.approx(171, abs=1)
    assert difference(red, green, "deutan") == pytest.approx(28, abs=4)
    assert contrast((255, 255, 255), (0, 0, 0)) == pytest.approx(21.0)


def test_letters_on_two_grounds_count_by_the_worse():
    colours = [[0.5, [255, 255, 255]], [0.3, [190, 190, 190]], [0.1, [0, 0, 0]], [0.1, [90, 90, 90]]]
    assert drawn_contrast(colours) == pytest.approx(contrast((0, 0, 0), (190, 190, 190)))


def faint(stage, which):
    millimetre = stage.facts["dpi"] / 25.4
    for view, seen in stage.all_pixels(which).items():
        for line in seen["letters"]:
            wanted = VALUE_RATIO if line["em"] >= LARGE_MM * millimetre else SMALL_RATIO
            if not line["colours"]:
                yield f"{view}: {line['text']!r} stands outside the window"
            elif (ratio := drawn_contrast(line["colours"])) < wanted:
                yield f"{view}: {line['text']!r} {ratio:.1f} : 1"


def test_every_letter_of_every_page_stands_out_from_its_ground(panel_stage):
    assert list(faint(panel_stage, "day")) == []


def test_the_same_at_night(stage):
    assert list(faint(stage, "night")) == []


@pytest.mark.parametrize("which", ["day", "night"])
def test_the_grounds_of_the_states_differ_to_every_eye(stage, which):
    grounds = {}
    for seen in stage.all_pixels(which).values():
        grounds["paper"] = tuple(seen["paper"])
        for tile in seen["tiles"]:
            if tile["look"] in ("watch", "alarm"):
                grounds.setdefault(tile["look"], tuple(tile["ground"]))
        for bars in seen["bars"]:
            grounds.setdefault("bars of old data", tuple(bars))
    assert set(grounds) == {"paper", "watch", "alarm", "bars of old data"}
    for one, other in itertools.combinations(grounds, 2):
        if {one, other} == {"paper", "bars of old data"}:
            continue  # told by the bars, a drawn shape and words, not by colour
        for eye in ("normal", *MACHADO):
            assert difference(grounds[one], grounds[other], eye) >= 25, f"{one} and {other} to {eye}"


def test_every_page_of_the_glass_stands_on_the_stage(stage):
    shown = {seen["page"] for seen in stage.all_views().values()}
    assert shown == set(PAGES), "give it a view, see tests/screens/stage.py"


def test_nothing_scrolls(panel_stage):
    assert {view: seen["scrolls"] for view, seen in panel_stage.all_views().items() if seen["scrolls"]} == {}


def test_no_page_has_more_than_eight_places_to_touch(panel_stage):
    many = {
        view: len(keys)
        for view, seen in panel_stage.all_views().items()
        if len(keys := [key for key in seen["keys"] if key["text"] not in LANES]) > 8
    }
    assert many == {}


OUTLINE_RATIO = 3.0
"""WCAG 2.2, SC 1.4.11: what shows where a control is."""


def outline_contrast(colours):
    """Of an outline to the better of its two grounds; a filled key shows against the one around."""
    outline, *grounds = colours
    return max(contrast(outline, ground) for ground in grounds)


def test_an_outline_is_told_from_a_plain_edge():
    white, grey, black = [255] * 3, [200] * 3, [11] * 3
    assert outline_contrast([white, white, white]) == 1.0
    assert outline_contrast([grey, white, white]) < OUTLINE_RATIO
    for filled_or_not in ([black, white, white], [black, black, white], [black, white, black]):
        assert outline_contrast(filled_or_not) > 15


def faint_keys(stage, which):
    for view, seen in stage.all_pixels(which).items():
        for key in seen["keys"]:
            if len(key["sides"]) < 2:
                yield f"{view}: {key['text']} lies outside the window"
            for side, colours in key["sides"].items():
                if (ratio := outline_contrast(colours)) < OUTLINE_RATIO:
                    yield f"{view}: {key['text']} {side} {ratio:.1f} : 1"


def test_the_outline_of_every_key_stands_out(panel_stage):
    assert list(faint_keys(panel_stage, "day")) == []


def test_and_at_night(stage):
    assert list(faint_keys(stage, "night")) == []
