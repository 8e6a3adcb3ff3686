"""The jobs of the tour: the check before hire, faults, one injector refused and fired, the book."""

from __future__ import annotations

import re
import time
from typing import TYPE_CHECKING

from app.errors import BoathookError
from screens.tour_parts import wait_for

if TYPE_CHECKING:
    from collections.abc import Callable

    from screens.tour_parts import Craft, Glass

    Picture = Callable[[str, str], None]

SEEN_S = 0.6
"""The glass writes its texts five times a second; by then what was done is in the picture."""

SEEN_PULSES = 4
"""Given before the picture of a live injector is made."""

MOST_TOUCHES = {"check": 2, "faults": 2, "injector": 6}
"""From plug-in to a verdict before hire, to the faults, and to the injector firing with all its cautions."""


def check_before_hire(picture: Picture, glass: Glass, craft: Craft) -> int:
    """A verdict on a sound craft, then on one with a low battery; returns how many touches the first took."""
    before = glass.touches()
    glass.tap("Check")
    glass.wait_for_screen("check/faults")
    glass.tap("Quick check")
    glass.wait_for_text('"Fit"', "The craft was not found fit.")
    touches = glass.touches() - before
    picture("fit", "Before hire, for the dock hand: a verdict in two touches, what was seen and its limits.")
    craft.ask(do="plant", signal="BatteryVoltage", kind="value", value=12.0)
    glass.wait_for_text("Battery low: 12.0 V", "The low battery was not shown.")
    picture("look", "The same with a low battery: not yet for hire, and what to do first.")
    craft.ask(do="mend")
    glass.wait_for_text("Battery 12.", "The battery was not shown as mended.")
    glass.tap("Ride")
    glass.wait_for_screen("ride")
    return touches


def faults(picture: Picture, glass: Glass, craft: Craft) -> int:
    """Read them, look at one; returns how many touches it took until they were read."""
    for code in ("P0117", "P0122"):
        craft.ask(do="fault", code=code, on=True)
    before = glass.touches()
    glass.tap("Check")
    glass.wait_for_screen("check/faults")
    glass.tap("Read again")
    glass.wait_for_text("2 faults, read", "The faults were not read.")
    touches = glass.touches() - before
    picture("faults", "Faults, read again in two touches; those of one moment stand together.")
    glass.tap("Details")
    glass.wait_for_screen("check/fault")
    picture("fault", "One fault with all that the controller kept of its moment.")
    glass.tap("Back")
    glass.wait_for_screen("check/faults")
    glass.tap("Clear")
    glass.wait_for_screen("check/clear")
    picture("clear", "Asked before anything is cleared; this person may not.")
    glass.tap("Keep")
    glass.wait_for_screen("check/faults")
    return touches


def injector(picture: Picture, glass: Glass, craft: Craft) -> int:
    """Refused first, then fired; returns how many touches firing took."""
    glass.tap("Bench")
    glass.wait_for_screen("bench/1")
    picture("outputs", "The outputs of this craft.")
    glass.tap("Injector 2")
    glass.wait_for_text("not seen pulled", "The needs were not shown.")
    picture("refused", "Refused: what was seen, and what to do, in the order to mend it.")
    craft.ask(do="lanyard", pulled=True)
    time.sleep(SEEN_S)
    craft.ask(do="lanyard", pulled=False)
    glass.tap("Ride")
    glass.wait_for_screen("ride")
    before = glass.touches()
    glass.tap("Bench")
    glass.tap("Injector 2")
    glass.tap("Sign in Mara")
    glass.wait_for_screen("bench/cautions")
    time.sleep(SEEN_S)
    picture("cautions", "Nothing is missing but a person's word: the cautions.")
    glass.tap("Hatch open, no smell")
    glass.wait_for_screen("bench/ready")
    picture("ready", "Ready to be armed.")
    glass.press("Hold 1 s to arm")
    glass.wait_for_screen("bench/hold")
    glass.lift()
    picture("armed", "Armed; the hold target is elsewhere.")
    glass.press("Hold here")
    wait_for(lambda: craft.ask(do="outputs")["live"], "The injector did not fire.")
    touches = glass.touches() - before + 1  # the last is still on the glass
    wait_for(lambda: _pulses(glass) >= SEEN_PULSES, "The pulses were not counted.")
    picture("live", "The injector clicks while the finger holds.")
    glass.lift()
    glass.wait_for_screen("bench/result")
    picture("result", "The result, and what comes next.")
    return touches


def _pulses(glass: Glass) -> int:
    """How many pulses the glass says were given; 0 if it says nothing of pulses."""
    found = re.search(r"pulse (\d+) of", " ".join(glass.shown()["words"]))
    return int(found[1]) if found else 0


def book(picture: Picture, glass: Glass) -> None:
    """What was done stands in the book."""
    glass.tap("Book")
    glass.wait_for_screen("book")
    glass.wait_for_text("Fuel inhibit: fired", "The test is not in the book.")
    picture("book", "The craft book.")


def check(job: str, touches: int) -> str:
    """A line about how many touches a job took.

    Raises:
        BoathookError: more than a person would want.
    """
    most = MOST_TOUCHES[job]
    if touches > most:
        raise BoathookError(f"The job “{job}” took {touches} touches, more than {most}.")
    return f"{job}: {touches} touches, at most {most}"
