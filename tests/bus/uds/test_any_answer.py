"""Whatever bytes come: no fault is invented, nothing is sent that was not asked for, the worker lives on."""

import contextlib
import time

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.diagnosis import ModuleState
from app.errors import ControllerError, ControllerNonsense
from app.output_messages import ReadFaults
from bus.asker import Asker, Times
from bus.diagnose import Diagnosis, Served
from bus.exchange import Exchange
from bus.requests import echo, requests_of
from bus.scan_job import Reader
from bus.uds_answers import identity_value, kept, records, stored
from bus.uds_form import Extended

BRIEF = {service: Times(0.004, 0.012) for service in (0x22, 0x19, 0x14)}


class Door:
    """Stands for the gate: a real exchange decides what leaves; the frames of ``answers`` come back."""

    def __init__(self, answers):
        self.answers = iter(answers)
        self.sent = []

    def admit(self, request, intent=None, why=""):
        return Exchange(request)

    def transmit(self, exchange, ident, data):
        if exchange.let_out(ident, data):
            self.sent.append((ident, data))
            for frame in next(self.answers, ()):
                exchange.hear(frame)

    def finish(self, exchange):
        exchange.close()

    def unlock_outputs(self):
        pass


FRAME = st.binary(max_size=8)
# Frames that look right do more harm than noise: refusals, lists, long answers.
LIKELY = st.one_of(
    st.binary(max_size=5).map(lambda rest: bytes([len(rest) + 1, 0x59]) + rest),
    st.binary(max_size=4).map(lambda rest: bytes([len(rest) + 2, 0x59, 0x02]) + rest),
    st.binary(max_size=4).map(lambda rest: bytes([len(rest) + 3, 0x62, 0xF1, 0x90]) + rest),
    st.binary(min_size=2, max_size=2).map(lambda rest: b"\x03\x7f" + rest),
    st.just(bytes.fromhex("037F1978")),
    st.binary(min_size=6, max_size=6).map(lambda rest: b"\x10\x0b" + rest),
    st.just(bytes.fromhex("100B5902FF011700")),
    st.binary(min_size=7, max_size=7).map(lambda rest: b"\x21" + rest),
)
BUS = st.lists(st.lists(st.one_of(FRAME, LIKELY), max_size=4), max_size=12)


class Nobody:
    def expect(self, steps):
        pass

    def step(self, words):
        pass


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(answers=BUS)
def test_any_frames_end_in_an_answer_that_fits_or_in_a_sentence(auk, answers):
    door = Door(answers)
    asker = Asker(door, lambda words: None, lambda seconds: False, times=BRIEF)
    for request in sorted(requests_of(auk.uds), key=lambda one: one.pdu)[:3]:
        module = auk.uds.modules[request.request - 0x7E0]
        before = len(door.sent)
        answer, words = b"", ""
        try:
            answer = asker(module, request)
        except ControllerError as error:
            words = str(error)
        assert words.startswith(module.label) if words else answer.startswith(echo(request.pdu))
        ident, data = door.sent[before]
        assert (ident, data) == (request.request, bytes([len(request.pdu)]) + request.pdu.ljust(7, b"\0"))
        assert all(frame == bytes([0x30, *bytes(7)]) for _, frame in door.sent[before + 1 :])


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(answers=BUS)
def test_the_worker_lives_on_and_says_of_every_module_whether_it_was_read(auk, answers, tmp_path_factory):
    door = Door(answers)
    diagnosis = Diagnosis(door, Silent(), times=BRIEF)
    diagnosis.serve(Served("auk", auk.uds, lambda: "auk 1", lambda: ""))
    diagnosis.start()
    try:
        for number in (1, 2):
            diagnosis.ask(ReadFaults())
            while diagnosis._taken:
                assert diagnosis._thread.is_alive()
                time.sleep(0.001)
            report = diagnosis.report
            assert report.number == number
            assert "tool itself" not in report.trouble
            assert [module.key for module in report.modules] == ["engine", "display"]
            for module in report.modules:
                assert isinstance(module, ModuleState)
                assert module.read == (module.words == "")
    finally:
        diagnosis.stop()
    assert not diagnosis._thread.is_alive()


class Silent:
    told = ()

    def put(self, kind, /, **body):
        raise AssertionError("a reading writes nothing down")


@settings(max_examples=300, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(lists=st.lists(st.binary(max_size=30), min_size=2, max_size=2), detail=st.binary(max_size=40))
def test_every_fault_in_a_report_stood_in_the_controllers_own_list(auk, lists, detail):
    """The answers repeat what was asked, as the link sees to; everything behind that is any bytes."""

    def ask(module, request, intent=None):
        if request.pdu == b"\x19\x02\xff":
            return b"\x59\x02" + lists[module.request - 0x7E0]
        return echo(request.pdu) + detail

    found = Reader(auk.uds, ask, Nobody()).whole()
    for fault in found.faults:
        listed = lists[0 if fault.module == "engine" else 1]
        entries = [listed[start : start + 4] for start in range(1, len(listed), 4)]
        mine = [entry for entry in entries if entry[:3] == fault.number.to_bytes(3, "big")]
        assert mine
        assert fault.status & ~listed[0] == 0
        assert fault.status & 0xAF
        assert fault.text in ("", *auk.uds.words[fault.module].values())
    read = {module.key for module in found.modules if module.read}
    for key, listed in zip(("engine", "display"), lists, strict=True):
        if key in read:
            assert (len(listed) - 1) % 4 == 0


@given(st.binary(max_size=60))
def test_any_bytes_are_parsed_or_called_nonsense(auk_items, answer):
    item, items = auk_items
    for parse in (
        stored,
        lambda data: kept(data, items),
        lambda data: records(data, Extended(count=1, age=2)),
        lambda data: identity_value(data, item),
    ):
        with contextlib.suppress(ControllerNonsense):
            parse(answer)


@pytest.fixture(scope="module")
def auk_items(auk):
    return auk.uds.identity[0], auk.uds.snapshot
