"""Makes a page when it is opened first: its module and layout are read only then."""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from screens.actions import Actions
    from screens.page import Page

FIRST = {"Check": "connection", "Bench": "bench", "Book": "book"}
"""The page that a lane opens with; the Ride lane shows what there is."""

PAGES = {
    "ride": ("screens.ride", "RidePage"),
    "signals": ("screens.signals", "SignalsPage"),
    "link": ("screens.link", "LinkPage"),
    "connection": ("screens.connection", "ConnectionPage"),
    "bench": ("screens.bench", "BenchPage"),
    "output": ("screens.output", "OutputPage"),
    "hold": ("screens.hold", "HoldPage"),
    "unconfirmed": ("screens.unconfirmed", "UnconfirmedPage"),
    "people": ("screens.people", "PeoplePage"),
    "book": ("screens.book", "BookPage"),
}
"""Module and class of every page, by the name it is opened by."""


def make(which: str, actions: Actions) -> Page:
    """Make one page of PAGES."""
    module, name = PAGES[which]
    page: Page = getattr(importlib.import_module(module), name)(actions)
    return page
