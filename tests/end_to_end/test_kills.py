"""Either process of the kiosk stopped or killed at a random moment, while a finger lies on the glass.

More of these, and without a window, in tests/safety/test_kills.py. The moments come from a seed that is
printed.
"""

import itertools
import json
import os
import random
import signal
import time

import pytest

pytestmark = pytest.mark.glass

PARTS, WAYS, OUTPUTS = ("bus", "screen"), ("killed", "stopped"), ("fan", "injector_2")
MANY = 50

SERIALS = itertools.count(720_101)
END_S = 2.5
"""A dead beat or the burst of 0.5 s, on a slow machine; the controller's session would end it after 5 s."""
COUNT, EVERY_S = 20, 0.2
"""Pulses of an injector in one press, and the time from one to the next."""
BACK_S = 20.0
"""For a process to be back; the goal of 3 s is told as a figure."""


@pytest.fixture(autouse=True)
def whole(bench):
    yield
    bench.mend()
    assert bench.violations() == []


def told(bench, craft):
    """Kinds of entries of this craft in the book."""
    done = bench.kiosk.run("book", "list", "--json", "--craft", craft, *bench.kiosk.places[2:])
    return {one["entry"]["kind"] for one in json.loads(done.stdout)["entries"]}


@pytest.mark.parametrize("output", OUTPUTS)
@pytest.mark.parametrize("how", WAYS)
@pytest.mark.parametrize("part", PARTS)
def test_the_output_ends_the_kiosk_is_back_and_the_book_tells_of_it(bench, part, how, output):
    happens(bench, part, how, output)


@pytest.mark.slow
@pytest.mark.parametrize("number", range(MANY))
def test_the_same_many_times(bench, number):
    happens(bench, PARTS[number % 2], random.choice(WAYS), random.choice(OUTPUTS))


def happens(bench, part, how, output):
    """A press, and this half killed or stopped while it is held."""
    seed = random.SystemRandom().randrange(10**6)
    chance = random.Random(seed)
    serial = next(SERIALS)
    bench.craft.ask(do="serial", value=serial)
    bench.until(lambda: str(serial) in bench.glass.shown()["strip"]["craft"], "the other craft is named")
    bench.fire(output)
    time.sleep(chance.uniform(0.0, 0.8))
    pid = bench.part(part)
    at = time.monotonic()
    os.kill(pid, signal.SIGKILL if how == "killed" else signal.SIGSTOP)
    if how == "stopped":
        time.sleep(chance.uniform(0.5, 2.5))  # whoever is stopped answers nobody
        os.kill(pid, signal.SIGCONT)
    else:
        bench.until(lambda: bench.back(part, pid), "the process runs again", BACK_S)
        print(f"seed {seed}: the {part} process was started again after {time.monotonic() - at:.2f} s")
        if part == "screen":
            again = bench.part(part)
            bench.until(lambda: bench.glass.shown().get("pid") == again, "the glass shows a page", BACK_S)
            print(f"it showed its first page after {bench.glass.shown()['t'] - at:.2f} s at the latest")
    bench.glass.lift()
    bench.until(lambda: bench.live() == [], f"{output} is off", COUNT * EVERY_S + END_S)
    run = bench.history(output)[-1]
    counted = output.startswith("injector") and part == "bus"
    latest = max(at, run["start"] + COUNT * EVERY_S) if counted else at
    assert run["stop"] <= latest + END_S, f"seed {seed}: {output} was live for {run['stop'] - at:.2f} s more"
    assert run["pulses"] <= COUNT
    bench.until(
        lambda: {"output_start", "output_end"} <= told(bench, f"auk {serial}"), "the book tells of it", 30.0
    )
