"""What the gate lets out of asking and writing: only what stands on a list written here by hand."""

import gc
import itertools
import threading
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.errors import AdapterLost, Refused
from bus.exchange import Admission, AllowedRequest, Class, Exchange, frames_of
from bus.journal import Ticket
from bus.way import Way

FLOW_CONTROL = bytes.fromhex("3000000000000000")  # ISO 15765-2: continue, no block size, no gap; padded
FIRST_FRAME = bytes.fromhex("1014590201020304")  # ISO 15765-2: a first frame of 20 bytes


def decide(gate, request, intent=None):
    admission = Admission(request, intent)
    gate._decide(admission)
    if admission.exchange is not None:
        gate._close_exchange("It was given up.")
    return admission


def written():
    ticket = Ticket()
    ticket.synced = True
    return ticket


ON_THE_LIST = {  # (bytes, class): when it may go.  By hand, from the two requests the bench's family offers
    ("1902ff", "reading"): {"at_rest", "signed_in", "idling", "no_speed"},
    ("14ffffff", "writing"): {"signed_in"},
}

WORLDS = {
    "at_rest": {},
    "signed_in": {"sign_in": True},
    "idling": {"values": {"EngineSpeed": 1300.0, "EngineSpeedDisplay": 1300.0, "ManifoldPressure": 60.0}},
    "under_way": {"values": {"EngineSpeed": 5000.0, "EngineSpeedDisplay": 5000.0, "ManifoldPressure": 95.0}},
    "no_speed": {"silent": {"DisplayMain"}},
    "silent": {"late_silent": {"all"}},
    "other_tester": {"tester": True},
    "listening_only": {"listening_only": True},
    "looking_for_the_rate": {"way": Way.LISTENING},
    "output_live": {"sign_in": True, "live": True},
}


def in_world(make_bench, name):
    """A bench in one of the worlds above."""
    world = WORLDS[name]
    bench = make_bench()
    if world.get("live"):
        return bench.make_ready().live("horn")
    if world.get("sign_in"):
        bench.sign_in()
    bench.values |= world.get("values", {})
    bench.silent |= world.get("silent", set())
    bench.run(4.0, ms=20)
    bench.silent |= world.get("late_silent", set())
    if world.get("tester"):
        bench.extra.append((0x7DF, bytes.fromhex("023e000000000000")))
    bench.run(0.7, ms=20)
    bench.wire.listening_only = world.get("listening_only", False)
    if "way" in world:
        bench.gate._say(world["way"])
    return bench


@pytest.mark.parametrize("name", WORLDS)
def test_the_requests_on_the_list_go_only_in_the_worlds_of_the_list(
    make_bench, read_faults, clear_faults, name
):
    bench = in_world(make_bench, name)
    for request in (read_faults, clear_faults):
        admission = decide(bench.gate, request, written())
        may = name in ON_THE_LIST[request.pdu.hex(), request.kind.value]
        assert (admission.exchange is not None) is may, admission.needs
        assert bool(admission.needs) is not may


@pytest.mark.slow  # the quick profile has the test of the bytes of the list under another name, below
@pytest.mark.parametrize("kind", ["reading", "writing"])
def test_every_other_service_second_byte_and_length_is_refused(make_bench, kind):
    bench = in_world(make_bench, "signed_in")
    gate = bench.gate
    gate._tell_actuation(bench.actuation)
    intent, label = written(), Class(kind)
    let_in = set()
    gc.disable()  # half a million admissions make work for it that has nothing to do with them
    try:
        for service, second in itertools.product(range(256), repeat=2):
            whole = bytes([service, second, 0xFF, 0xFF, 0, 0, 0, 0])
            for length in range(1, 9):
                request = AllowedRequest(whole[:length], label, 0x7E0, 0x7E8, 0, "a try")
                if gate._against(request, intent) == ():
                    let_in.add((request.pdu.hex(), kind))
    finally:
        gc.enable()
    assert let_in == set()  # even the bytes of the list under another name are not on it


@pytest.mark.parametrize("label", list(Class))
@pytest.mark.parametrize("pdu", [bytes.fromhex(pdu) for pdu, _ in ON_THE_LIST], ids=bytes.hex)
def test_the_bytes_of_the_list_under_another_name_are_not_on_it(make_bench, pdu, label):
    bench = in_world(make_bench, "signed_in")
    assert (
        decide(bench.gate, AllowedRequest(pdu, label, 0x7E0, 0x7E8, 0, "a try"), written()).exchange is None
    )


LENGTHS = (1, 2, 3, 4, 5, 8)
"""Every length on the list, one more, and one that needs several frames."""


@pytest.mark.parametrize("kind", ["reading", "writing"])
def test_of_all_short_requests_with_the_right_words_only_the_list_goes(make_bench, kind):
    bench = in_world(make_bench, "signed_in")
    bench.gate._tell_actuation(bench.actuation)
    what = {"reading": "read the faults", "writing": "clear"}[kind]
    let_in = set()
    gc.disable()  # see above
    for service, second in itertools.product(range(256), repeat=2):
        whole = bytes([service, second, 0xFF, 0xFF, 0, 0, 0, 0])
        for length in LENGTHS:
            request = AllowedRequest(whole[:length], Class(kind), 0x7E0, 0x7E8, 0, what)
            if not bench.gate._against(request, written_once):
                let_in.add((request.pdu.hex(), kind))
    gc.enable()
    assert let_in == {key for key in ON_THE_LIST if key[1] == kind}


written_once = written()


@pytest.mark.parametrize(
    "change",
    [
        {"request": 0x7E1},
        {"response": 0x7E9},
        {"padding": 0xAA},
        {"kind": Class.READING},
        {"pdu": b"\x14\xff"},
    ],
    ids=["to_another", "from_another", "padding", "called_reading", "shorter"],
)
def test_a_request_that_differs_in_anything_is_refused(make_bench, clear_faults, change):
    bench = in_world(make_bench, "signed_in")
    fields = {name: getattr(clear_faults, name) for name in clear_faults.__dataclass_fields__}
    assert decide(bench.gate, AllowedRequest(**fields), written()).exchange is not None
    assert decide(bench.gate, AllowedRequest(**(fields | change)), written()).exchange is None


@pytest.mark.parametrize("intent", [None, Ticket()], ids=["none", "not_on_the_disk"])
def test_nothing_is_written_without_an_intent_on_the_disk(make_bench, clear_faults, intent):
    bench = in_world(make_bench, "signed_in")
    assert decide(bench.gate, clear_faults, intent).exchange is None


@pytest.mark.parametrize("role", ["", "rider", "Technician", "owner"])
def test_only_a_technician_writes(make_bench, clear_faults, role):
    bench = make_bench()
    bench.sign_in(role)
    bench.run(4.0, ms=20)
    assert decide(bench.gate, clear_faults, written()).exchange is None


@pytest.mark.parametrize(("volts", "may"), [(12.19, False), (12.2, True)])
def test_writing_needs_the_battery_of_the_safety_notes(make_bench, clear_faults, volts, may):
    bench = make_bench()
    bench.sign_in()
    bench.values["BatteryVoltage"] = volts  # design 1: 12.2 V
    bench.run(4.0, ms=20)
    assert (decide(bench.gate, clear_faults, written()).exchange is not None) is may


def test_writing_waits_until_the_engine_has_stood_for_two_seconds(make_bench, clear_faults):
    bench = make_bench()
    bench.sign_in()
    bench.values |= {"EngineSpeed": 1300.0, "EngineSpeedDisplay": 1300.0}
    bench.run(4.0, ms=20)
    bench.values |= {"EngineSpeed": 0.0, "EngineSpeedDisplay": 0.0}
    bench.run(1.9, ms=20)
    assert decide(bench.gate, clear_faults, written()).exchange is None
    bench.run(0.5, ms=20)
    assert decide(bench.gate, clear_faults, written()).exchange is not None


def test_while_an_output_is_live_or_releasing_nothing_else_is_admitted(ready, read_faults):
    ready.live("horn")
    assert decide(ready.gate, read_faults).exchange is None
    ready.controller.mute = True
    ready.lift()
    ready.run(0.5)
    assert ready.state.phase == "releasing"
    assert decide(ready.gate, read_faults).exchange is None


def test_after_an_unconfirmed_release_reading_is_open_and_writing_is_not(ready, read_faults, clear_faults):
    ready.controller.mute = True
    ready.press("horn")
    ready.run(0.1)
    ready.controller.mute = False
    ready.lift()
    ready.run(1.0)
    assert not ready.actuation.locked  # nothing was fired: the session was never answered
    ready.run(2.5)
    ready.live("horn")
    ready.controller.mute = True
    ready.lift()
    ready.run(2.5)
    assert ready.actuation.locked
    assert decide(ready.gate, read_faults).exchange is not None
    assert decide(ready.gate, clear_faults, written()).exchange is None


def open_exchange(bench, request, intent=None):
    admission = Admission(request, intent)
    bench.gate._decide(admission)
    assert admission.exchange is not None, admission.needs
    return admission.exchange


def hand_in(bench, exchange, ident, data):
    bench.gate.transmit(exchange, ident, data)
    return bench.turn()


READ_FRAME = bytes.fromhex("031902ff00000000")


def test_a_request_goes_out_once_and_nothing_of_another_goes_with_it(make_bench, read_faults):
    bench = in_world(make_bench, "at_rest")
    exchange = open_exchange(bench, read_faults)
    assert hand_in(bench, exchange, 0x7E0, bytes.fromhex("022f000000000000")) == []
    assert hand_in(bench, exchange, 0x7E1, READ_FRAME) == []
    assert hand_in(bench, exchange, 0x7E0, READ_FRAME[:-1]) == []
    assert hand_in(bench, exchange, 0x7E0, READ_FRAME) == [READ_FRAME]
    assert hand_in(bench, exchange, 0x7E0, READ_FRAME) == []
    assert exchange.blocked == 4


def test_flow_control_goes_out_once_for_each_first_frame_and_never_before(make_bench, read_faults):
    bench = in_world(make_bench, "at_rest")
    exchange = open_exchange(bench, read_faults)
    assert hand_in(bench, exchange, 0x7E0, FLOW_CONTROL) == []
    bench.extra.append((0x7E8, FIRST_FRAME))  # before the request: an answer to somebody else
    bench.turn()
    assert hand_in(bench, exchange, 0x7E0, READ_FRAME) == [READ_FRAME]
    assert hand_in(bench, exchange, 0x7E0, FLOW_CONTROL) == []
    bench.extra.append((0x7E9, FIRST_FRAME))  # another controller's
    bench.turn()
    assert hand_in(bench, exchange, 0x7E0, FLOW_CONTROL) == []
    bench.extra.append((0x7E8, FIRST_FRAME))
    bench.turn()
    assert hand_in(bench, exchange, 0x7E1, FLOW_CONTROL) == []
    assert hand_in(bench, exchange, 0x7E0, bytes.fromhex("3100000000000000")) == []
    assert hand_in(bench, exchange, 0x7E0, FLOW_CONTROL) == [FLOW_CONTROL]
    assert hand_in(bench, exchange, 0x7E0, FLOW_CONTROL) == []


def test_a_first_frame_that_comes_before_all_of_the_request_is_out_earns_no_flow_control():
    exchange = Exchange(AllowedRequest(bytes(range(10)), Class.READING, 0x7E0, 0x7E8, 0, "a long one"))
    first, second = frames_of(bytes(range(10)), 0)
    assert exchange.let_out(0x7E0, first)
    exchange.hear(FIRST_FRAME)
    assert exchange.let_out(0x7E0, second)
    assert not exchange.let_out(0x7E0, FLOW_CONTROL)
    exchange.hear(FIRST_FRAME)
    assert exchange.let_out(0x7E0, FLOW_CONTROL)


@pytest.mark.parametrize("how", ["finished", "closed", "another"])
def test_nothing_goes_out_after_an_exchange_is_over(make_bench, read_faults, how):
    bench = in_world(make_bench, "at_rest")
    exchange = open_exchange(bench, read_faults)
    if how == "closed":
        bench.gate._close_exchange("It was given up.")
    else:
        bench.gate.finish(exchange)
        bench.turn()
    if how == "another":
        open_exchange(bench, read_faults)
    assert hand_in(bench, exchange, 0x7E0, READ_FRAME) == []


def test_only_one_exchange_is_open_at_a_time(make_bench, read_faults):
    bench = in_world(make_bench, "at_rest")
    open_exchange(bench, read_faults)
    second = Admission(read_faults)
    bench.gate._decide(second)
    assert second.exchange is None


@pytest.mark.parametrize(
    "lapse",
    ["engine_starts", "tester", "silence", "craft_changes", "listening_only"],
)
def test_what_was_admitted_does_not_go_out_when_it_may_not_any_more(make_bench, read_faults, lapse):
    bench = in_world(make_bench, "at_rest")
    exchange = open_exchange(bench, read_faults)
    if lapse == "engine_starts":
        bench.values |= {"EngineSpeed": 5000.0, "EngineSpeedDisplay": 5000.0}
    elif lapse == "tester":
        bench.extra.append((0x7DF, bytes.fromhex("023e000000000000")))
    elif lapse == "silence":
        bench.silent.add("all")
    elif lapse == "craft_changes":
        bench.serve(make_bench().actuation)
    else:
        bench.wire.listening_only = True
    bench.run(0.6, ms=20)
    assert hand_in(bench, exchange, 0x7E0, READ_FRAME) == []
    assert bench.sent == []


def test_a_press_waits_until_a_reading_is_over(ready, read_faults):
    exchange = open_exchange(ready, read_faults)
    ready.press("horn")
    ready.turn()
    assert ready.state.phase == "refused"
    assert ready.missing() == ["outputs_free"]
    ready.gate.finish(exchange)
    ready.lift()
    ready.run(1.0)
    assert ready.sent == []
    ready.live("horn")


@given(
    pdu=st.binary(min_size=1, max_size=60), tries=st.lists(st.integers(0, 12), max_size=30), data=st.data()
)
@settings(max_examples=150, deadline=None)
def test_frames_of_a_request_leave_in_their_order_whatever_is_handed_in(pdu, tries, data):
    frames = frames_of(pdu, 0x55)
    pool = [*frames, bytes(8), bytes.fromhex("30000055555555 55"), data.draw(st.binary(max_size=8))]
    exchange = Exchange(AllowedRequest(pdu, Class.READING, 0x7E0, 0x7E8, 0x55, "any"))
    gone = [
        frame for frame in (pool[number % len(pool)] for number in tries) if exchange.let_out(0x7E0, frame)
    ]
    assert gone == frames[: len(gone)]


def test_long_requests_are_cut_as_the_standard_says():
    # ISO 15765-2: first frame 1LLL and 6 bytes, then consecutive frames 2N from 1, N wraps to 0 after F
    frames = frames_of(bytes(range(1, 121)), 0)
    assert frames[0] == bytes.fromhex("1078010203040506")
    assert [frame[0] for frame in frames[1:]] == [0x20 | number % 16 for number in range(1, 18)]
    assert frames[-1] == bytes([0x21, 119, 120, 0, 0, 0, 0, 0])
    assert frames_of(bytes(7), 0xCC) == [bytes([7]) + bytes(7)]
    assert frames_of(b"\x3e", 0xCC) == [bytes.fromhex("013ecccccccccccc")]
    for size in (0, 4096):
        with pytest.raises(ValueError, match=str(size)):
            frames_of(bytes(size), 0)


def test_an_admission_nobody_waits_for_opens_nothing(make_bench, read_faults):
    bench = in_world(make_bench, "at_rest")
    admission = Admission(read_faults)
    assert admission.abandon()
    bench.gate._decide(admission)
    assert admission.exchange is None
    assert bench.gate._exchange is None


def test_an_admission_given_up_while_it_is_decided_opens_nothing(make_bench, read_faults):
    bench = in_world(make_bench, "at_rest")
    admission = Admission(read_faults)
    honest = bench.actuation.facts

    def facts():
        assert admission.abandon()
        return honest()

    bench.actuation.facts = facts
    bench.gate._decide(admission)
    assert bench.gate._exchange is None
    assert not admission.wait(0)


def test_an_admission_is_settled_once_by_whoever_is_first(read_faults):
    admission = Admission(read_faults)
    assert admission.settle(None, ("no",))
    assert not admission.settle(Exchange(read_faults), ())
    assert not admission.abandon()
    assert (admission.exchange, admission.needs) == (None, ("no",))


def test_a_gate_that_does_not_answer_refuses_and_keeps_nothing_open(make_bench, read_faults, monkeypatch):
    monkeypatch.setattr("bus.admit.ADMIT_S", 0.02)
    bench = in_world(make_bench, "at_rest")
    with pytest.raises(Refused):
        bench.gate.admit(read_faults, None, "scan")
    bench.turn()
    assert bench.gate._exchange is None


def test_an_answer_of_the_last_moment_is_taken_and_can_be_finished(make_bench, read_faults, monkeypatch):
    bench = in_world(make_bench, "at_rest")
    waits = []
    honest = Admission.wait

    def wait(self, timeout_s):
        waits.append(timeout_s)
        if len(waits) == 1:  # the time is up, and before the asker can say so the gate has answered
            bench.turn()
            return False
        return honest(self, 0)

    monkeypatch.setattr(Admission, "wait", wait)
    exchange = bench.gate.admit(read_faults, None, "scan")
    assert bench.gate._exchange is exchange
    bench.gate.finish(exchange)
    bench.turn()
    assert bench.gate._exchange is None


def test_askers_of_many_threads_never_leave_an_exchange_open(make_bench, read_faults, monkeypatch):
    monkeypatch.setattr("bus.admit.ADMIT_S", 0.0005)
    bench = in_world(make_bench, "at_rest")
    got, refused = [], []

    def ask():
        for _ in range(150):
            try:
                exchange = bench.gate.admit(read_faults, None, "scan")
            except Refused:
                refused.append(1)
            else:
                got.append(1)
                bench.gate.finish(exchange)

    threads = [threading.Thread(target=ask) for _ in range(4)]
    for thread in threads:
        thread.start()
    end = time.monotonic() + 30
    while any(thread.is_alive() for thread in threads) and time.monotonic() < end:
        bench.gate._attend()
    bench.gate._attend()
    assert len(got) + len(refused) == 600
    assert bench.gate._exchange is None


def test_a_wire_that_goes_closes_the_exchange(make_bench, read_faults):
    bench = in_world(make_bench, "at_rest")
    exchange = open_exchange(bench, read_faults)
    bench.wire.fails = AdapterLost("It went away.")
    bench.gate._let_go()
    bench.gate._wire = type(bench.wire)(bench)
    assert hand_in(bench, exchange, 0x7E0, READ_FRAME) == []
