"""Draws what happens, from a seed; tells the story of a failure, and shortens it."""

import concurrent.futures
import itertools
import multiprocessing
import random
import time

from any_order_parts.causes import none_yet
from any_order_parts.stories import CAUSES, Stories

PAUSES = (0.0, 0.0, 0.005, 0.01, 0.02, 0.05, 0.15)
"""Seconds after a step before the next: causes come close together."""

STORY_SHARE = 0.12
"""Of all steps: so that rare causes come often too."""


def rules_of(machine_class):
    """Name of each step to its weight and choices."""
    found = {}
    for name in dir(machine_class):
        step = getattr(machine_class, name)
        if hasattr(step, "rule"):
            found[name] = step.rule
    return found


RULES = rules_of(Stories)
NAMES = sorted(RULES)
WEIGHTS = [RULES[name][0] for name in NAMES]


def drawn(chance, number):
    """One step: name, arguments, pause."""
    if chance.random() < STORY_SHARE:
        name, arguments = "story", {"cause": CAUSES[(number + chance.randrange(2)) % len(CAUSES)]}
    else:
        name, arguments = chance.choices(NAMES, WEIGHTS)[0], {}
    choices = {key: chance.choice(values) for key, values in sorted(RULES[name][1].items())}
    return name, choices | arguments, chance.choice(PAUSES)


def take(machine, step):
    name, arguments, pause = step
    getattr(machine, name)(**arguments)
    machine.wait(pause)
    machine.counts["steps"] += 1


def session(make_bench, seed, steps):
    """One bench from new to after so many steps.

    Raises:
        AssertionError: with the seed and the shortest story that was found.
    """
    chance = random.Random(seed)
    machine, story, first = Stories(make_bench), [], chance.randrange(len(CAUSES))
    try:
        for number in range(steps):
            story.append(drawn(chance, first + number))
            take(machine, story[-1])
    except Exception as wrong:
        short = shortened(make_bench, story)
        raise AssertionError(f"{wrong!r}\nseed {seed!r}; as short as it was found:\n{told(short)}") from wrong
    return machine


def sessions(make_bench, seeds, steps, *, workers=1):
    """Many benches one after the other, or on several processors.

    Returns:
        Counts of all, phases of the glass seen, outputs started, purges by cranking.
    """
    if workers == 1:
        return added(told_of(session(make_bench, seed, steps)) for seed in seeds)
    bench_of_all.append(make_bench)  # what a forked process need not be sent
    forked = multiprocessing.get_context("fork")
    try:
        with concurrent.futures.ProcessPoolExecutor(workers, mp_context=forked) as pool:
            return added(pool.map(_in_a_worker, seeds, itertools.repeat(steps)))
    finally:
        bench_of_all.clear()


bench_of_all = []


def _in_a_worker(seed, steps):
    return told_of(session(bench_of_all[-1], seed, steps))


def told_of(machine):
    return machine.counts, machine.ends, machine.kinds, machine.cranked_out


def added(results):
    counts, ends, kinds, cranked_out = none_yet(), set(), set(), 0
    for some, phases, outputs, cranked in results:
        counts += some
        ends |= phases
        kinds |= outputs
        cranked_out += cranked
    return counts, ends, kinds, cranked_out


def fails(make_bench, story):
    try:
        machine = Stories(make_bench)
        for step in story:
            take(machine, step)
    except Exception:  # noqa: BLE001 - whatever it was, it is a failure
        return True
    return False


def shortened(make_bench, story, seconds=60.0):
    """The same failure, or another one, with as few steps as were found in this time."""
    until, size = time.monotonic() + seconds, len(story) // 2
    while size > 0 and time.monotonic() < until:
        place = 0
        while place < len(story) and time.monotonic() < until:
            tried = story[:place] + story[place + size :]
            if fails(make_bench, tried):
                story = tried
            else:
                place += size
        size //= 2
    return story


def told(story):
    """One line for each step, to be read and to be run again."""
    return "\n".join(f"  {step!r}," for step in story)
