"""Every cause that ends an output and can be driven from outside, through the whole bus half.

The simulated craft hangs on a pseudo-terminal, the bus process is the real one, a hand at the wall beats
every 50 ms as the screen does. Measured is from the event (just before the craft is told of it, or the hand
says it) to the release that arrives at the craft, by its own ledger; and to the end of the output there.
Loaded, strangers fill the bus, the real screen draws what it hears under a hidden display (nobody touches
it), and another process draws and reckons.
"""

import contextlib
import itertools
import os
import sys
import tempfile
import time
from pathlib import Path

from other_work import Delays, OtherWork

from app.output_messages import Confirm, Consider, Press, SignIn
from screens.tour_parts import display

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parents[1] / "safety"))

from processes import end_all
from whole_tool import Whole

RELEASES = {"horn": bytes.fromhex("2fd12200"), "fan": bytes.fromhex("2fd12100")}
"""InputOutputControlByIdentifier, return control: the family's own list in tests/safety/lists."""


def planted(limit_s, signal, kind, value=None):
    def deed(whole):
        more = {} if value is None else {"value": value}
        whole.deed(do="plant", signal=signal, kind=kind, **more)

    return deed, lambda whole: whole.deed(do="mend"), limit_s


def done(limit_s, begin, end=lambda whole: None):
    return begin, end, limit_s


SERIALS = itertools.count(640_001)


def stop_beating(whole):
    whole.pressed = None


def press_again(whole):
    whole.client.ask(Press("fan", whole.pressed + 1, time.monotonic()))


def hang_up(whole):
    whole.pressed = None
    whole.client.close()


CAUSES = {
    "engine speed above zero": planted(0.05, "EngineSpeed", "value", 300.0),
    "its second source above zero": planted(0.1, "EngineSpeedDisplay", "value", 300.0),
    "engine speed missing": planted(0.15, "EngineFast", "missing"),
    "engine speed: sensor error": planted(0.05, "EngineSpeed", "error"),
    "controller repeats itself": planted(0.2, "AliveCounter", "stuck"),
    "start switch": planted(0.05, "StartSwitch", "value", "Pressed"),
    "lanyard": done(
        0.05,
        lambda whole: whole.deed(do="lanyard", pulled=True),
        lambda whole: whole.deed(do="lanyard", pulled=False),
    ),
    "battery low": planted(0.1, "BatteryVoltage", "value", 11.0),
    "another tester": done(0.01, lambda whole: whole.deed(do="second_tester", seconds=0.2)),
    "key off": done(
        0.15, lambda whole: whole.deed(do="key", on=False), lambda whole: whole.deed(do="key", on=True)
    ),
    "plug out": done(0.15, lambda whole: whole.deed(do="silence", seconds=1.5)),
    "adapter out": done(0.01, lambda whole: whole.deed(do="pull_adapter", seconds=1.5)),
    "finger lifted": done(0.0, lambda whole: whole.lift()),
    "second touch": done(0.0, lambda whole: whole.lift("A second touch came.")),
    "beats stop": done(0.35, stop_beating),
    "the screen hangs up": done(0.35, hang_up),
    "second press": done(0.0, press_again),
    "another page": done(0.0, lambda whole: whole.client.ask(Consider(None))),
    "leak seen": done(
        0.0,
        lambda whole: whole.client.ask(Confirm("leak_seen", time.monotonic())),
        lambda whole: whole.another_craft(next(SERIALS)),  # this one vents for minutes
    ),
    "somebody else signs in": done(0.0, lambda whole: whole.client.ask(SignIn("Ines", "dock"))),
}
"""What begins it, what ends it, and within how many seconds it must be known by the rules: the period of the
message that says it, the age at which a value is old, or the life of a permit after its last beat."""

BURST_S = 0.5
"""After that time the controller ends it by itself."""

NOT_TO_BE_HEARD = {"key off", "plug out", "adapter out"}
"""No release can reach a controller that has no supply or no bus: there only the end of the output counts."""


LATE_S = 0.05
"""So much later than its cause allows: the words say who had to wait."""


def one(whole, cause, output, say):
    """Seconds to the release (None if there can be none) and to the end; None if it had ended before."""
    begin, end, limit_s = CAUSES[cause]
    whole.make_ready(output)
    whole.deed(do="trusting", on=True)  # only the tool ends it
    before = time.monotonic()
    if not whole.press(output):
        whole.lift()
        return None
    whole.pause(0.1 + before * 1000 % 200 / 1000)
    ended = [run for run in whole.history(before) if run["output"] == output]
    craft, bus, *_ = whole.started
    delays = Delays({"bus process": bus.pid, "craft": craft.pid, "hand": os.getpid()})
    at = time.monotonic()
    begin(whole)
    off = whole.until(lambda: output not in whole.live(), 10.0)
    assert off, f"{output} goes on after: {cause}"
    waited = delays.words()
    whole.pause(0.1)  # the ledger's file may be a moment behind
    whole.lift()
    end(whole)
    whole.deed(do="trusting", on=False)
    runs = [run for run in whole.history(before) if run["output"] == output]
    released = whole.ledger.requests(before, RELEASES[output])
    if ended or runs[-1]["stop"] < at or (released and released[0] < at):
        return None
    if cause not in NOT_TO_BE_HEARD:
        assert released, f"no release came after: {cause}"
        if released[0] - at > limit_s + LATE_S:
            say(f"{cause}: {released[0] - at:.3f} s; {waited}")
    return released[0] - at if released else None, runs[-1]["stop"] - at


@contextlib.contextmanager
def full_load(whole):
    """Strangers fill the bus, the screen draws, another process works."""
    whole.deed(do="crowd", on=True)
    with display(800, 480) as name:
        screen = whole.start("-m", "app", "screen", *whole.places, DISPLAY=name)
        work = OtherWork()
        try:
            yield
        finally:
            work.end()
            end_all([screen])


def measure(events, causes=tuple(CAUSES), *, loaded=False, say=lambda words: None):
    """By cause: (seconds to the release or None, seconds to the end) of each event; and how many had to be
    repeated because the press had ended before."""
    took, again = {}, 0
    with tempfile.TemporaryDirectory() as folder, contextlib.ExitStack() as ends:
        whole = Whole(Path(folder))
        ends.callback(whole.close)
        if loaded:
            ends.enter_context(full_load(whole))
        for cause in causes:
            took[cause] = []
            for number in itertools.count():
                result = one(whole, cause, ("horn", "fan")[number % 2], say)
                if result is None:
                    again += 1
                    assert again <= 20 + events * len(causes), whole.state
                    continue
                took[cause].append(result)
                if len(took[cause]) == events:
                    break
            say(f"{cause}: {events} events")
        assert whole.ledger.violations() == []
    return took, again
