"""Every frame there is, in every state of the gate: exactly those of a list written by hand leave.

The lists (``lists/auk.csv``: the frames, ``lists/when.csv``: in which state which of them) were written from
the family's data and the standards named beside each line. The product is driven here, never asked what is
right.
"""

import csv
import gc
import itertools
from pathlib import Path

import pytest
from inhibits import cranked, end, latched

from bus.exchange import Admission, AllowedRequest, Class, Exchange
from bus.facts import PROMISES
from bus.family import SHIPPED
from bus.journal import Ticket

LISTS = Path(__file__).with_name("lists")
OTHERS = (0x7DF, 0x7E8, 0x7E9, 0x000, 0x7FF, 0x8000_07E0, 0x8000_07E1, 0x98DA_00F1)
"""Identifiers nothing goes to; those with bit 31 have 29 bits."""


def lines_of(name):
    with (LISTS / name).open(newline="") as file:
        return [line for line in csv.reader(file) if line and not line[0].startswith("#")]


def listed():
    """What may leave (a word of the list) to the frames as (identifier, bytes)."""
    frames = {}
    for what, ident, data, source in lines_of("auk.csv"):
        assert source, (what, data)
        frames.setdefault(what, []).append((int(ident, 16), bytes.fromhex(data)))
    return frames


LISTED = listed()
STARTED = [what.removeprefix("start ") for what in LISTED if what.startswith("start ")]
INHIBITS = [key for key in STARTED if f"status {key}" in LISTED]
OUTPUTS = [key for key in STARTED if key not in INHIBITS]
WHEN = {(door, state): leaves.split() for door, state, leaves, source in lines_of("when.csv") if source}
HULL = (0x7E0, bytes.fromhex("0322F19000000000"))
DISPLAY_FAULTS = (0x7E1, bytes.fromhex("031902FF00000000"))
CLEAR = (0x7E0, bytes.fromhex("0414FFFFFF000000"))
FIRST_FRAME = bytes.fromhex("1014620102030405")  # ISO 15765-2: begins an answer of 20 bytes


def services(ident):
    """Service byte x second byte x length 1 to 7 and a first frame of 8; the rest FF, filled with 00."""
    fill = {length: bytes([0xFF] * (length - 2) + [0] * (7 - max(length, 2))) for length in range(1, 8)}
    pairs = [bytes(pair) for pair in itertools.product(range(256), repeat=2)]
    frames = [(ident, bytes([length]) + pair + fill[length]) for length in fill for pair in pairs]
    return frames + [(ident, b"\x10\x08" + pair + bytes.fromhex("FFFF0000")) for pair in pairs]


def around(frame):
    """The frame with every value in every place, cut short anywhere, or longer."""
    ident, data = frame
    changed = [
        (ident, data[:place] + bytes([value]) + data[place + 1 :])
        for place in range(8)
        for value in range(256)
    ]
    return changed + [(ident, data[:length]) for length in range(8)] + [(ident, data + b"\x00")]


def elsewhere(frame):
    """The same bytes to every identifier of 11 bits, and to some of 29."""
    return [(ident, frame[1]) for ident in (*range(0x800), *OTHERS)]


def own_words(*keys):
    """The lines about these outputs, and those about the session."""
    wanted = {
        "session",
        "default",
        *(f"{word} {key}" for word in ("start", "release", "status") for key in keys),
    }
    return [frame for what, frames in LISTED.items() if what in wanted for frame in frames]


def near(frames):
    """All that is like one of these, and every line of the list."""
    like = [changed for frame in frames for changed in (*around(frame), *elsewhere(frame))]
    moved = [(ident, data) for _, data in EVERY for ident in (0x7E0, 0x7E1, *OTHERS)]
    return list(dict.fromkeys([*like, *moved]))


EVERY = [frame for frames in LISTED.values() for frame in frames]


@pytest.fixture(scope="module")
def everything():
    """Each frame once: all services, all first bytes, all that is like a line of a few kinds."""
    some = [*own_words("injector_1", "horn"), *LISTED["flow"], *LISTED["writing"], HULL, DISPLAY_FAULTS]
    pairs = itertools.product(range(256), repeat=2)
    batch = [*services(0x7E0), *((0x7E0, bytes([*pair, 0, 0, 0, 0, 0, 0])) for pair in pairs), *near(some)]
    batch = list(dict.fromkeys(batch))
    assert len(batch) > 256 * 256 * 8 + 80_000
    return batch


@pytest.fixture(autouse=True)
def uncollected():
    """Millions of short-lived objects make work for the collector that has nothing to do with them."""
    gc.disable()
    yield
    gc.enable()


# --- the doors ----------------------------------------------------------------------------------------


def wire_of(bench):
    """From here on what leaves is only written down."""
    gone = []
    bench.wire.send = lambda ident, data: gone.append((ident, bytes(data)))
    return gone


def by_the_output_door(bench, batch):
    """An output under way wants all of these sent."""
    gone = wire_of(bench)
    bench.actuation.step = lambda: batch
    bench.gate._attend()
    return gone


def by_the_parting_door(bench, batch):
    """The wire must go, and these are said to be the last words."""
    gone = wire_of(bench)
    bench.actuation.last_words = lambda: batch
    bench.gate._let_go()
    return gone


def by_the_exchange_door(bench, exchange, batch):
    """All of these are handed in for one exchange.

    The clock stands and nothing is heard meanwhile: what speaks against its request is asked once, not for
    every frame.
    """
    gone = wire_of(bench)
    honest, asked = bench.gate._against, []

    def once(*request):
        if not asked:
            asked.append((request, honest(*request)))
        assert request == asked[0][0]
        return asked[0][1]

    bench.gate._against = once
    let_out_of = bench.gate._let_out_of
    for ident, data in batch:
        let_out_of(exchange, ident, data)
    bench.gate._against = honest
    assert all(honest(*request) == answer for request, answer in asked)
    return gone


def may_leave(door, state, **frames):
    """The frames the list lets out, sorted; ``frames`` says which line "start", "release" or "read" means."""
    words = {"session": LISTED["session"][0], "default": LISTED["default"][0], **frames}
    return sorted(words[word] for word in WHEN[door, state])


# --- the states of an output --------------------------------------------------------------------------


def ready(make, entries=()):
    bench = make(entries).make_ready()
    for what in PROMISES:
        bench.confirm(what)
    bench.turn()
    return bench


def sent(bench, frame):
    return any((ident, data) == frame for _, ident, data in bench.sent)


def in_state(make, state, key):
    """A bench whose output ``key`` is in a state of the list; None where this version does not fire it."""
    if state == "owed":
        before = in_state(make, "live", key)
        return None if before is None else restarted(make, before.journal.entries, key)
    bench = ready(make)
    if state in UNPRESSED:
        UNPRESSED[state](bench)
        return bench
    bench.journal.stuck = state == "charging"
    bench.controller.mute = state == "starting"
    bench.press(key)
    bench.turn()
    if bench.state.phase == "refused":
        assert bench.missing() == ["released"]
        return None
    assert bench.state.phase == "starting"
    if state != "charging":
        bench.until(lambda: sent(bench, LISTED["session"][0]))
    if state not in ("charging", "starting"):
        bench.until(bench.controller.live)
        bench.run(0.02)
        assert bench.state.phase == "live"
        after_it_was_live(bench, state)
    return bench


def restarted(make, entries, key):
    """A process that finds a live output in its journal, before its controller has confirmed anything."""
    bench = make(entries)
    bench.controller.mute = True
    bench.until(lambda: sent(bench, LISTED[f"release {key}"][0]))
    return bench


def not_served(bench):
    bench.gate._actuation = None


def refused(bench):
    bench.values["Lanyard"] = "Pulled"
    bench.run(0.2)
    bench.press("injector_1")
    bench.turn()
    assert bench.state.phase == "refused"


UNPRESSED = {
    "nothing pressed": lambda bench: None,
    "family not served": not_served,
    "reading under way": lambda bench: admitted(bench, HULL),
    "refused": refused,
}


def after_it_was_live(bench, state):
    bench.wire.listening_only = state == "listening only"
    if state == "finger gone":
        bench.finger = None
        bench.ms += 301
    if state in ("live", "listening only", "finger gone"):
        return
    bench.controller.mute = state in ("releasing", "not confirmed")
    bench.controller.mutes = {0x10} if state == "closing" else set()
    bench.lift()
    if state == "closing":
        bench.until(lambda: sent(bench, LISTED["default"][0]))
    bench.turn()
    if state in ("over", "not confirmed"):
        bench.until(lambda: not bench.actuation.busy)
        assert bench.state.phase == ("ended" if state == "over" else "not_confirmed")
    else:
        assert bench.state.phase == "releasing"


def about(key):
    words = ("start", "release", "status")
    return {word: LISTED[f"{word} {key}"][0] for word in words if f"{word} {key}" in LISTED}


def states_of(door):
    return [state for of, state in WHEN if of == door]


def test_the_lists_are_about_what_the_family_offers(auk_bench):
    bench = auk_bench()
    assert set(bench.actuation._plans) == set(STARTED)
    assert [key for key, plan in bench.actuation._plans.items() if plan.latched] == INHIBITS
    assert {what for what in LISTED if " " not in what} == {
        "flow",
        "reading",
        "writing",
        "session",
        "default",
    }
    assert {f"release {key}" for key in STARTED} <= set(LISTED)
    assert all(data[0] < 8 for what, frames in LISTED.items() if what != "flow" for _, data in frames)


def test_every_family_with_outputs_or_faults_has_a_list():
    asked = {
        file.parent.name
        for file in SHIPPED.glob("*/family.toml")
        if {"[uds]", "[j1939]"} & set(file.read_text().splitlines())
    }
    assert asked == {"auk", "skua", "tern"}
    lists = {file.stem for file in LISTS.glob("*.csv")}
    assert asked <= lists, "write tests/safety/lists/FAMILY.csv by hand, as it is done for auk"


@pytest.mark.parametrize("state", states_of("output"))
def test_whatever_an_output_wants_sent_only_the_list_leaves(auk_bench, everything, state):
    bench = in_state(auk_bench, state, "injector_1")
    gone = by_the_output_door(bench, everything)
    assert sorted(gone) == may_leave("output", state, **about("injector_1"))


@pytest.mark.parametrize("key", OUTPUTS)
@pytest.mark.parametrize("state", ["starting", "live", "releasing", "closing", "over", "owed", "finger gone"])
def test_the_same_for_every_output_and_nothing_of_another(auk_bench, state, key):
    bench = in_state(auk_bench, state, key)
    if bench is None:  # this version does not fire it: a press is refused, and nothing of it leaves
        bench, state = in_state(auk_bench, "refused", key), "refused"
    gone = by_the_output_door(bench, near(own_words(key)))
    assert sorted(gone) == may_leave("output", state, **about(key))


@pytest.mark.parametrize("state", [state for state in states_of("parting") if "inhibit" not in state])
def test_when_the_wire_must_go_only_a_release_does(auk_bench, everything, state):
    bench = in_state(auk_bench, state, "horn")
    gone = by_the_parting_door(bench, everything)
    assert sorted(gone) == may_leave("parting", state, **about("horn"))


# --- the states of an inhibit -------------------------------------------------------------------------


def read_back(bench, key):
    """Pressed, and asked whether it holds."""
    bench.press(key)
    bench.until(lambda: sent(bench, LISTED[f"status {key}"][0]))


def inhibit_in_state(make, state, key):
    """A bench whose inhibit ``key`` is in a state of the list."""
    if state.startswith("owed"):
        bench = make(inhibit_in_state(make, "latched", key).journal.entries)
        bench.controller.mute = True
        if state == "owed while turning":
            cranked(bench)
            bench.run(3.0)
        else:
            bench.until(lambda: sent(bench, LISTED[f"release {key}"][0]))
        return bench
    bench = ready(make)
    bench.journal.stuck = state == "charging"
    if state in ("charging", "starting"):
        bench.controller.mute = True
        bench.press(key)
        bench.turn()
        bench.run(0.1)
        assert bench.state.phase == "starting"
    elif state in ("reading back", "turning before it was read back"):
        bench.controller.mutes = {0x22}
        read_back(bench, key)
        if state != "reading back":
            cranked(bench)
    else:
        latched(bench, key)
        INHIBIT_STATES[state](bench)
    return bench


def finger_gone(bench):
    bench.run(1.5)


def ending_while_turning(bench):
    end(cranked(bench))
    bench.run(0.1)
    assert bench.state.ending


def speed_not_known(bench):
    bench.silent.add("DisplayMain")
    bench.run(0.4)
    end(bench)
    bench.turn()


def given_back(bench):
    """Given back to a controller that does not confirm it."""
    bench.controller.mute = bench.controller.stubborn = True
    end(bench)
    bench.turn()
    assert bench.state.phase == "releasing"


def cranked_while_releasing(bench):
    given_back(bench)
    cranked(bench)


def closing(bench):
    bench.controller.mutes = {0x10}
    end(bench)
    bench.until(lambda: sent(bench, LISTED["default"][0]))


def over(bench):
    end(bench)
    bench.until(lambda: not bench.actuation.busy)
    assert bench.state.phase == "ended"


INHIBIT_STATES = {
    "latched": lambda bench: None,
    "inhibit latched": lambda bench: None,
    "finger gone": finger_gone,
    "turning": cranked,
    "inhibit turning": cranked,
    "ending while turning": ending_while_turning,
    "speed not known": speed_not_known,
    "releasing": given_back,
    "cranked while releasing": cranked_while_releasing,
    "closing": closing,
    "over": over,
    "listening only": lambda bench: setattr(bench.wire, "listening_only", True),
}


@pytest.mark.parametrize("key", INHIBITS)
@pytest.mark.parametrize("state", states_of("inhibit"))
def test_of_an_inhibit_too_only_the_list_leaves(auk_bench, state, key):
    bench = inhibit_in_state(auk_bench, state, key)
    gone = by_the_output_door(bench, near(own_words(key)))
    assert sorted(gone) == may_leave("inhibit", state, **about(key))


def test_whatever_else_there_is_does_not_leave_while_an_inhibit_holds(auk_bench, everything):
    bench = inhibit_in_state(auk_bench, state := "turning", "fuel_inhibit")
    gone = by_the_output_door(bench, everything)
    assert sorted(gone) == may_leave("inhibit", state, **about("fuel_inhibit"))


@pytest.mark.parametrize("state", ["inhibit latched", "inhibit turning"])
def test_when_the_wire_must_go_an_inhibit_is_released_at_rest_only(auk_bench, state):
    bench = inhibit_in_state(auk_bench, state, "spark_inhibit")
    gone = by_the_parting_door(bench, near(own_words("spark_inhibit")))
    assert sorted(gone) == may_leave("parting", state, **about("spark_inhibit"))


# --- the states of an exchange ------------------------------------------------------------------------


def request_of(bench, frame):
    """The product's request that makes this frame; without one, a look-alike."""
    ident, data = frame
    pdu = data[1 : 1 + data[0]]
    kind = Class.WRITING if frame in LISTED["writing"] else Class.READING
    found = [one for one in bench.gate._allowed if (one.request, one.pdu) == (ident, pdu)]
    return found[0] if found else AllowedRequest(pdu, kind, ident, ident + 8, 0, "a look-alike")


def admission_of(bench, frame):
    intent = Ticket()
    intent.synced = True
    admission = Admission(request_of(bench, frame), intent)
    bench.gate._decide(admission)
    return admission


def admitted(bench, frame):
    admission = admission_of(bench, frame)
    assert admission.exchange is not None, admission.needs
    return admission.exchange


def test_the_gate_admits_the_requests_of_the_list_and_no_others(auk_bench):
    bench = ready(auk_bench)
    kinds = {(one.kind.value, one.request, one.pdu) for one in bench.gate._allowed}
    assert kinds == {
        (what, ident, data[1 : 1 + data[0]])
        for what in ("reading", "writing")
        for ident, data in LISTED[what]
    }
    assert all((one.response, one.padding) == (one.request + 8, 0) for one in bench.gate._allowed)


MAY_BEGIN = {  # state: classes that may be admitted.  Design 1 and 4, and section 4, under way
    "nothing pressed": {"reading", "writing"},
    "refused": {"reading", "writing"},
    "charging": set(),
    "starting": set(),
    "live": set(),
    "releasing": set(),
    "closing": set(),
    "over": {"reading", "writing"},
    "not confirmed": {"reading"},  # locked until re-read: reading is the way out, writing is not
    "owed": set(),
    "listening only": set(),
    "family not served": set(),
    "reading under way": set(),  # one at a time
}


@pytest.mark.parametrize("state", MAY_BEGIN)
def test_each_request_of_the_list_is_admitted_only_in_the_states_of_the_table(auk_bench, state):
    bench = in_state(auk_bench, state, "horn")
    under_way = bench.gate._exchange
    for what in ("reading", "writing"):
        for frame in LISTED[what]:
            admission = admission_of(bench, frame)
            assert (admission.exchange is not None) is (what in MAY_BEGIN[state]), (what, admission.needs)
            bench.gate._exchange = under_way


def forged(bench, frame):
    """An exchange that the gate never admitted."""
    return Exchange(request_of(bench, frame), None)


def first_frame_heard(bench, exchange):
    bench.extra.append((exchange.request.response, FIRST_FRAME))
    bench.turn()


@pytest.mark.parametrize(("frame", "kind"), [(HULL, "reading"), (CLEAR, "writing")], ids=["hull", "clear"])
def test_of_everything_handed_in_for_an_exchange_only_its_own_frame_leaves_and_once(
    auk_bench, everything, frame, kind
):
    bench = ready(auk_bench)
    assert by_the_exchange_door(bench, forged(bench, frame), everything) == may_leave(
        "exchange", "nothing admitted"
    )
    exchange = admitted(bench, frame)
    assert by_the_exchange_door(bench, forged(bench, frame), [frame]) == []
    gone = by_the_exchange_door(bench, exchange, everything)
    assert gone == may_leave("exchange", f"{kind} admitted", read=frame)
    assert by_the_exchange_door(bench, exchange, near([frame])) == may_leave("exchange", f"{kind} sent")


@pytest.mark.parametrize("frame", [HULL, DISPLAY_FAULTS], ids=["hull", "display_faults"])
def test_a_first_frame_earns_one_flow_control_to_its_own_controller(auk_bench, everything, frame):
    bench = ready(auk_bench)
    exchange = admitted(bench, frame)
    assert by_the_exchange_door(bench, exchange, [frame]) == [frame]
    flow = next(one for one in LISTED["flow"] if one[0] == frame[0])
    first_frame_heard(bench, exchange)
    batch = everything if frame is HULL else near([frame, flow])
    gone = by_the_exchange_door(bench, exchange, batch)
    assert gone == may_leave("exchange", "reading answered", flow=flow)
    assert by_the_exchange_door(bench, exchange, near([flow])) == []
    bench.gate.finish(exchange)
    bench.turn()
    assert by_the_exchange_door(bench, exchange, [frame, flow]) == may_leave("exchange", "reading closed")


@pytest.mark.parametrize("frame", [*LISTED["reading"], *LISTED["writing"]], ids=lambda frame: frame[1].hex())
def test_of_all_that_is_like_a_request_of_the_list_only_itself_leaves(auk_bench, frame):
    bench = ready(auk_bench)
    exchange = admitted(bench, frame)
    assert by_the_exchange_door(bench, exchange, [*EVERY, *around(frame)]) == [frame]
    bench.gate.finish(exchange)
    bench.turn()
    assert by_the_exchange_door(bench, admitted(bench, frame), elsewhere(frame)) == [frame]


LAPSED = {
    "writing after its conditions went": (CLEAR, lambda bench: bench.values.update(EngineSpeed=1300.0)),
    "reading while only listening": (HULL, lambda bench: setattr(bench.wire, "listening_only", True)),
    "reading of the craft before": (HULL, lambda bench: bench.serve(bench.actuation)),
}


@pytest.mark.parametrize("state", LAPSED)
def test_an_exchange_whose_conditions_went_lets_nothing_out(auk_bench, everything, state):
    frame, lapse = LAPSED[state]
    bench = ready(auk_bench)
    exchange = admitted(bench, frame)
    lapse(bench)
    bench.run(0.2)
    assert by_the_exchange_door(bench, exchange, everything) == may_leave("exchange", state)


def test_no_exchange_begins_or_goes_on_while_an_inhibit_holds(auk_bench):
    bench = inhibit_in_state(auk_bench, "latched", "fuel_inhibit")
    for what in ("reading", "writing"):
        for frame in LISTED[what]:
            assert admission_of(bench, frame).exchange is None
    bench.gate._exchange = stolen = forged(bench, HULL)
    assert by_the_exchange_door(bench, stolen, near([HULL])) == may_leave("exchange", "output latched")


@pytest.mark.parametrize("state", ["starting", "live", "releasing", "over"])
def test_no_exchange_lets_anything_out_while_an_output_is_under_way(auk_bench, everything, state):
    bench = in_state(auk_bench, state, "horn")
    gone = by_the_exchange_door(bench, forged(bench, HULL), everything)
    assert gone == may_leave("exchange", f"output {state}")
    bench.gate._exchange = stolen = forged(bench, HULL)  # even if the gate believed it had admitted it
    if state != "over":
        assert by_the_exchange_door(bench, stolen, [HULL]) == []
