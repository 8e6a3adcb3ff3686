"""The turns of the gate's loop: how long it waits, what it hands on, how it lets go of the wire."""

import pytest

from app.output_messages import SignIn
from bus.adapter import Adapter
from bus.audit import OVER
from bus.exchange import Admission, Exchange
from bus.gate import Gate
from bus.way import Way


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


@pytest.fixture
def by_turns(make_bench):
    """A bench with an output live, whose clock moves while its wire is waited for."""
    bench = make_bench().make_ready().live("horn")
    bench.finger = None
    bench.waits = []
    broadcast = bench.broadcast

    def receive(timeout_s):
        bench.waits.append(timeout_s)
        bench.ms += round(timeout_s * 1000)
        return broadcast()

    bench.wire.receive = receive
    return bench


def test_before_the_wire_is_let_go_on_purpose_what_is_live_is_released_and_confirmed(by_turns):
    begun = by_turns.clock()
    by_turns.gate._run_down()
    assert not by_turns.controller.live()
    assert not by_turns.actuation.busy
    assert by_turns.state.phase == "ended"
    assert "The tool lets go of the adapter." in by_turns.state.cause
    assert by_turns.clock() - begun < 1.0
    assert set(by_turns.waits) == {0.005}


def test_a_controller_that_does_not_confirm_keeps_the_wire_for_two_seconds_and_not_longer(by_turns):
    by_turns.gate._actuation = never = NeverDone()
    by_turns.ms += -by_turns.ms % 1000  # whole seconds: the limit is met to the bit
    begun = by_turns.clock()
    by_turns.gate._run_down()
    assert never.stopped == "The tool lets go of the adapter."
    assert by_turns.clock() - begun == 2.0


class NeverDone:
    """An actuation whose output is never confirmed stopped."""

    busy = True
    state = None

    def stop(self, cause):
        self.stopped = cause

    def feed(self, frames):
        self.fed = frames

    def step(self):
        return []


def test_without_a_craft_the_wire_is_let_go_at_once(make_bench):
    bench = make_bench()
    bench.gate._run_down()
    bench.gate._let_go()
    assert bench.wire.closed
    assert bench.sent == []
    bench.gate._let_go()


def test_a_state_without_a_reason_says_none_and_keeps_the_adapter_of_before(make_bench):
    gate = make_bench().gate
    gate._say(Way.NO_ADAPTER, reason="It was pulled.", adapter="slcan on x")
    gate._say(Way.HEARING)
    assert (gate.status.reason, gate.status.adapter) == ("", "slcan on x")


def test_what_was_bad_on_the_wire_is_counted_over_all_wires(make_bench):
    bench = make_bench()
    bench.wire.bad = 3
    assert bench.gate.bad == 3
    bench.gate._let_go()
    assert bench.gate.bad == 3
    bench.gate._wire = type(bench.wire)(bench)
    bench.gate._wire.bad = 2
    assert bench.gate.bad == 5


def test_whatever_fails_while_the_wire_goes_the_output_is_known_to_be_not_confirmed(ready, monkeypatch):
    ready.live("horn")

    def fails():
        raise RuntimeError("a fault of our own")

    monkeypatch.setattr(ready.actuation, "last_words", fails)
    ready.gate._let_go()
    assert ready.state.phase == "not_confirmed"
    assert ready.actuation.locked


def heard(outlet):
    """All that an outlet holds."""
    frames = []
    while block := outlet.take(0):
        frames += block
    return frames


def test_every_reader_gets_every_frame_and_a_turn_says_how_many(make_bench):
    bench = make_bench()
    second = bench.gate.outlet()
    bench.run(0.5)
    heard(bench.outlet), heard(second)
    bench.ms += 100
    number = bench.gate._pass_on(0)
    frames = heard(bench.outlet)
    assert len(frames) == number > 0
    assert heard(second) == frames


def test_a_gate_that_hangs_keeps_no_process_alive(make_bench):
    assert make_bench().gate._thread.daemon


def test_a_gate_without_a_wire_sends_nothing_and_says_so_to_who_asks(make_bench, read_faults):
    bench = make_bench()
    bench.run(4.0, ms=20)
    bench.gate._wire = None
    admission = Admission(read_faults)
    bench.gate._decide(admission)
    assert admission.needs == ("The craft is not heard at a bit rate that fits",)
    bench.gate._let_out(0x7E0, bytes(8), None)
    assert bench.sent == []


def test_before_a_craft_is_served_requests_of_the_glass_are_for_nobody(make_bench, read_faults):
    gate = Gate(Adapter("virtual", "bench"), open_wire=None, clock=lambda: 1000.0)
    gate._wire = make_bench().wire
    gate.ask_output(SignIn("Kim", "technician"))
    gate.unlock_outputs()
    assert gate._pass_on(0) > 0
    assert not gate._busy
    admission = Admission(read_faults)
    gate._decide(admission)
    assert admission.needs == ("It is not among the requests of this craft's family",)


def test_a_request_goes_to_the_craft_that_is_about_to_be_served(ready, make_bench):
    ready.live("horn")
    new = make_bench().actuation
    ready.serve(new)
    ready.turn()
    assert ready.gate._actuation is not new
    ready.sign_in(operator="Alex")
    ready.turn()
    assert new._operator == "Alex"
    ready.until(lambda: ready.gate._actuation is new)
    assert not ready.controller.live()


@pytest.fixture
def asking(make_bench, read_faults):
    """A bench at rest with an open exchange."""
    bench = make_bench()
    bench.run(4.0, ms=20)
    admission = Admission(read_faults)
    bench.gate._decide(admission)
    bench.exchange = admission.exchange
    assert bench.exchange is not None
    return bench


def test_another_craft_closes_the_exchange_with_the_first(asking):
    asking.serve(asking.actuation)
    asking.turn()
    assert asking.exchange.closed
    assert asking.gate._exchange is None


def test_a_craft_that_is_served_can_be_asked_in_the_same_turn(make_bench, read_faults):
    bench = make_bench()
    bench.run(4.0, ms=20)
    admission = Admission(read_faults)
    bench.serve(bench.actuation)
    bench.gate._inbox.put(lambda: bench.gate._decide(admission))
    bench.turn()
    assert admission.exchange is not None


def test_who_gives_up_an_exchange_has_closed_it_before_the_gate_comes_to_it(asking):
    asking.gate.finish(asking.exchange)
    assert asking.exchange.closed


def test_a_press_in_the_turn_in_which_an_exchange_opens_is_refused(ready, read_faults):
    admission = Admission(read_faults)
    ready.gate._inbox.put(lambda: ready.gate._decide(admission))
    ready.press("horn")
    ready.turn()
    assert admission.exchange is not None
    assert ready.state.phase == "refused"
    assert ready.missing() == ["outputs_free"]
    assert "output_start" not in [entry["kind"] for entry in ready.journal.told]  # it never began


FRAME = bytes.fromhex("031902ff00000000")


@pytest.fixture
def blocked(asking):
    """Why frames of the bench that asks were held back."""
    reasons = []
    asking.gate.audit.block = lambda data, ident, why: reasons.append(why)
    return reasons


def test_a_second_exchange_is_refused_with_all_that_speaks_against_it_and_leaves_the_first(
    asking, read_faults
):
    asking.gate._say(Way.QUIET)
    second = Admission(read_faults)
    asking.gate._decide(second)
    assert second.needs == (
        "Another exchange is under way",
        "The craft is not heard at a bit rate that fits",
    )
    assert asking.gate._exchange is asking.exchange
    assert not asking.exchange.closed


def test_a_look_alike_of_the_exchange_that_is_open_sends_nothing(asking, blocked, read_faults):
    asking.gate._let_out_of(Exchange(read_faults), 0x7E0, FRAME)
    assert (asking.sent, blocked) == ([], [OVER])
    asking.gate._let_out_of(asking.exchange, 0x7E0, FRAME)
    assert [data for _, _, data in asking.sent] == [FRAME]


def test_an_exchange_that_its_asker_closed_sends_nothing_and_is_told_to_be_over(asking, blocked):
    asking.exchange.close()
    asking.gate._let_out_of(asking.exchange, 0x7E0, FRAME)
    assert (asking.sent, blocked) == ([], [OVER])


def test_a_lapse_closes_the_exchange_and_the_first_thing_to_mend_is_told(asking, blocked):
    ended = []
    asking.gate.audit.over = lambda exchange, because: ended.append(because)
    asking.values |= {"EngineSpeed": 5000.0, "EngineSpeedDisplay": 5000.0}
    asking.extra.append((0x7DF, bytes.fromhex("023e000000000000")))
    asking.run(0.2, ms=20)
    asking.gate._let_out_of(asking.exchange, 0x7E0, FRAME)
    assert asking.sent == []
    assert asking.exchange.closed
    assert ended == blocked
    assert [why.partition(".")[0] for why in blocked] == ["Another tester talks to a controller"]
