"""The gate: finds the bit rate, comes back for ever, lets nothing out."""

import threading

import pytest

from app.errors import Refused
from bus.adapter import Adapter
from bus.exchange import AllowedRequest, Class
from bus.gate import Gate
from bus.way import Outlet, Way


@pytest.fixture
def start(craft):
    gates = []

    def begin(adapter=None):
        gate = Gate(adapter or Adapter("slcan", "/dev/none"), open_wire=craft.open_wire)
        gate.got = gate.outlet()
        gate.start()
        gates.append(gate)
        return gate

    yield begin
    for gate in gates:
        gate.stop()


@pytest.mark.parametrize("rate", [125_000, 250_000, 500_000, 1_000_000])
def test_the_bit_rate_is_found_by_listening_before_taking_part(start, craft, wait_until, rate):
    craft.rate = rate
    gate = start()
    assert wait_until(lambda: gate.status.way is Way.HEARING)
    assert gate.status.bitrate == rate
    assert craft.opened[-1] == (rate, False)
    assert all(listen for _, listen in craft.opened[:-1])


def test_an_adapter_that_cannot_listen_asks_for_the_rate(start, craft, wait_until):
    craft.can_listen = False
    gate = start()
    assert wait_until(lambda: gate.status.way is Way.NEED_RATE)
    assert craft.opened == []
    gate.set_bit_rate(500_000)
    assert wait_until(lambda: gate.status.way is Way.HEARING)
    assert craft.opened == [(500_000, False)]


def test_a_named_rate_is_still_proved_by_listening_first(start, craft, wait_until):
    gate = start(Adapter("slcan", "x", 500_000))
    assert wait_until(lambda: gate.status.way is Way.HEARING)
    assert craft.opened[:2] == [(500_000, True), (500_000, False)]


def test_a_named_rate_that_does_not_fit_never_takes_part(start, craft, wait_until):
    gate = start(Adapter("slcan", "x", 250_000))
    assert wait_until(lambda: len(craft.opened) >= 3)
    assert gate.status.way is Way.QUIET
    assert all(entry == (250_000, True) for entry in craft.opened)


def test_frames_come_back_by_themselves_after_the_adapter_was_pulled(start, craft, wait_until):
    gate = start()
    assert wait_until(lambda: gate.status.way is Way.HEARING)
    craft.plugged = False
    assert wait_until(lambda: gate.status.way is Way.NO_ADAPTER)
    assert gate.status.reason
    craft.plugged = True
    assert wait_until(lambda: gate.status.way is Way.HEARING)
    while gate.got.take(0):
        pass
    assert wait_until(lambda: gate.got.take(0))


def test_a_bus_that_falls_asleep_is_listened_to_again_without_taking_part(start, craft, wait_until):
    gate = start()
    assert wait_until(lambda: gate.status.way is Way.HEARING)
    craft.awake = False
    seen = len(craft.opened)
    assert wait_until(lambda: len(craft.opened) > seen)
    assert craft.opened[seen] == (500_000, True)
    craft.awake = True
    assert wait_until(lambda: gate.status.way is Way.HEARING)


def test_no_frame_passed_while_listening_is_lost(start, craft, wait_until):
    craft.awake = False
    first = [object()]
    gate = start()
    craft.extra.put(first)
    assert wait_until(lambda: gate.got.take(0) == first)


def test_a_fault_of_our_own_does_not_end_the_gate(start, craft, wait_until, capsys):
    calls = []

    class Broken(Outlet):
        def put(self, frames):
            calls.append(frames)
            if len(calls) == 1:
                raise RuntimeError("planted")
            super().put(frames)

    gate = Gate(Adapter("slcan", "x"), open_wire=craft.open_wire)
    gate.outlets.append(Broken())
    gate.start()
    try:
        assert wait_until(lambda: len(calls) > 3)
    finally:
        gate.stop()
    assert "planted" in capsys.readouterr().err


def test_nothing_is_let_out_that_no_family_lists(start, craft, wait_until):
    gate = start()
    assert wait_until(lambda: gate.status.way is Way.HEARING)
    request = AllowedRequest(bytes.fromhex("1902ff"), Class.READING, 0x7E0, 0x7E8, 0, "read the faults")
    with pytest.raises(Refused) as refused:
        gate.admit(request, None, "scan")
    assert refused.value.needs
    assert craft.sent == []


def test_a_reader_that_hangs_costs_the_gate_nothing(start, craft, wait_until, monkeypatch):
    monkeypatch.setattr("bus.way.QUEUE_BLOCKS", 3)
    gate = start()
    assert wait_until(lambda: gate.got.lost > 0)
    assert gate.status.way is Way.HEARING


def test_stopping_ends_the_thread(start, craft):
    gate = start()
    gate.stop()
    assert not any(thread.name == "gate" and thread.is_alive() for thread in threading.enumerate())
