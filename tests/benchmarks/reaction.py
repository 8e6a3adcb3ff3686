"""How soon an output ends: from what must end it to the release that leaves, or arrives at the craft.

    .venv/bin/python tests/benchmarks/reaction.py [--gate | --whole | --glass] [--events N] [--quick]

Three measurements. The gate's loop: 2000 presses of horn and fan in the product's own gate, facts, interlock
and run, on a bus that is full; from the frame that says the engine turns, as it is written into the wire, to
the release as it is handed to it. Meanwhile garbage is collected again and again, everything is decoded and
recorded as in the bus process, and another process draws and reckons all the time. The yardstick is a bare
thread in a process of its own that answers the same frame with a fixed one; it is asked once beside each
press, and on the machine at rest before. The goals: p99 at most 10 ms and ten times the bare thread's, none
above 50 ms, on a machine that does nothing else.

The whole bus half: every cause that can be driven from outside, 50 times each, on the simulated craft over
its pseudo-terminal, while strangers fill its bus, the real screen draws and another process works (see
reaction_whole.py).

The glass: what a hand does on the real window, 50 times each, beside the same (see reaction_glass.py). Both
need Xvfb, this one xdotool too.

The machine may be shared: quote the load average, and the ratio rather than the milliseconds.
"""

import argparse
import os
import random

import reaction_gate
import reaction_glass
import reaction_whole

GATE_EVENTS, WHOLE_EVENTS = 2000, 50
QUICK_GATE, QUICK_WHOLE = 50, 2


def quantile(values, share):
    return sorted(values)[min(len(values) - 1, int(len(values) * share))]


def told(values):
    """Median, p99 and the longest, in ms."""
    return "median {:.2f}, p99 {:.2f}, max {:.2f} ms".format(
        *(quantile(values, share) * 1000 for share in (0.5, 0.99, 1.0))
    )


def load():
    return "load average " + " ".join(f"{value:.2f}" for value in os.getloadavg())


def say(words):
    print(f"  {words}; {load()}", flush=True)


def gate(events, seed, *, within):
    print(f"the gate's loop, {events} presses, seed {seed}; before: {load()}", flush=True)
    found = reaction_gate.measure(events, seed, within=within, say=say)
    print(f"gate: {told(found.gate)}")
    print(f"bare thread beside it: {told(found.beside)}")
    print(f"bare thread, machine at rest: {told(found.rest)}")
    p99 = quantile(found.gate, 0.99)
    for name, bare in (("beside it", found.beside), ("at rest", found.rest)):
        print(f"ratio of the p99 to the bare thread's {name}: {p99 / quantile(bare, 0.99):.1f}")
    print(
        f"over 10 ms: {sum(took > 0.01 for took in found.gate)}, over 50: {sum(t > 0.05 for t in found.gate)}"
    )
    print(f"presses that ended before anything was to end them: {found.before}")
    print(f"collections of garbage meanwhile: {len(found.collections)}, {told(found.collections)}")
    print(f"after: {load()}")


def whole(events):
    print(f"the whole bus half, {events} times each cause; before: {load()}", flush=True)
    took, again = reaction_whole.measure(events, loaded=True, say=say)
    for cause, results in took.items():
        released = [release for release, _ in results if release is not None]
        words = told(released) if released else "no release can arrive"
        print(f"{cause}: release {words}; end {told([end for _, end in results])}")
    print(f"presses that had ended before, and were repeated: {again}")
    print(f"after: {load()}")


def glass(events, seed):
    print(f"the glass, {events} of each, seed {seed}; before: {load()}", flush=True)
    took, again = reaction_glass.measure(events, seed, say=say)
    for cause, results in took.items():
        print(f"{cause}: from the order to the hand: {told([first for first, _ in results])}")
        ended = [second for _, second in results if second is not None]
        if ended:
            print(f"{cause}: from the touch's end in the screen process: {told(ended)}")
    print(f"presses that had ended before, and were repeated: {again}")
    print(f"after: {load()}")


def main():
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--events", type=int, help="presses, and times each cause")
    parser.add_argument("--quick", action="store_true", help="a few of each")
    parser.add_argument(
        "--within", action="store_true", help="a thread of the gate's own process reckons too"
    )
    parser.add_argument("--seed", type=int, default=random.SystemRandom().randrange(10**6))
    part = parser.add_mutually_exclusive_group()
    part.add_argument("--gate", action="store_true", help="the gate's loop only")
    part.add_argument("--whole", action="store_true", help="the whole bus half only")
    part.add_argument("--glass", action="store_true", help="the real window only")
    options = parser.parse_args()
    counts = (QUICK_GATE, QUICK_WHOLE) if options.quick else (GATE_EVENTS, WHOLE_EVENTS)
    alone = options.gate or options.whole or options.glass
    if options.gate or not alone:
        gate(options.events or counts[0], options.seed, within=options.within)
    if options.whole or not alone:
        whole(options.events or counts[1])
    if options.glass or not alone:
        glass(options.events or counts[1], options.seed)


if __name__ == "__main__":
    main()
