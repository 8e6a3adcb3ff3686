"""Another family at the gate: three controllers with 29-bit identifiers, and parts of the stern that move.

What may leave is a list written by hand (lists/skua.csv); who hears it is the whole simulated craft, and its
witness judges by the truth.
"""

import pytest
from frame_lists import listed
from inhibits import end, latched

from bus.exchange import Admission, AllowedRequest, Class
from bus.frame import EXTENDED
from bus.journal import Ticket
from bus.requests import requests_of

LISTED = listed("skua")
STARTED = [what.removeprefix("start ") for what in LISTED if what.startswith("start ")]
INHIBITS = [key for key in STARTED if f"status {key}" in LISTED]
HELD = [key for key in STARTED if key not in INHIBITS]
EVERY = [frame for frames in LISTED.values() for frame in frames]


@pytest.fixture
def bench(simulated_bench):
    made = simulated_bench("skua").make_ready()
    yield made
    assert made.violations == []


def of(what, ident):
    """The line of this kind to the controller that has this identifier."""
    [frame] = [frame for frame in LISTED[what] if frame[0] == ident]
    return frame


def sent_since(bench, count):
    return [(ident, data) for _, ident, data in bench.sent[count:]]


def live(bench):
    return [run.output.key for run in bench.craft.diagnosis.outputs.live.values()]


def test_the_list_is_what_the_family_offers(bench):
    asked = {
        (one.request, bytes([len(one.pdu)]) + one.pdu.ljust(7, b"\xaa"), one.kind.value)
        for one in requests_of(bench.of.uds)
    }
    assert asked == {(*frame, kind) for kind in ("reading", "writing") for frame in LISTED[kind]}
    assert {plan.data.key for plan in bench.of.uds.outputs} == set(STARTED)


@pytest.mark.parametrize("key", HELD)
def test_a_press_sends_only_its_own_lines_and_to_its_own_controller(bench, key):
    ident = LISTED[f"start {key}"][0][0]
    before = len(bench.sent)
    bench.press(key)
    bench.until(lambda: live(bench) == [key], 2.0)
    bench.run(0.3)
    bench.lift()
    bench.until(lambda: not bench.actuation.busy, 3.0)
    assert bench.state.phase == "ended"
    sent = sent_since(bench, before)
    own = [LISTED[f"{word} {key}"][0] for word in ("start", "release")]
    present = (ident, bytes.fromhex("023E80AAAAAAAAAA"))  # 14229-1 3E 80: keep the session, no answer
    assert set(sent) <= {*own, of("session", ident), of("default", ident), present}
    assert [sent[0], sent[-1]] == [of("session", ident), of("default", ident)]
    assert own[0] in sent
    assert own[1] in sent[sent.index(own[0]) :]
    assert live(bench) == []


@pytest.mark.parametrize("key", INHIBITS)
def test_an_inhibit_is_read_back_by_its_own_identifier_held_and_given_back(bench, key):
    ident = LISTED[f"start {key}"][0][0]
    before = len(bench.sent)
    latched(bench, key)
    bench.run(3.0)
    assert live(bench) == [key]
    assert sent_since(bench, before).count(LISTED[f"status {key}"][0]) >= 3
    end(bench)
    bench.until(lambda: not bench.actuation.busy, 5.0)
    sent = sent_since(bench, before)
    words = [LISTED[f"{word} {key}"][0] for word in ("start", "status", "release")]
    assert set(sent) == {*words, of("session", ident), of("default", ident)}
    assert live(bench) == []


@pytest.mark.parametrize("key", ["gate_down", "trim_up"])
@pytest.mark.parametrize("lacks", ["hands_clear", "aft_clear"])
def test_nothing_at_the_stern_moves_without_the_promise_that_nobody_is_there(simulated_bench, key, lacks):
    # Trade reference, outputs: reverse gate and trim want hands clear, and nobody in the water aft.
    bench = simulated_bench("skua").make_ready()
    bench.consider(key)
    bench.run(31.0, ms=50)  # the promises of half a minute are over
    for what in ("hands_clear", "aft_clear"):
        if what != lacks:
            bench.confirm(what)
    bench.turn()
    before = len(bench.sent)
    bench.press(key)
    bench.run(0.5)
    assert lacks in bench.missing()
    assert bench.state.phase == "refused"
    assert sent_since(bench, before) == []
    assert bench.violations == []


@pytest.mark.parametrize(("key", "end_s"), [("gate_down", 2.0), ("trim_up", 4.0)])
def test_one_press_is_one_sweep_and_ends_by_itself(bench, key, end_s):
    bench.press(key)
    bench.until(lambda: live(bench) == [key], 2.0)
    began = bench.clock()
    bench.until(lambda: not live(bench), end_s + 1.5)
    assert bench.clock() - began <= end_s + 0.6  # the last burst is the controller's own
    bench.run(2.0)
    assert live(bench) == []
    place = {"gate_down": "GatePosition", "trim_up": "TrimPosition"}[key]
    assert key != "trim_up" or bench.craft.broadcast.values()[place] == 100.0


@pytest.mark.parametrize("danger", ["turns", "lanyard", "start"])
@pytest.mark.parametrize("key", ["gate_down", "gauges", "injector_4"])
def test_a_danger_on_the_bus_ends_it_at_whichever_controller(bench, key, danger):
    deeds = {
        "turns": {"do": "spin", "rev": 250.0, "seconds": 3.0, "broadcast": True},
        "lanyard": {"do": "lanyard", "pulled": True},
        "start": {"do": "start", "pressed": True},
    }
    bench.press(key)
    bench.until(lambda: live(bench) == [key], 2.0)
    bench.craft.act({"do": "trusting", "on": True})  # the controllers' own refusals are off
    before = len(bench.sent)
    bench.craft.act(deeds[danger])
    bench.until(lambda: not live(bench), 0.5)
    assert LISTED[f"release {key}"][0] in sent_since(bench, before)
    bench.lift()


def near(frame):
    ident, data = frame
    yield from (
        (ident, data[:at] + bytes([value]) + data[at + 1 :]) for at in range(8) for value in range(256)
    )
    yield from ((ident, data[:length]) for length in range(8))
    yield from ((other, data) for other, _ in EVERY)
    yield (ident & 0x7FF, data)
    yield (ident & ~EXTENDED, data)
    yield from ((ident ^ 1 << bit, data) for bit in range(29))


@pytest.mark.parametrize("key", ["injector_2", "gate_up", "warning_lamp"])
def test_whatever_an_output_wants_sent_only_its_own_lines_leave(bench, key):
    ident = LISTED[f"start {key}"][0][0]
    bench.press(key)
    bench.until(lambda: live(bench) == [key], 2.0)
    gone = []
    bench.wire.send = lambda to, data: gone.append((to, bytes(data)))
    words = [f"start {key}", f"release {key}"]
    batch = [
        like for what in (*words, "session", "default") for frame in LISTED[what] for like in near(frame)
    ]
    bench.actuation.step = lambda: list(dict.fromkeys([*batch, *EVERY]))
    bench.gate._attend()
    # As lists/when.csv says of an output that is live: its start, its release, the default session.
    assert sorted(gone) == sorted([*(LISTED[word][0] for word in words), of("default", ident)])


def admission_of(bench, pdu, kind, ident):
    intent = Ticket()
    intent.synced = True
    admission = Admission(AllowedRequest(pdu, kind, ident, 0x18DAF110, 0xAA, "a look-alike"), intent)
    bench.gate._decide(admission)
    return admission


def test_a_look_alike_to_the_11_bit_half_of_an_identifier_is_not_admitted(bench):
    for one in requests_of(bench.of.uds):
        for ident in (one.request & 0x7FF, one.request & ~EXTENDED):
            assert admission_of(bench, one.pdu, Class.READING, ident).exchange is None
