"""Makes a page when it is opened first: its module and layout are read only then."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from screens.page import Page


def make(which: str, turn: Callable[[int], None], set_rate: Callable[[int | None], None]) -> Page:
    """Make one page.

    Args:
        which: "ride" (the big values), "signals" (a subsystem), "link" (words while there is no craft), or a
            lane.
        turn: turns the pages of the Ride lane.
        set_rate: tells the bit rate a person named.
    """
    if which == "ride":
        from screens.ride import RidePage  # noqa: PLC0415

        return RidePage(turn)
    if which == "signals":
        from screens.signals import SignalsPage  # noqa: PLC0415

        return SignalsPage(turn)
    if which == "link":
        from screens.link import LinkPage  # noqa: PLC0415

        return LinkPage(set_rate)
    if which == "Check":
        from screens.connection import ConnectionPage  # noqa: PLC0415

        return ConnectionPage()
    from screens.plain import PlainPage  # noqa: PLC0415

    return PlainPage(which)
