"""Every event that must end an output ends it, in real time: the gate's own thread on a full bus, the whole
bus half beside a simulated craft. Few events and wide bounds; how soon: tests/benchmarks/reaction.py.
"""

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))

import reaction_gate
import reaction_whole

SLOW_MACHINE_S = 1.5
"""Added to every bound: the machine does other things too."""

GATE_S = 0.1
"""A loop later than this ends an output by itself, so nothing that was heard may wait for longer."""


@pytest.mark.timeout(300)
def test_a_turning_engine_that_is_heard_on_a_full_bus_ends_every_press_of_the_gates_own_thread():
    found = reaction_gate.measure(6, seed=1)
    print([round(took, 4) for took in found.gate])
    assert max(found.gate) < GATE_S + SLOW_MACHINE_S


@pytest.mark.timeout(600)
def test_every_cause_that_comes_from_outside_releases_the_output_of_the_real_bus_process():
    took, _ = reaction_whole.measure(1)
    for cause, [(release, end)] in took.items():
        print(f"{cause}: {release}, {end}")
        within_s = reaction_whole.CAUSES[cause][2] + SLOW_MACHINE_S
        assert end < within_s + reaction_whole.BURST_S, cause
        if cause in reaction_whole.NOT_TO_BE_HEARD:
            continue
        assert release < within_s, cause
