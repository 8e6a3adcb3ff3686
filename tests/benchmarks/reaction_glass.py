"""What a hand does on the real window, under a hidden display, to the release that arrives at the craft.

The finger lifts, drifts off the hold target, presses the stop key, or the window is hidden. Measured is from
just before the hand is told so (a program of its own does it, which costs some 10 ms); of a lift also from
when the screen process handled the touch's end, by its own event log. What a touch panel and its driver add
is in neither. Strangers fill the bus and another process works meanwhile.
"""

import importlib.util
import random
import sys
import tempfile
import time
from pathlib import Path

from other_work import OtherWork

from screens.tour_parts import display

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parents[1] / "safety"))

from reaction_whole import RELEASES
from whole_tool import Ledger

TECHNICIAN = Path(__file__).parents[1] / "end_to_end" / "conftest.py"


def whole_kiosk():
    """The technician of the end-to-end tests."""
    spec = importlib.util.spec_from_file_location("end_to_end_conftest", TECHNICIAN)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def drift(technician):
    x, y = technician.at
    technician.glass.hand("mousemove", str(x), str(y - DRIFT_PX))


def hide(technician):
    technician.glass.hand("windowunmap", technician.window)


def show(technician):
    technician.glass.hand("windowmap", technician.window)


CAUSES = {
    "finger lifted": (lambda technician: technician.glass.lift(), lambda technician: None),
    "finger drifted off": (drift, lambda technician: None),
    "stop key": (lambda technician: technician.glass.hand("key", "space"), lambda technician: None),
    "window hidden": (hide, show),
}
"""What the hand does, and what it does to go back."""

DRIFT_PX = 120
"""From the middle of the hold target to beside it, on a panel of 800x480."""


def one(technician, ledger, cause, output, chance):
    """Seconds from the hand's order and, of a lift, from the touch's end; None if it had ended before."""
    begin, end = CAUSES[cause]
    technician.fire(output)
    technician.at = technician.glass.middle("Keep holding")
    time.sleep(chance.uniform(0.05, 0.4))
    before = len(technician.kiosk.touches())
    at = time.monotonic()
    begin(technician)
    technician.until(lambda: technician.live() == [], f"{output} is off")
    end(technician)
    technician.glass.lift()
    released = ledger.requests(at, RELEASES[output])
    if not released or technician.history(output)[-1]["stop"] < at:
        return None
    if cause != "finger lifted":
        return released[0] - at, None
    technician.until(lambda: len(technician.kiosk.touches()) > before, "the touch has ended")
    ended = technician.kiosk.touches()[before]["t"]
    return None if released[0] < ended - 0.05 else (released[0] - at, released[0] - ended)


def measure(events, seed, *, say=lambda words: None):
    """By cause: both times of each event; and how many presses had ended before."""
    kiosk_parts, chance = whole_kiosk(), random.Random(seed)
    took, again = {cause: [] for cause in CAUSES}, 0
    with tempfile.TemporaryDirectory() as folder, display(800, 480) as name:
        kiosk = kiosk_parts.Kiosk(Path(folder), name)
        work = OtherWork()
        try:
            kiosk.supervisor = kiosk.kiosk()
            craft = kiosk.craft("dock", "--family", "auk", "--ledger", Path(folder) / "ledger")
            craft.ask(do="crowd", on=True)
            kiosk.glass.wait_for_tile("EngineSpeed", "good")
            technician = kiosk_parts.Technician(kiosk, craft)
            technician.window = kiosk.glass.hand("getwindowfocus")
            ledger = Ledger(Path(folder) / "ledger")
            for cause, results in took.items():
                while len(results) < events:
                    output = ("horn", "fan")[len(results) % 2]
                    result = one(technician, ledger, cause, output, chance)
                    if result is None:
                        again += 1
                        assert again <= 20 + events, technician.words()
                    else:
                        results.append(result)
                say(f"{cause}: {events} events")
        finally:
            work.end()
            kiosk.close()
    return took, again
