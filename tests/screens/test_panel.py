"""Panels and the measures that follow from them."""

from __future__ import annotations

import math

import pytest

from app.errors import UsageError
from screens.panel import find, panels, touch_source

# Pixels of 3, 15 and 20 mm: ceil(mm * dpi / 25.4) with dpi = diagonal in pixels / diagonal in inches. The
# densities are also those that makers' data sheets of such panels give (133, 170, 210, 149; from memory).
MEASURES = {
    "7-800x480": (133, 16, 79, 105),
    "7-1024x600": (170, 21, 101, 134),
    "7-1280x720": (210, 25, 124, 166),
    "10-1280x800": (149, 18, 89, 118),
}


def test_the_four_panels_are_there():
    assert set(panels()) == set(MEASURES)


@pytest.mark.parametrize(("name", "measures"), MEASURES.items())
def test_a_millimetre_follows_from_the_diagonal(name, measures):
    dpi = find(name).dpi
    assert (round(dpi), *(math.ceil(length * dpi / 25.4) for length in (3, 15, 20))) == measures


def test_an_unknown_panel_is_refused_with_the_names_that_there_are():
    with pytest.raises(UsageError, match=r"No panel profile is called 5-640x480\. Choose one of: 7-800x480"):
        find("5-640x480")


@pytest.mark.parametrize(
    ("environment", "provider"),
    [
        ({"DISPLAY": ":0"}, "mouse,disable_multitouch"),
        ({}, "probesysfs,provider=mtdev"),
        ({"DISPLAY": ":0", "SDL_VIDEODRIVER": "KMSDRM"}, "probesysfs,provider=mtdev"),
        ({"SDL_VIDEODRIVER": "x11"}, "mouse,disable_multitouch"),
    ],
)
def test_there_is_one_source_of_touches_and_it_fits_the_display(environment, provider):
    assert touch_source(environment)[1] == provider
