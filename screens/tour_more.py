"""More jobs of the tour: what there is beside the values, and fuel held off for a crank by hand."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

from screens.tour_jobs import SEEN_S
from screens.tour_parts import wait_for

if TYPE_CHECKING:
    from screens.tour_jobs import Picture
    from screens.tour_parts import Craft, Glass

CHART_S = 12.0
"""Of a ride, so that the chart has something to show."""

OTHER_CRAFT = 4711043
"""One that no fuel was let into: after an injector test nothing is fired for four minutes."""

INHIBIT = "Hold fuel off"


def beside(picture: Picture, glass: Glass, craft: Craft) -> None:
    """The last minute as lines, least and most, stopped figures, another six, the settings."""
    for percent in (60, 20, 45):
        craft.ask(do="throttle", percent=percent)
        time.sleep(CHART_S / 3)
    glass.next_page()
    glass.tap("Freeze")
    time.sleep(SEEN_S)
    picture("frozen", "Figures that were stopped by a touch, and say so.")
    for key, name, line in (
        ("Chart of the last minute", "chart", "The last minute of four values."),
        ("Least and most seen", "most", "The least and the most of every value of this craft."),
        ("Choose six", "choose", "Which six stand on the first page."),
        ("How it is worked out", "about", "How the values are worked out that the craft does not send."),
        ("Settings", "settings", "Colours, units, where it is used, panel, adapter."),
    ):
        glass.first_page()
        glass.tap("More")
        glass.wait_for_screen("ride/more")
        if name == "chart":
            picture("more", "What there is beside the values.")
        glass.tap(key)
        time.sleep(SEEN_S)
        picture(name, line)
    glass.tap("Colours: day")
    glass.first_page()
    time.sleep(SEEN_S)
    picture("night", "The same at night.")
    glass.tap("More")
    glass.tap("Settings")
    glass.tap("Colours: night")
    glass.first_page()


def ride(picture: Picture, glass: Glass, craft: Craft) -> None:
    """On the handlebar the glass locks itself above idle; a moment is marked, and at idle it is unlocked."""
    glass.first_page()
    glass.tap("More")
    glass.tap("Settings")
    glass.tap("Used: in the hand")
    craft.ask(do="throttle", percent=45)
    glass.wait_for_screen("ride/locked")
    time.sleep(SEEN_S)
    picture("locked", "Under way on the handlebar: three values, one key, everything else locked.")
    glass.tap("Mark 1")
    time.sleep(SEEN_S)
    picture("marked", "The moment is marked, in the book and in the recording.")
    craft.ask(do="throttle", percent=0)
    glass.middle("Hold to unlock")
    picture("unlock", "At idle a hold unlocks it.")
    glass.press("Hold to unlock")
    glass.wait_for_screen("ride/1")
    before = glass.touches()
    glass.lift()
    wait_for(lambda: glass.touches() > before, "The finger that unlocked it never lifted.")
    glass.tap("More")
    glass.tap("Settings")
    glass.tap("Used: on the handlebar")
    glass.first_page()
    craft.ask(do="throttle", percent=35)


def trailer(picture: Picture, glass: Glass, craft: Craft) -> None:
    """The engine is run on the trailer for a moment, without water."""
    glass.first_page()
    glass.tap("More")
    glass.tap("On the trailer")
    glass.wait_for_screen("ride/trailer")
    time.sleep(SEEN_S)
    picture("trailer", "On the trailer: the cautions, and is there water?")
    glass.tap("No water")
    craft.start_engine()
    glass.wait_for_screen("ride/dry")
    time.sleep(SEEN_S)
    picture("dry", "Without water the seconds are counted.")
    craft.stop_engine()
    glass.wait_for_screen("ride/trailer")
    time.sleep(SEEN_S)
    picture("dry-after", "How much is left, and when all of it is again.")
    glass.tap("In the water again")
    glass.first_page()


def alarm(picture: Picture, glass: Glass, craft: Craft) -> None:
    """The engine gets too hot for longer than a moment."""
    craft.start_engine()
    craft.ask(do="plant", signal="CoolantTemperature", kind="value", value=104.0)
    glass.wait_for_screen("ride/alarm")
    time.sleep(SEEN_S)
    picture(
        "alarm", "An alarm that lasts takes the whole glass, until somebody has touched that they saw it."
    )
    craft.ask(do="mend")
    glass.tap("Seen")
    craft.stop_engine()


def crank(picture: Picture, glass: Glass, craft: Craft) -> None:
    """Fuel is held off, the person cranks with the craft's own switch, fuel is given back."""
    craft.ask(do="serial", value=OTHER_CRAFT)
    glass.wait_for_text(str(OTHER_CRAFT), "The other craft was not named.")
    craft.start_engine()
    craft.stop_engine()
    craft.ask(do="lanyard", pulled=True)
    time.sleep(SEEN_S)
    craft.ask(do="lanyard", pulled=False)
    glass.tap("Bench")
    glass.wait_for_screen("bench/1")
    while INHIBIT not in [key["text"] for key in glass.shown()["keys"]]:
        glass.next_page()
        time.sleep(SEEN_S)
    glass.tap(INHIBIT)
    for promise in ("Hatch open, no smell", "Hands are clear", "Jet area clear"):
        glass.middle(promise)
        if promise.startswith("Jet"):
            picture("jet-clear", "Before a crank with fuel held off: one promise after another.")
        glass.tap(promise)
    glass.press("Hold 1 s to arm")
    glass.wait_for_screen("bench/hold")
    glass.lift()
    glass.press("Hold here")
    glass.wait_for_screen("bench/latched")
    glass.lift()
    craft.ask(do="start", pressed=True)
    wait_for(lambda: craft.ask(do="state")["values"]["EngineSpeed"] > 100, "The starter did not turn it.")
    time.sleep(SEEN_S)
    picture("held-off", "Read back every second: fuel is held off while the person cranks.")
    glass.tap("Give fuel back")
    time.sleep(SEEN_S)
    picture("ending", "It is given back only once the engine has stood still.")
    craft.ask(do="start", pressed=False)
    glass.wait_for_screen("bench/result")
    picture("given-back", "The controller confirmed that fuel is given back.")
