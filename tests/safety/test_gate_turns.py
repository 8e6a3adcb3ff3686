"""The turns of the gate's loop: how long it waits, what it hands on, how it lets go of the wire."""

import pytest

from bus.exchange import Admission


@pytest.fixture
def waits(make_bench):
    """A bench, and how long its wire was asked to wait for frames."""
    bench = make_bench().make_ready()
    bench.waits = []
    receive = bench.wire.receive

    def told(timeout_s):
        bench.waits.append(timeout_s)
        return receive(timeout_s)

    bench.wire.receive = told
    return bench


def test_the_loop_looks_at_the_requests_of_others_every_twenty_milliseconds(waits):
    waits.gate._pass_on(0.05)
    assert waits.waits == [0.02]


def test_while_an_output_is_live_the_loop_turns_every_five_milliseconds(waits):
    waits.live("horn")
    waits.waits.clear()
    waits.gate._pass_on(0.05)
    assert waits.waits == [0.005]


def test_while_an_exchange_is_open_the_loop_turns_every_five_milliseconds(waits, read_faults):
    admission = Admission(read_faults)
    waits.gate._decide(admission)
    assert admission.exchange is not None
    waits.gate._pass_on(0.05)
    assert waits.waits == [0.005]


def test_a_shorter_wait_that_was_asked_for_is_kept(waits):
    waits.gate._pass_on(0.001)
    assert waits.waits == [0.001]
