"""A family on SAE J1939 at the gate: what may be asked of its engine and what clears its faults.

What may leave is a list written by hand (lists/tern.csv); who hears it is the simulated engine, whose witness
judges by the truth.
"""

import pytest
from frame_lists import listed

from bus.exchange import Admission, AllowedRequest, Class
from bus.frame import EXTENDED
from bus.group_requests import group_requests
from bus.journal import Ticket

ACKNOWLEDGED = EXTENDED | 0x18E8FF00  # group 59392 of the engine (00) to everybody (FF), standards 5.4


LISTED = listed("tern")
[CLAIM] = LISTED["claim"]
KINDS = {frame: kind for kind in ("reading", "writing") for frame in LISTED[kind]}


@pytest.fixture
def bench(simulated_bench):
    made = simulated_bench("tern")
    made.sign_in()
    made.run(4.0, ms=20)
    yield made
    assert made.violations == []


def offered(bench):
    """Each request of the family by its own frame."""
    return {one.frames()[-1]: one for one in group_requests(bench.of.j1939)}


def written():
    ticket = Ticket()
    ticket.synced = True
    return ticket


def admission_of(bench, request, intent=None):
    admission = Admission(request, intent or written())
    bench.gate._decide(admission)
    return admission


def begin(bench, frame):
    """Admit the request of this frame and let its claim out."""
    admission = admission_of(bench, offered(bench)[frame])
    assert admission.exchange is not None, admission.needs
    bench.gate._let_out_of(admission.exchange, *CLAIM)
    return admission.exchange


def test_the_list_is_what_the_family_offers(bench):
    made = group_requests(bench.of.j1939)
    assert {(*one.frames()[-1], one.kind.value) for one in made} == {
        (*frame, kind) for frame, kind in KINDS.items()
    }
    assert all(one.frames()[:-1] == [CLAIM] for one in made)


WORLDS = {  # what is done to the craft, or who is signed in: kinds of request that may go then. By hand.
    "at rest": (None, {"reading", "writing"}),
    "nobody signed in": ("nobody", {"reading"}),
    "a dock hand": ("dock hand", {"reading"}),
    "cranking": ({"do": "spin", "rev": 250.0, "seconds": 9.0, "broadcast": True}, {"reading"}),
    "under way": ({"do": "spin", "rev": 4000.0, "seconds": 9.0, "broadcast": True}, set()),
    "one speed is not told": ({"do": "plant", "signal": "TernShaft", "kind": "missing"}, {"reading"}),
    "the other is not told": ({"do": "plant", "signal": "EEC1", "kind": "missing"}, {"reading"}),
    "one speed is an error": ({"do": "plant", "signal": "EngineSpeed", "kind": "error"}, {"reading"}),
    "the battery is not told": ({"do": "plant", "signal": "VEP1", "kind": "missing"}, {"reading"}),
    "no serial": ({"do": "plant", "signal": "ControllerSerial", "kind": "not_available"}, {"reading"}),
    "silence": ({"do": "silence", "seconds": 9.0}, set()),
}


@pytest.mark.parametrize("world", WORLDS)
def test_what_may_go_when(bench, world):
    done, may = WORLDS[world]
    if isinstance(done, str):
        bench.sign_in("" if done == "nobody" else "dock_hand", "" if done == "nobody" else "Ann")
    elif done is not None:
        bench.craft.act(done)
    bench.run(3.0, ms=20)
    for frame, request in offered(bench).items():
        admission = admission_of(bench, request)
        assert (admission.exchange is not None) == (KINDS[frame] in may), (frame, admission.needs)
        bench.gate._close_exchange("It was given up.")


def test_nothing_is_cleared_without_an_intent_on_the_disk(bench):
    for frame, request in offered(bench).items():
        late = Ticket()
        assert (admission_of(bench, request, late).exchange is None) == (KINDS[frame] == "writing")
        bench.gate._close_exchange("It was given up.")


@pytest.mark.parametrize("source", [0xF9, 0xFA])
@pytest.mark.parametrize("group", [0xEA, 0xEE, 0xEC])
def test_another_service_tool_keeps_us_away(bench, source, group):
    to = 0x00 if group != 0xEE else 0xFF
    bench.craft.diagnosis._out.append((EXTENDED | 0x18 << 24 | group << 16 | to << 8 | source, bytes(8)))
    bench.run(0.1)
    for request in offered(bench).values():
        admission = admission_of(bench, request)
        assert admission.exchange is None
        assert "Another tester" in admission.needs[0]


def test_who_has_our_address_already_ends_the_exchange_before_anything_is_asked(bench):
    exchange = begin(bench, LISTED["writing"][0])
    bench.craft.diagnosis._out.append((CLAIM[0], bytes.fromhex("0100000000810080")))
    bench.run(0.1)
    before = len(bench.sent)
    bench.gate._let_out_of(exchange, *LISTED["writing"][0])
    assert exchange.closed
    assert bench.sent[before:] == []


@pytest.mark.parametrize("frame", KINDS, ids=lambda frame: frame[1].hex())
def test_the_claim_then_the_request_once_each_and_nothing_else(bench, frame):
    exchange = admission_of(bench, offered(bench)[frame]).exchange
    before = len(bench.sent)

    def push(ident, data):
        bench.gate._let_out_of(exchange, ident, data)

    push(*frame)  # without its claim
    push(*CLAIM)
    push(*CLAIM)
    bench.run(0.3)
    ident, data = frame
    for like in (
        *((ident, data[:at] + bytes([value]) + data[at + 1 :]) for at in range(3) for value in range(256)),
        *((ident, data[:length]) for length in range(3)),
        (ident, data + b"\xff" * 5),
        *((ident ^ 1 << bit, data) for bit in range(32)),
        *((other, said) for other, said in KINDS if (other, said) != frame),
        (ident, bytes.fromhex("3000000000000000")),  # no flow control: there is no long answer to us alone
    ):
        if like != frame:
            push(*like)
    push(*frame)
    push(*frame)
    assert [(to, said) for _, to, said in bench.sent[before:]] == [CLAIM, frame]


@pytest.mark.parametrize("frame", LISTED["writing"], ids=lambda frame: frame[1].hex())
@pytest.mark.parametrize("rev", [60.0, 250.0, 4000.0])
def test_an_engine_that_turns_after_the_claim_keeps_the_request_from_leaving(bench, frame, rev):
    exchange = begin(bench, frame)
    bench.craft.act({"do": "spin", "rev": rev, "seconds": 3.0, "broadcast": True})
    bench.run(0.15)
    before = len(bench.sent)
    bench.gate._let_out_of(exchange, *frame)
    assert exchange.closed
    assert bench.sent[before:] == []


def test_the_engine_acknowledges_and_only_its_answer_is_heard(bench):
    frame = LISTED["writing"][0]
    exchange = begin(bench, frame)
    bench.run(0.3)
    strangers = (0x18E8FF01, 0x18E84400, 0x18E9FF00, 0x18EAFF00)
    bench.craft.diagnosis._out += [(EXTENDED | ident, b"\0" * 8) for ident in strangers]
    bench.craft.diagnosis._out.append((0x0E8, b"\0" * 8))
    bench.run(0.1)
    bench.gate._let_out_of(exchange, *frame)
    bench.run(0.1)
    assert exchange.answer(0) == bytes.fromhex("00FFFFFFF9D3FE00")
    assert exchange.answer(0) is None
    assert [each for each in bench.heard if each.ident == ACKNOWLEDGED]


def test_a_request_of_another_shape_is_not_on_the_list(bench):
    for one in offered(bench).values():
        for kind in Class:
            plain = AllowedRequest(one.pdu, kind, one.request, one.response, 0xFF, one.what)
            assert admission_of(bench, plain).exchange is None
