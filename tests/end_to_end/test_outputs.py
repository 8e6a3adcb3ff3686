"""One output fires while a finger holds, and is refused or stopped when it must be.

Real touches on the real window, through both processes, to the simulated craft. A refusal counts only if the
craft received nothing; for refusals its controllers fire whatever they are asked, so that only the tool's own
rules stand in the way.
"""

import itertools
import json
import os
import signal
import time

import pytest

from app.output_messages import Press
from bus.client import WallClient

pytestmark = pytest.mark.glass

LIFT_S = 0.5
"""From the lift to the controller's end of it: a burst of 0.5 s may run out by itself on a slow machine."""

STOP_S = 1.0
"""The same from a cause that must first be heard, or missed: stale after 250 ms, dead beat after 300 ms."""


@pytest.fixture(autouse=True)
def whole(bench):
    """Every test begins with a sound craft and no finger on the glass, and leaves no violation."""
    yield
    bench.mend()
    assert bench.violations() == []


SERIALS = itertools.count(700_101)


def another_craft(bench):
    """What was fired on one craft keeps it venting for minutes; a craft of another serial has no past."""
    serial = next(SERIALS)
    bench.craft.ask(do="serial", value=serial)
    bench.until(lambda: str(serial) in bench.glass.shown()["strip"]["craft"], "the other craft is named")
    return f"auk {serial}"


@pytest.mark.parametrize("output", ["injector_1", "injector_2", "injector_3", "horn", "fan"])
def test_fires_while_held_and_ends_when_the_finger_lifts(bench, output):
    another_craft(bench)
    bench.fire(output)
    bench.until(
        lambda: "pulse" in bench.words() or " is on" in bench.words(), "the glass says it is live", 3.0
    )
    assert bench.live() == [output]
    lifted = time.monotonic()
    bench.glass.lift()
    took = bench.ended(output, LIFT_S, lifted)
    print(f"{output} ended {took:.3f} s after the lift")
    assert bench.history(output)[-1]["why"] == "released"
    words = bench.result()
    assert "The finger was lifted" in words
    assert "confirmed that it is off" in words


PLANTED = {
    "engine turns": ({"signal": "EngineSpeed", "kind": "value", "value": 600.0}, "Engine is turning"),
    "speed missing": ({"signal": "EngineFast", "kind": "missing"}, "Engine"),
    "second speed missing": ({"signal": "EngineSpeedDisplay", "kind": "missing"}, "not known from both"),
    "speed error": ({"signal": "EngineSpeed", "kind": "error"}, "not known from both sources"),
    "speed not available": ({"signal": "EngineSpeed", "kind": "not_available"}, "not known from both"),
    "speed disagrees": ({"signal": "EngineSpeedDisplay", "kind": "value", "value": 900.0}, "disagrees"),
    "battery low": ({"signal": "BatteryVoltage", "kind": "value", "value": 11.4}, "Battery 11.4 V"),
    "start switch": ({"signal": "StartSwitch", "kind": "value", "value": "Pressed"}, "Start switch: pressed"),
    "lanyard out": ({"signal": "Lanyard", "kind": "value", "value": "Pulled"}, "Lanyard: pulled"),
    "controller repeats itself": ({"signal": "AliveCounter", "kind": "stuck"}, "repeats old messages"),
}


@pytest.mark.parametrize("why", PLANTED)
def test_refused_with_the_reason_in_words_and_the_craft_receives_nothing(bench, why):
    fault, words = PLANTED[why]
    bench.craft.ask(do="trusting", on=True)
    bench.make_ready("horn")
    arm = bench.glass.middle(bench.arm_key)
    before = bench.frames()
    bench.craft.ask(do="plant", **fault)
    bench.until(lambda: "will not fire yet" in bench.words(), "the page says no", 5.0)
    assert words in bench.words()
    assert bench.arm_key not in [key["text"] for key in bench.glass.shown()["keys"]]
    bench.glass.touch_at(*arm, seconds=1.5)
    assert bench.glass.shown()["screen"] == "bench/needs"
    assert bench.frames() == before


@pytest.mark.parametrize("why", ["engine turns", "speed error", "start switch", "lanyard out"])
def test_an_armed_output_is_disarmed_and_a_touch_where_the_target_was_sends_nothing(bench, why):
    fault, words = PLANTED[why]
    bench.craft.ask(do="trusting", on=True)
    bench.make_ready("horn")
    before = bench.frames()
    bench.arm()
    target = bench.glass.middle(bench.hold_key)
    bench.craft.ask(do="plant", **fault)
    bench.until(lambda: words in bench.words(), "it is disarmed, with the reason in words", 5.0)
    assert bench.glass.shown()["screen"] == "bench/needs"
    bench.glass.touch_at(*target, seconds=0.7)
    assert bench.frames() == before


def test_refused_until_engine_speed_was_seen_on_this_very_controller(bench):
    bench.craft.ask(do="trusting", on=True)
    another_craft(bench)
    before = bench.frames()
    bench.open("horn")
    bench.until(lambda: "never seen above 150 rev/min" in bench.words(), "the reason", 5.0)
    assert bench.frames() == before
    bench.make_ready("horn")


def test_cautions_that_are_not_confirmed_or_too_old_refuse(bench):
    bench.craft.ask(do="trusting", on=True)
    bench.make_ready("fan")
    before = bench.frames()
    bench.until(lambda: "too long ago" in bench.words(), "hands clear holds for 30 s", 45.0)
    assert bench.glass.shown()["screen"] == "bench/cautions"
    assert bench.arm_key not in [key["text"] for key in bench.glass.shown()["keys"]]
    bench.glass.tap("Hands are clear")
    bench.glass.wait_for_screen("bench/ready")
    another_craft(bench)
    bench.make_ready("horn")
    bench.run_engine()
    bench.until(lambda: "no smell of fuel: not confirmed" in bench.words(), "void once the engine ran", 10.0)
    assert bench.frames() == before


def journal(bench):
    """What the bus side has noted."""
    path = bench.kiosk.folder / "data" / "journal.jsonl"
    return [json.loads(line) for line in path.read_text().splitlines()]


def test_refused_while_another_output_runs(bench):
    """A finger holds the horn on the window; a second screen asks for the fan."""
    bench.craft.ask(do="trusting", on=True)
    bench.fire("horn")
    second = WallClient(bench.kiosk.folder / "run" / "wall")
    second.poll()
    number = int(time.monotonic() * 1000) + 5
    second.ask(Press("fan", number, time.monotonic()))
    bench.ended("horn", STOP_S, time.monotonic())
    second.close()
    bench.glass.lift()
    assert "second press" in bench.result()
    assert bench.live() == []
    refused = [entry["body"] for entry in journal(bench) if entry["kind"] == "refused"][-1]
    assert (refused["output"], refused["cause"]) == ("fan", "Another output is live.")
    assert not any(one["output"] == "fan" for one in bench.craft.ask(do="outputs")["history"][-1:])


def test_an_output_that_is_not_confirmed_stopped_fills_the_page_and_locks_until_read_afresh(bench):
    another_craft(bench)
    bench.fire("horn")
    bench.craft.ask(do="deaf_to_release", on=True)
    bench.glass.lift()
    bench.glass.wait_for_screen("bench/unconfirmed")
    assert "NOT CONFIRMED STOPPED" in bench.words()
    assert "lanyard" in bench.words()
    bench.craft.ask(do="deaf_to_release", on=False)
    bench.until(lambda: bench.live() == [], "its burst has run out", 3.0)
    bench.glass.tap("I have done that")
    bench.open("fan")
    bench.until(lambda: "was not confirmed stopped" in bench.words(), "every output is locked", 5.0)
    before = bench.frames()
    bench.glass.tap("Bench")
    bench.make_ready("horn")  # reads the faults, as the page says
    assert bench.frames() > before


def test_journal_and_book_tell_of_every_press(bench):
    craft = another_craft(bench)
    bench.fire("horn")
    bench.glass.lift()
    bench.result()
    kinds = [entry["kind"] for entry in journal(bench) if entry["body"].get("craft") == craft]
    assert kinds.index("output_start") < kinds.index("output_end")
    end = [entry["body"] for entry in journal(bench) if entry["kind"] == "output_end"][-1]
    assert (end["fired"], end["confirmed"], end["cause"]) == (True, True, "The finger was lifted.")

    def entries():
        places = bench.kiosk.places[2:]
        done = bench.kiosk.run("book", "list", "--json", "--craft", craft, *places)
        return [one["entry"]["kind"] for one in json.loads(done.stdout)["entries"]]

    bench.until(lambda: {"output_start", "output_end", "confirm"} <= set(entries()), "the book has it", 20.0)


CAUSES = {
    "engine speed": ({"do": "plant", "signal": "EngineSpeed", "kind": "value", "value": 300.0}, "turning"),
    "second source": ({"do": "plant", "signal": "EngineSpeedDisplay", "kind": "error"}, "not known"),
    "engine speed missing": ({"do": "plant", "signal": "EngineFast", "kind": "missing"}, ""),
    "lanyard": ({"do": "lanyard", "pulled": True}, "Lanyard: pulled"),
    "start switch": ({"do": "plant", "signal": "StartSwitch", "kind": "value", "value": "Pressed"}, "Start"),
    "battery": ({"do": "plant", "signal": "BatteryVoltage", "kind": "value", "value": 11.0}, "Battery 11.0"),
}


@pytest.mark.parametrize("cause", CAUSES)
def test_stops_when_a_fact_lapses(bench, cause):
    deed, words = CAUSES[cause]
    bench.fire("fan")
    at = time.monotonic()
    bench.craft.ask(**deed)
    took = bench.ended("fan", STOP_S, at)
    print(f"fan ended {took:.3f} s after: {cause}")
    assert words in bench.result()


def test_stop_test_disarms_and_sends_nothing(bench):
    bench.make_ready("fan")
    before = bench.frames()
    bench.arm()
    bench.glass.touch_at(*bench.glass.middle(bench.stop_key))  # it acts when it is touched, not at the lift
    bench.glass.wait_for_screen("bench/ready")
    assert bench.frames() == before


def test_stops_when_a_second_touch_comes(bench):
    bench.make_ready("fan")
    bench.arm()
    stop = bench.glass.middle(bench.stop_key)
    x, y = map(str, bench.glass.middle(bench.hold_key))
    # with Alt the window takes the first touch for one that stays when the pointer goes on
    bench.glass.hand("keydown", "alt", "mousemove", x, y, "mousedown", "1", "keyup", "alt")
    bench.until(lambda: bench.live() == ["fan"], "fan is live", 5.0)
    at = time.monotonic()
    bench.glass.touch_at(*stop)
    bench.ended("fan", LIFT_S, at)
    assert "A second touch came" in bench.result()


def test_stops_when_the_finger_drifts_off(bench):
    bench.fire("fan")
    x, y = bench.glass.middle("Keep holding")
    at = time.monotonic()
    bench.glass.hand("mousemove", str(x), str(y - 120))
    bench.ended("fan", LIFT_S, at)
    assert "drifted off" in bench.result()


def test_stops_when_the_window_is_not_on_the_screen_any_more(bench):
    window = bench.glass.hand("getwindowfocus")
    bench.fire("fan")
    at = time.monotonic()
    bench.glass.hand("windowunmap", window)
    try:
        bench.ended("fan", STOP_S, at)
    finally:
        bench.glass.hand("windowmap", window)
        bench.glass.lift()
    assert "not in front" in bench.result()


def test_stops_when_the_screen_is_frozen(bench):
    bench.fire("fan")
    screen = bench.part("screen")
    at = time.monotonic()
    os.kill(screen, signal.SIGSTOP)
    try:
        bench.ended("fan", STOP_S, at)
    finally:
        os.kill(screen, signal.SIGCONT)
    bench.glass.lift()
    assert "was not seen in time" in bench.result()


def test_stops_when_the_screen_is_killed(bench):
    bench.fire("fan")
    screen = bench.part("screen")
    at = time.monotonic()
    os.kill(screen, signal.SIGKILL)
    bench.ended("fan", STOP_S, at)
    bench.until(lambda: bench.back("screen", screen), "the screen is back", 20.0)
    bench.glass.wait_for_screen("ride")


def test_stops_when_the_bus_process_is_frozen_for_a_second(bench):
    bench.fire("fan")
    bus = bench.part("bus")
    at = time.monotonic()
    os.kill(bus, signal.SIGSTOP)
    time.sleep(1.0)  # the promise is about one second
    os.kill(bus, signal.SIGCONT)
    bench.ended("fan", STOP_S, at)
    time.sleep(0.5)  # whatever it might still send would have come by now
    assert bench.live() == []
    bench.glass.lift()


def test_stops_when_the_bus_process_is_killed(bench):
    bench.fire("fan")
    bus = bench.part("bus")
    at = time.monotonic()
    os.kill(bus, signal.SIGKILL)
    bench.ended("fan", STOP_S, at)
    bench.glass.lift()
    bench.until(lambda: bench.back("bus", bus), "the bus process is back", 20.0)


def test_stops_when_the_craft_falls_silent(bench):
    bench.fire("fan")
    at = time.monotonic()
    bench.craft.ask(do="silence", seconds=3)
    bench.ended("fan", STOP_S, at)
    bench.glass.lift()
    assert bench.history("fan")[-1]["stop"] - at < STOP_S
