"""The lift of a finger on the real window, under a hidden display, to the release that arrives at the craft.

Two beginnings: just before the hand is told to lift (a program of its own does it, which costs some 10 ms),
and when the screen process handled the touch's end, by its own event log. What a touch panel and its driver
add is in neither.
"""

import importlib.util
import random
import sys
import tempfile
import time
from pathlib import Path

from screens.tour_parts import display

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


def one(technician, ledger, output, chance):
    """Seconds from the hand's order and from the touch's end; None if it had ended before."""
    technician.fire(output)
    time.sleep(chance.uniform(0.05, 0.4))
    before = len(technician.kiosk.touches())
    at = time.monotonic()
    technician.glass.lift()
    technician.until(lambda: technician.live() == [], f"{output} is off")
    technician.until(lambda: len(technician.kiosk.touches()) > before, "the touch has ended")
    ended = technician.kiosk.touches()[before]["t"]
    released = ledger.requests(at, RELEASES[output])
    if not released or technician.history(output)[-1]["stop"] < at or released[0] < ended - 0.05:
        return None
    return released[0] - at, released[0] - ended


def measure(events, seed, *, say=lambda words: None):
    """Both times of each event, and how many presses had ended before."""
    kiosk_parts, chance = whole_kiosk(), random.Random(seed)
    took, again = [], 0
    with tempfile.TemporaryDirectory() as folder, display(800, 480) as name:
        kiosk = kiosk_parts.Kiosk(Path(folder), name)
        try:
            kiosk.supervisor = kiosk.kiosk()
            craft = kiosk.craft("dock", "--family", "auk", "--ledger", Path(folder) / "ledger")
            kiosk.glass.wait_for_tile("EngineSpeed", "good")
            technician = kiosk_parts.Technician(kiosk, craft)
            ledger = Ledger(Path(folder) / "ledger")
            while len(took) < events:
                result = one(technician, ledger, ("horn", "fan")[len(took) % 2], chance)
                if result is None:
                    again += 1
                    assert again <= 20 + events, technician.words()
                else:
                    took.append(result)
                    say(f"{len(took)} lifts")
        finally:
            kiosk.close()
    return took, again
