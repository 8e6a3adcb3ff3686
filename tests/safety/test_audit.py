"""The account of the door: equal to what the wire saw, whatever happens; and no condition of anything.

The witness is the wire of the bench and what was handed to the gate; how frames are told apart is written
here by hand from ISO 14229-1 and ISO 15765-2.
"""

from collections import Counter

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.errors import AdapterLost
from bus.audit import ASKED, BLOCKED, BLOCKED_A_SECOND, SENT
from bus.exchange import Admission, Outcome, Result
from bus.journal import Ticket

READ_FRAME = bytes.fromhex("031902ff00000000")
CLEAR_FRAME = bytes.fromhex("0414ffffff000000")
FLOW_CONTROL = bytes.fromhex("3000000000000000")
FIRST_FRAME = bytes.fromhex("1014590201020304")
AUDIT = {ASKED, SENT, BLOCKED}
CRAFT = "auk 20417"


def told(bench, kind):
    return [entry["body"] for entry in bench.journal.told if entry["kind"] == kind]


def audited(bench):
    """The bench with its account in its journal, and a witness of all that is handed to the gate."""
    bench.gate.audit.keep_in(bench.journal)
    bench.gate.audit.craft = lambda: bench.facts.serial
    bench.gate.audit.answering = {0x7E0: 0x7E8}
    bench.gate.audit.operator = "Kim"
    bench.handed, bench.of_press = 0, Counter()
    step, last_words, send = bench.actuation.step, bench.actuation.last_words, bench.wire.send

    def counted(frames):
        bench.handed += len(frames)
        return frames

    def sent(ident, data):
        send(ident, data)
        if data not in (READ_FRAME, CLEAR_FRAME, FLOW_CONTROL):
            bench.of_press[bench.actuation._run.press] += 1

    bench.actuation.step = lambda: counted(step())
    bench.actuation.last_words = lambda: counted(last_words())
    bench.wire.send = sent
    return bench


def what_a_frame_is(data):
    """ISO 14229-1: 10 03 and 10 01 change the session, 2F with 00 behind the identifier returns control."""
    if data[:3] == b"\x02\x10\x03":
        return "session"
    if data[:3] == b"\x02\x10\x01":
        return "default_session"
    if data[1] == 0x2F:
        return "release" if data[4] == 0 else "start"
    return "exchange"


# --- one thing after the other ------------------------------------------------------------------------------


def test_a_press_is_one_line_with_the_frames_the_wire_saw_and_the_last_answer(make_bench):
    bench = audited(make_bench().make_ready())
    bench.live("horn")
    bench.run(0.8)
    bench.lift()
    bench.run(1.0)
    [line] = told(bench, SENT)
    seen = Counter(what_a_frame_is(data) for _, _, data in bench.sent)
    assert {name: line[name] for name in seen} == seen
    assert seen["start"] > 1
    assert line["frames"] == len(bench.sent)
    assert line["last_answer"].startswith("5001")  # yes to the default session, which is asked for last
    assert (line["output"], line["operator"], line["craft"]) == ("horn", "Kim", CRAFT)
    assert line["press"] == told(bench, "output_start")[0]["press"] == told(bench, "output_end")[0]["press"]


def test_who_is_signed_in_and_where_answers_come_from_the_gate_knows_by_itself(make_bench):
    bench = make_bench().make_ready()
    bench.gate.audit.keep_in(bench.journal)
    bench.sign_in(operator="Alex")
    bench.live("horn")
    bench.lift()
    bench.run(1.0)
    [line] = told(bench, SENT)
    assert line["operator"] == "Alex"
    assert line["last_answer"].startswith("5001")


def test_an_exchange_is_told_with_who_asked_when_it_began_and_for_how_long_it_was_open(
    make_bench, read_faults
):
    bench = make_bench()
    bench.run(4.0, ms=20)
    audited(bench)
    bench.gate._decide(Admission(read_faults))
    bench.gate.audit.operator = "Alex"
    bench.run(0.5)
    bench.gate._close_exchange("It was given up.")
    [line] = told(bench, ASKED)
    assert (line["operator"], line["took_s"]) == ("Kim", pytest.approx(0.5))


def test_a_press_that_is_refused_sends_nothing_and_has_no_line(make_bench):
    bench = audited(make_bench())
    bench.press("horn")
    bench.run(0.5)
    assert (bench.sent, told(bench, SENT)) == ([], [])


def test_a_release_that_an_earlier_process_left_owing_is_told_too(make_bench):
    old = make_bench().make_ready().live("horn")
    bench = audited(make_bench([dict(entry) for entry in old.journal.entries], start_s=2000))
    bench.run(4.0)
    [line] = told(bench, SENT)
    assert line["release"] >= 1
    assert "start" not in line
    assert line["frames"] == len(bench.sent)


def test_the_last_words_before_the_wire_goes_are_told_as_what_they_were(make_bench):
    bench = audited(make_bench().make_ready().live("horn"))
    before = len(bench.sent)
    bench.gate._let_go()  # the adapter is let go of while it still takes frames
    [line] = told(bench, SENT)
    assert [what_a_frame_is(data) for _, _, data in bench.sent[before:]] == ["release"]
    assert line["release"] == 1


def test_a_frame_the_adapter_did_not_take_is_not_counted_and_is_told(make_bench):
    bench = audited(make_bench().make_ready().live("horn"))
    before = len(bench.sent)

    def fails(ident, data):
        raise AdapterLost("It went away.")

    bench.wire.send = fails
    bench.lift()
    with pytest.raises(AdapterLost):
        bench.turn()
    bench.gate._let_go()
    [line] = told(bench, SENT)
    assert line["frames"] == before == len(bench.sent)
    assert told(bench, BLOCKED)[0]["why"] == "It may not have left: It went away."
    assert what_a_frame_is(bytes.fromhex(told(bench, BLOCKED)[0]["frame"])) == "release"


def test_an_exchange_is_one_line_with_why_who_and_what_came_of_it(make_bench, read_faults):
    bench = make_bench()
    bench.run(4.0, ms=20)
    audited(bench)
    admission = Admission(read_faults, None, "scan")
    bench.gate._decide(admission)
    bench.gate.transmit(admission.exchange, 0x7E0, READ_FRAME)
    bench.turn()
    admission.exchange.outcome = Outcome(Result.ANSWERED, size=3)
    bench.gate.finish(admission.exchange)
    bench.turn()
    [line] = told(bench, ASKED)
    assert line["took_s"] >= 0
    del line["took_s"]
    assert line == {
        "craft": CRAFT, "operator": "Kim", "asked": "read the faults", "why": "scan", "request": "1902ff",
        "to": "7E0", "frames": 1, "result": "answered", "bytes": 3,
    }  # fmt: skip


# --- what is held back --------------------------------------------------------------------------------------


def test_frames_held_back_are_told_a_few_a_second_and_the_rest_by_number(make_bench, read_faults):
    bench = make_bench()
    bench.run(4.0, ms=20)
    audited(bench)
    admission = Admission(read_faults)
    bench.gate._decide(admission)
    for second in range(3):
        for number in range(100):
            bench.gate.transmit(admission.exchange, 0x7E0, bytes([second, number, *bytes(6)]))
        bench.run(1.1)
    lines = told(bench, BLOCKED)
    assert len(lines) <= 3 * (BLOCKED_A_SECOND + 1)
    assert sum("frame" in line for line in lines) + sum(line["more"] for line in lines) == 300
    assert bench.sent == []


def test_a_wire_that_only_listens_holds_back_what_an_output_would_send(make_bench):
    bench = audited(make_bench().make_ready().live("horn"))
    before = len(bench.sent)
    bench.wire.listening_only = True
    bench.run(2.5)
    assert len(bench.sent) == before
    assert told(bench, BLOCKED)[0]["why"] == "The adapter takes no part"
    held = sum("frame" in line for line in told(bench, BLOCKED))
    held += sum(line["more"] for line in told(bench, BLOCKED))
    assert held == bench.handed


def test_a_frame_of_a_press_whose_leave_has_lapsed_is_told(make_bench):
    bench = audited(make_bench().make_ready())
    bench.actuation.allowed = lambda ident, data: False
    bench.press("horn")
    bench.run(0.2)
    assert bench.sent == []
    [line] = told(bench, BLOCKED)
    assert (line["why"], line["to"]) == ("Leave for it has lapsed", "7E0")
    assert what_a_frame_is(bytes.fromhex(line["frame"])) == "session"


# --- it is no condition of anything -------------------------------------------------------------------------


class Failing:
    """The journal of a bench whose disk takes everything but the account: it raises, refuses or hangs."""

    def __init__(self, journal, how):
        self.journal, self.how = journal, how

    def put(self, kind, /, **body):
        if kind not in AUDIT:
            return self.journal.put(kind, **body)
        if self.how == "raises":
            raise OSError(5, "Input/output error")
        ticket = Ticket()
        if self.how == "refuses":
            ticket.failed = "The journal cannot be written: the storage is full."
        return ticket


def a_visit(bench, read_faults, clear_faults):
    """A reading, a clearing, presses, one of a controller that goes dumb: what was sent and what moved."""
    bench.run(2.0)
    intent = Ticket()
    intent.synced = True
    for request, frame in ((read_faults, READ_FRAME), (clear_faults, CLEAR_FRAME)):
        admission = Admission(request, intent)
        bench.gate._decide(admission)
        bench.gate.transmit(admission.exchange, 0x7E0, frame)
        bench.gate.transmit(admission.exchange, 0x7E0, bytes(8))
        bench.turn()
        bench.gate.finish(admission.exchange)
        bench.turn()
    for output in ("horn", "fan", "injector_1"):
        bench.confirm("hands_clear")
        bench.live(output)
        bench.run(0.3)
        bench.controller.mute = output == "injector_1"
        bench.lift()
        bench.run(6.0)
    return bench.sent, bench.controller.moves


@pytest.mark.parametrize("how", ["raises", "refuses", "hangs", "craft_fails"])
def test_with_an_account_that_cannot_be_written_the_same_frames_leave_at_the_same_times(
    make_bench, read_faults, clear_faults, how, capsys
):
    whole = make_bench().make_ready()
    frames, moves = a_visit(whole, read_faults, clear_faults)
    bench = make_bench().make_ready()
    bench.gate.audit.keep_in(Failing(bench.journal, how))
    if how == "craft_fails":

        def craft():
            raise RuntimeError("planted")

        bench.gate.audit.craft = craft
    assert a_visit(bench, read_faults, clear_faults) == (frames, moves)
    kinds = Counter(what_a_frame_is(data) for _, _, data in frames)
    assert kinds["release"] >= 3
    assert kinds["exchange"] == 2
    assert len(moves) >= 3
    assert capsys.readouterr().err.count("cannot be noted") == (how in ("raises", "craft_fails"))


def test_the_finger_lifts_on_a_failing_disk_and_the_release_goes_out_at_once(make_bench):
    bench = make_bench().make_ready()
    bench.gate.audit.keep_in(Failing(bench.journal, "raises"))
    bench.live("horn")
    bench.lift()
    sent = bench.turn()
    assert [what_a_frame_is(data) for data in sent] == ["release"]
    bench.run(1.0)
    assert not bench.controller.live()
    assert bench.state.phase == "ended"


# --- in any order -------------------------------------------------------------------------------------------

STEPS = st.one_of(
    st.tuples(st.just("wait"), st.sampled_from([0.05, 0.3, 1.2])),
    st.tuples(st.just("press"), st.sampled_from(["horn", "fan", "injector_1"])),
    st.tuples(st.just("lift"), st.none()),
    st.tuples(st.just("ask"), st.sampled_from(["read", "clear"])),
    st.tuples(st.just("read"), st.integers(0, 5)),
    st.tuples(
        st.just("hand_in"),
        st.lists(st.sampled_from([READ_FRAME, CLEAR_FRAME, FLOW_CONTROL, bytes(8)]), max_size=6),
    ),
    st.tuples(st.just("long_answer"), st.none()),
    st.tuples(st.just("finish"), st.booleans()),
    st.tuples(st.just("mute"), st.booleans()),
    st.tuples(st.just("engine"), st.sampled_from([0.0, 1300.0])),
    st.tuples(st.just("listen_only"), st.booleans()),
    st.tuples(st.just("adapter_goes"), st.booleans()),
)


class Story:
    """Steps on a bench; the exchanges that were admitted, and everything that was handed in for them."""

    def __init__(self, bench, requests):
        self.bench, self.requests = bench, requests
        self.exchanges = []
        self.adapter_gone = 0

    def turns(self, seconds):
        until = self.bench.clock() + seconds
        while self.bench.clock() < until:
            try:
                self.bench.turn()
            except AdapterLost:
                self.adapter_back()

    def adapter_back(self):
        bench = self.bench
        bench.gate._let_go()
        bench.wire.fails = None
        bench.gate._wire = bench.wire
        self.adapter_gone += 1

    def wait(self, seconds):
        self.turns(seconds)

    def press(self, output):
        self.bench.confirm("hands_clear")
        self.bench.press(output)
        self.turns(0.2)

    def lift(self, _):
        self.bench.lift()
        self.turns(0.6)

    def ask(self, what):
        intent = Ticket()
        intent.synced = True
        admission = Admission(self.requests[what], intent, what)
        self.bench.gate._tell_actuation(self.bench.actuation)
        self.bench.gate._decide(admission)
        if admission.exchange is not None:
            self.exchanges.append(admission.exchange)

    def hand_in(self, frames):
        for frame in frames if self.exchanges else ():
            self.bench.handed += 1
            self.bench.gate.transmit(self.exchanges[-1], 0x7E0, frame)
        self.turns(0.01)

    def long_answer(self, _):
        self.bench.extra.append((0x7E8, FIRST_FRAME))
        self.turns(0.01)

    def read(self, how_far):
        """A reading as it goes, up to a point."""
        whole = [
            lambda: self.ask("read"),
            lambda: self.hand_in([READ_FRAME]),
            lambda: self.long_answer(None),
            lambda: self.hand_in([FLOW_CONTROL]),
            lambda: self.finish(said=True),
        ]
        for part in whole[:how_far]:
            part()

    def finish(self, said):
        if self.exchanges:
            self.exchanges[-1].outcome = Outcome(Result.SILENT) if said else None
            self.bench.gate.finish(self.exchanges[-1])

    def mute(self, is_mute):
        self.bench.controller.mute = is_mute

    def engine(self, speed):
        self.bench.values |= {"EngineSpeed": speed, "EngineSpeedDisplay": speed}

    def listen_only(self, only):
        self.bench.wire.listening_only = only

    def adapter_goes(self, gone):
        self.bench.wire.fails = AdapterLost("It went away.") if gone else None
        self.turns(0.01)

    def end(self):
        self.bench.lift()
        self.turns(8.0)
        for exchange in self.exchanges[-1:]:
            self.bench.gate.finish(exchange)
        self.turns(0.05)
        assert not self.bench.actuation.busy
        self.bench.gate.audit.end()


def check(story):
    bench = story.bench
    asked, sent, blocked = (told(bench, kind) for kind in (ASKED, SENT, BLOCKED))
    seen = Counter(what_a_frame_is(data) for _, _, data in bench.sent)
    assert sum(line["frames"] for line in asked) == seen.pop("exchange", 0)
    assert [(line["why"], line["request"]) for line in asked] == [
        (exchange.why, exchange.request.pdu.hex()) for exchange in story.exchanges
    ]
    counted = Counter()
    for line in sent:
        assert line["frames"] == sum(
            line.get(name, 0) for name in ("session", "default_session", "start", "release")
        )
        counted += Counter({name: line.get(name, 0) for name in seen})
        bench.of_press[line["press"]] -= line["frames"]
    assert counted == +seen
    assert not +bench.of_press, "frames of a press stand under another one"
    held = sum("frame" in line for line in blocked) + sum(line["more"] for line in blocked)
    assert held + len(bench.sent) == bench.handed
    started = {(line["output"], line["press"]) for line in told(bench, "output_start")}
    assert {(line["output"], line["press"]) for line in sent} <= started


def test_the_account_equals_what_the_wire_saw_in_any_order(make_bench, read_faults, clear_faults):
    reached = Counter()

    @settings(
        max_examples=40, derandomize=True, database=None, deadline=None,
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(st.lists(STEPS, min_size=8, max_size=25))
    def any_order(steps):
        bench = make_bench().make_ready()
        bench.run(2.0, ms=20)
        audited(bench)
        story = Story(bench, {"read": read_faults, "clear": clear_faults})
        for step, value in steps:
            getattr(story, step)(value)
        story.end()
        check(story)
        reached.update(entry["kind"] for entry in bench.journal.told)
        reached["adapter gone"] += story.adapter_gone
        reached.update(what_a_frame_is(data) for _, _, data in bench.sent)

    any_order()
    wanted = {ASKED, SENT, BLOCKED, "output_start", "adapter gone", "start", "release", "exchange"}
    assert not [name for name in wanted if reached[name] < 5], reached
