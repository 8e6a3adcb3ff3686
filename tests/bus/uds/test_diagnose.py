"""Reading: whatever a controller does, what stands in the report was read, and nothing else was sent."""

import time

import pytest

from app.output_messages import ReadFaults
from bus.asker import Times
from bus.requests import requests_of

SHORT = {service: Times(0.6, 1.8) for service in (0x22, 0x19, 0x14)}
"""So long that an answer is in time though the machine stands still for a moment."""
SNAPSHOT = bytes.fromhex("0107F40C1AF8F4057BF44237DCF41133F40B65D01000001338D011012C")
"""Record 1, seven values: coded as SAE J1979 does 0C, 05, 42, 11 and 0B, whose examples these are."""


@pytest.fixture
def bench(open_bench, craft):
    return open_bench(craft, times=SHORT)


def states(report):
    return {module.key: (module.read, module.words) for module in report.modules}


def codes(report, module="engine"):
    return [fault.code for fault in report.faults if fault.module == module]


def assert_only_what_may_be_asked(craft, auk):
    """Every frame that left is a request on the list, or flow control."""
    allowed = {(one.request, bytes([len(one.pdu)]) + one.pdu) for one in requests_of(auk.uds)}
    for ident, data in craft.sent:
        if data[0] >> 4 == 3:
            assert data == bytes([0x30]) + bytes(7)
        else:
            assert (ident, data[: 1 + data[0]]) in allowed
            assert data[1 + data[0] :] == bytes(7 - data[0])


def test_everything_is_read_in_order_and_nothing_else_is_sent(bench, craft, stored, auk):
    craft.engine.faults = {0x011700: stored(0x2F, SNAPSHOT, 3, 7), 0x562000: stored(0x08)}
    craft.display.faults = {0xC10000: stored(0x09)}
    report = bench.run(ReadFaults())
    assert (report.kind, report.number, report.craft, report.trouble) == ("scan", 1, "auk 1042", "")
    assert [(line.module, line.value, line.unit) for line in report.identity] == [
        ("engine", "AUK12345L526", ""),
        ("engine", "1042", ""),
        ("engine", "3.1.0", ""),
        ("engine", "123.4", "h"),
        *(("engine", hours, "h") for hours in ("40.0", "35.0", "30.0", "25.0", "20.0", "15.0")),
        *[("engine", "", "")] * 4,  # a band and three counters that this controller does not give
        ("engine", "812", ""),
        ("display", "77", ""),
        ("display", "2.0", ""),
    ]
    assert [line.band for line in report.identity if line.band] == [
        (0, 1500), (1500, 3000), (3000, 4500), (4500, 6000), (6000, 7000), (7000, 8000), (8000, 9000)
    ]  # fmt: skip
    assert [(line.label, line.value) for line in report.identity if line.counter][-1] == (
        "Low oil pressure",
        "812",
    )
    assert [line.label for line in report.identity if line.foreign] == ["Engine controller software"]  # 3.1.0
    assert states(report) == {"engine": (True, ""), "display": (True, "")}
    assert craft.requests() == [
        (0x7E0, "22 f1 90"),
        (0x7E0, "22 f1 8c"),
        (0x7E0, "22 f1 95"),
        (0x7E0, "22 f1 a0"),
        *((0x7E0, f"22 f1 b{band}") for band in range(7)),
        *((0x7E0, f"22 f1 c{counter}") for counter in range(4)),
        (0x7E0, "19 02 ff"),
        (0x7E0, "19 04 01 17 00 ff"),
        (0x7E0, "19 06 01 17 00 ff"),
        (0x7E1, "22 f1 8c"),
        (0x7E1, "22 f1 95"),
        (0x7E1, "19 02 ff"),
        (0x7E1, "19 04 c1 00 00 ff"),
        (0x7E1, "19 06 c1 00 00 ff"),
    ]
    assert_only_what_may_be_asked(craft, auk)


def test_a_fault_carries_what_the_controller_kept_of_its_moment(bench, craft, stored):
    craft.engine.faults = {0x011700: stored(0x2F, SNAPSHOT, 3, 7)}
    [fault] = bench.run(ReadFaults()).faults
    assert (fault.code, fault.text) == ("P0117", "Coolant temperature sensor circuit low")
    assert (fault.failed_now, fault.pending, fault.confirmed, fault.warning) == (True, True, True, False)
    assert (fault.count, fault.age, fault.hours) == (3, 7, pytest.approx(246.0))
    # Values of SAE J1979 examples: 1726 rev/min, 83 degC, 14.3 V, 20 %, 101 kPa.
    assert [(line.label, line.value, line.unit) for line in fault.snapshot] == [
        ("Engine speed", "1726", "rev/min"),
        ("Coolant", "83", "degC"),
        ("Battery", "14.3", "V"),
        ("Throttle", "20", "%"),
        ("Manifold pressure", "101", "kPa"),
        ("Engine hours", "246.0", "h"),
        ("Since key on", "300", "s"),
    ]


def test_a_value_that_the_controller_did_not_know_is_no_number(bench, craft, stored):
    craft.engine.faults = {0x011700: stored(0x2F, bytes.fromhex("0103F40CFFFFF405FFD010FFFFFFFF"))}
    craft.engine.identity[0xF1A0] = bytes.fromhex("FFFFFFFF")
    report = bench.run(ReadFaults())
    [fault] = report.faults
    assert [(line.value, line.unit) for line in fault.snapshot] == [("not known", "")] * 3
    assert fault.hours is None
    assert report.identity[3].value == ""


def test_a_code_that_the_family_does_not_know_has_no_name_and_is_asked_nothing_more(bench, craft, stored):
    craft.engine.faults = {0x123456: stored(0x08)}
    [fault] = bench.run(ReadFaults()).faults
    assert (fault.code, fault.text, fault.snapshot, fault.hours) == ("P1234-56", "", [], None)
    assert not [pdu for _, pdu in craft.requests() if pdu.startswith(("19 04", "19 06"))]


def test_a_test_that_has_not_run_is_no_fault(bench, craft, stored):
    # Asked for any status, a controller also lists codes with only bits 4 and 6 set (ISO 14229-1).
    craft.engine.faults = {0x011700: stored(0x50), 0x030100: stored(0x40), 0x020100: stored(0x10)}
    report = bench.run(ReadFaults())
    assert report.faults == []
    assert states(report)["engine"] == (True, "")


def test_bits_that_the_controller_does_not_support_count_for_nothing(bench, craft):
    answer = bytes.fromhex("590209") + bytes.fromhex("01170026") + bytes.fromhex("0201000F")
    craft.engine.script = lambda pdu: [answer] if pdu[:2] == b"\x19\x02" else None
    [fault] = bench.run(ReadFaults()).faults
    assert (fault.code, fault.status, fault.pending, fault.confirmed) == ("P0201", 0x09, False, True)


def test_many_faults_come_in_one_long_answer(bench, craft, stored, auk):
    numbers = list(auk.uds.words["engine"])
    craft.engine.faults = {number: stored(0x08, b"", 1, 0) for number in numbers}
    report = bench.run(ReadFaults())
    assert sorted(fault.number for fault in report.faults) == sorted(numbers)
    assert states(report)["engine"] == (True, "")
    assert_only_what_may_be_asked(craft, auk)


NRC = {
    "busy": (0x21, "busy"),
    "conditions": (0x22, "state it needs"),
    "out_of_range": (0x31, "does not know"),
    "locked": (0x33, "locked"),
    "running": (0x83, "engine is running"),
    "voltage": (0x93, "voltage is too low"),
    "unknown": (0xF1, "code F1"),
}


@pytest.mark.parametrize(("code", "words"), NRC.values(), ids=NRC)
def test_a_refusal_is_told_in_words_and_the_module_is_not_read(bench, craft, stored, code, words):
    craft.engine.faults = {0x011700: stored()}
    craft.engine.script = lambda pdu: [bytes([0x7F, pdu[0], code])] if pdu[0] == 0x19 else None
    craft.display.faults = {0xC10000: stored(0x09)}
    report = bench.run(ReadFaults())
    read, sentence = states(report)["engine"]
    assert not read
    assert words in sentence
    assert sentence.startswith("Engine controller ")
    assert codes(report) == []
    assert codes(report, "display") == ["U0100"]


HALF = "103F5902FF000000"
"""A first frame, as it stands; what should follow never comes."""


def flood(_pdu):
    return [b"\x7f\x19\x78"] * 2500


TROUBLES = {
    "silence": (lambda pdu: [], "did not answer"),
    "another_service": (lambda pdu: [b"\x62\xf1\x90\x31"], "not what it was asked"),
    "another_question": (lambda pdu: [b"\x59\x06\x01\x17\x00\x08"], "not what it was asked"),
    "a_list_cut_off": (lambda pdu: [b"\x59\x02\xff\x01\x17\x00"], "cut off"),
    "no_mask": (lambda pdu: [b"\x59\x02"], "cut off"),
    "a_fault_without_a_number": (lambda pdu: [b"\x59\x02\xff\x00\x00\x00\x2f"], "without a number"),
    "more_faults_than_there_can_be": (
        lambda pdu: [b"\x59\x02\xff" + b"".join(n.to_bytes(3, "big") + b"\x08" for n in range(1, 200))],
        "faults at once",
    ),
    "more_time_once_and_then_nothing": (lambda pdu: [b"\x7f\x19\x78"], "came to no end"),
    "more_time_for_ever": (
        lambda pdu: [item for _ in range(120) for item in (b"\x7f\x19\x78", 0.02)],
        "came to no end",
    ),
    "more_time_without_a_pause": (flood, "came to no end"),
    "too_late": (lambda pdu: [1.0, b"\x59\x02\xff"], "did not answer"),
    "half_an_answer": (lambda pdu: [HALF], "broke off"),
}


@pytest.mark.parametrize(("script", "words"), TROUBLES.values(), ids=TROUBLES)
def test_whatever_goes_wrong_is_one_sentence_and_the_worker_lives_on(bench, stored, auk, script, words):
    craft = bench.craft
    craft.engine.faults = {0x011700: stored()}
    craft.display.faults = {0xC10000: stored(0x09)}

    craft.engine.script = lambda pdu: script(pdu) if pdu[:2] == b"\x19\x02" else None
    report = bench.run(ReadFaults())
    read, sentence = states(report)["engine"]
    assert not read
    assert words in sentence
    assert codes(report) == []
    assert report.identity[0].value == "AUK12345L526"
    assert codes(report, "display") == ["U0100"]
    assert_only_what_may_be_asked(craft, auk)
    craft.engine.script = lambda pdu: None
    time.sleep(0.6)  # what was answered too late passes by, in nobody's exchange
    report = bench.run(ReadFaults())
    assert states(report)["engine"] == (True, "")
    assert codes(report) == ["P0117"]


def test_a_controller_that_asks_for_more_time_gets_it_and_the_person_sees_it(bench, craft, stored):
    craft.engine.faults = {0x011700: stored()}
    pending = [b"\x7f\x19\x78", 0.08] * 3
    craft.engine.script = lambda pdu: [*pending, craft.engine.answer(pdu)] if pdu[:2] == b"\x19\x02" else None
    seen = []
    bench.diagnosis.ask(ReadFaults())
    assert bench.wait(
        lambda: (job := bench.diagnosis.job) is not None and job.waiting and seen.append(job) is None
    )
    assert bench.wait(lambda: bench.diagnosis.job is None)
    assert "more time" in seen[0].words
    assert codes(bench.diagnosis.report) == ["P0117"]


def test_a_module_that_is_not_there_costs_two_questions_and_is_not_read(bench, craft):
    craft.display.script = lambda pdu: []
    report = bench.run(ReadFaults())
    assert not states(report)["display"][0]
    assert [pdu for ident, pdu in craft.requests() if ident == 0x7E1] == ["22 f1 8c", "19 02 ff"]


def test_a_snapshot_that_is_nonsense_is_left_out_and_said(bench, craft, stored):
    craft.engine.faults = {0x011700: stored(0x2F, bytes.fromhex("0102F40C1A")), 0x030100: stored()}
    report = bench.run(ReadFaults())
    assert codes(report) == ["P0117", "P0301"]
    read, sentence = states(report)["engine"]
    assert not read
    assert "cut off" in sentence
    assert "not all that it kept" in sentence


def test_what_was_read_before_the_engine_ran_up_stays(bench, craft, stored):
    craft.engine.faults = {0x011700: stored()}
    craft.display.faults = {0xC10000: stored(0x09)}

    def under_way(pdu):
        if pdu[:2] == b"\x22\xf1":
            craft.speed = 3000.0

    craft.display.script = under_way
    report = bench.run(ReadFaults())
    assert codes(report) == ["P0117"]
    assert states(report)["engine"][0]
    assert not states(report)["display"][0]
    assert "Under way, 3000 rev/min" in report.trouble
    assert report.needs == ["Under way, 3000 rev/min. Let the engine idle"]


def test_an_adapter_that_goes_away_in_the_middle_ends_the_reading(bench, craft, stored):
    craft.engine.faults = {0x011700: stored()}

    def pull(pdu):
        craft.gone = True
        return []

    craft.display.script = pull
    report = bench.run(ReadFaults())
    assert codes(report) == ["P0117"]
    assert not states(report)["display"][0]
    assert report.trouble
    assert report.needs
    craft.gone = False
    craft.display.script = lambda pdu: None
    assert bench.wait(lambda: bench.run(ReadFaults()).trouble == "")


def test_a_second_touch_while_it_reads_is_dropped(bench, craft):
    bench.diagnosis.ask(ReadFaults())
    bench.diagnosis.ask(ReadFaults())
    assert bench.wait(lambda: bench.diagnosis.report is not None and bench.diagnosis.job is None)
    asked = len(craft.requests())
    assert bench.run(ReadFaults()).number == 2
    assert len(craft.requests()) == 2 * asked


def test_progress_rises_and_never_claims_to_be_over(bench, craft, stored):
    craft.engine.faults = {0x011700: stored(0x2F, SNAPSHOT, 3, 7)}
    seen = []
    bench.diagnosis.ask(ReadFaults())
    while bench.diagnosis.report is None:
        if (job := bench.diagnosis.job) is not None and (not seen or seen[-1] != job):
            seen.append(job)
    assert all(job.done < job.steps for job in seen if job.steps)
    assert [job.done for job in seen] == sorted(job.done for job in seen)


def test_a_fault_of_our_own_is_told_and_the_worker_lives_on(bench, craft, monkeypatch, capsys):
    with monkeypatch.context() as patch:
        patch.setattr("bus.scan_job.Reader.whole", lambda self: 1 / 0)
        report = bench.run(ReadFaults())
    assert "The tool itself failed" in report.trouble
    assert "ZeroDivisionError" in capsys.readouterr().err
    assert bench.run(ReadFaults()).trouble == ""


@pytest.mark.parametrize("answers", [True, False])
def test_outputs_are_unlocked_only_after_their_controller_was_read_to_the_end(
    bench, craft, monkeypatch, answers
):
    unlocked = []
    monkeypatch.setattr(bench.gate, "unlock_outputs", lambda: unlocked.append(True))
    if not answers:
        craft.engine.script = lambda pdu: [] if pdu[0] == 0x19 else None
    craft.display.script = lambda pdu: []
    bench.run(ReadFaults())
    assert bool(unlocked) == answers


def test_outputs_that_were_locked_while_it_read_stay_locked(bench, craft, monkeypatch):
    unlocked = []
    monkeypatch.setattr(bench.gate, "unlock_outputs", lambda: unlocked.append(True))

    def lock(pdu):
        bench.actuation.locked = "Injector 1 was not confirmed stopped"

    craft.display.script = lock
    bench.run(ReadFaults())
    assert unlocked == []
