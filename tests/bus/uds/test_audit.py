"""What a reading and a clearing leave in the journal: a line for each request, as the wire saw it."""

import time
from collections import Counter

import pytest

from app.nrc import REFUSALS
from app.output_messages import ClearFaults, ReadFaults
from bus.asker import Times
from bus.exchange import Exchange
from bus.requests import faults_request, requests_of

PARTS = ("craft", "operator", "why", "to", "result")


@pytest.fixture
def audited(bench, auk):
    """A bench whose gate keeps its account in the journal."""
    bench.gate.audit.keep_in(bench.journal)
    bench.gate.serve_craft(bench.actuation, requests_of(auk.uds), lambda: bench.table.serial)
    bench.sign_in()
    return bench


def of(bench, kind, count=None):
    """Bodies of this kind on the disk, once there are so many."""

    def bodies():
        return [entry["body"] for entry in bench.journal.entries if entry["kind"] == kind]

    assert count is None or bench.wait(lambda: len(bodies()) >= count), bodies()
    return bodies()


def settled(bench):
    """The gate has closed the last exchange, and everything that was told has got to the disk."""
    assert bench.wait(lambda: bench.gate._exchange is None)
    assert bench.wait(lambda: len(bench.journal.entries) == len(bench.journal.told))


def asked_on_the_wire(craft):
    return [(f"{ident:X}", data[1 : 1 + data[0]].hex()) for ident, data in craft.sent if data[0] >> 4 == 0]


def test_each_request_of_a_reading_is_one_line_in_the_order_of_the_wire(audited, craft, stored):
    craft.engine.faults = {0x011700: stored(0x2F, bytes.fromhex("01"), 1, 2)}
    before = len(audited.journal.told)
    audited.run(ReadFaults())
    settled(audited)
    lines = of(audited, "asked")
    assert [(line["to"], line["request"]) for line in lines] == asked_on_the_wire(craft)
    assert sum(line["frames"] for line in lines) == len(craft.sent)
    assert len(audited.journal.told) - before == len(lines), "no more than one line a request"
    first = lines[0]
    assert {name: first[name] for name in PARTS} == {
        "craft": "auk 1042",
        "operator": "Ann Example",
        "why": "scan",
        "to": "7E0",
        "result": "answered",
    }
    assert first["asked"].startswith("Reading ")
    assert {line["result"] for line in lines} <= {"answered", "refused"}
    assert of(audited, "blocked") == []


def test_the_size_of_an_answer_and_the_flow_control_it_took_are_told(audited, craft):
    craft.engine.identity[0xF190] = bytes(range(40))
    audited.run(ReadFaults())
    settled(audited)
    [line] = [line for line in of(audited, "asked") if line["request"] == "22f190" and line["to"] == "7E0"]
    assert (line["bytes"], line["frames"], line["result"]) == (43, 2, "answered")


def test_a_refusal_is_told_with_its_code_and_the_name_the_standard_gives_it(audited, craft):
    craft.engine.script = lambda pdu: [bytes([0x7F, pdu[0], 0x22])]
    audited.run(ReadFaults())
    settled(audited)
    lines = [line for line in of(audited, "asked") if line["to"] == "7E0"]
    assert {(line["result"], line["code"], line["name"]) for line in lines} == {
        ("refused", "22", REFUSALS[0x22].name)
    }


@pytest.mark.parametrize(("script", "result"), [([], "no answer"), (["02 59 03 00 00 00 00 00"], "no sense")])
def test_silence_is_told_with_the_sentence_a_person_read(open_bench, auk, craft, script, result):
    brief = {service: Times(0.05, 0.2) for service in (0x22, 0x19, 0x14)}
    bench = open_bench(craft, times=brief)
    bench.gate.audit.keep_in(bench.journal)
    craft.display.script = lambda pdu: script
    report = bench.run(ReadFaults())
    settled(bench)
    line = [line for line in of(bench, "asked") if line["to"] == "7E1"][-1]
    [words] = [module.words for module in report.modules if module.key == "display"]
    assert line["frames"] == 1
    assert (line["result"], line["words"]) == (result, words)


def test_clearing_says_so_and_its_intent_stands_before_it(audited, craft, stored):
    craft.engine.faults = {0x011700: stored(0x2F)}
    report = audited.run(ReadFaults())
    settled(audited)
    before = len(audited.journal.told)
    audited.run(ClearFaults(report.number, time.monotonic()))
    settled(audited)
    told = audited.journal.entries[before:]
    kinds = Counter(entry["kind"] for entry in told)
    assert kinds["clear_intent"] == kinds["clear_end"] == 1
    place = [entry["kind"] for entry in told].index("clear_intent")
    [cleared] = [entry for entry in told if entry["body"].get("request") == "14ffffff"]
    assert told.index(cleared) > place
    assert {entry["body"]["why"] for entry in told if entry["kind"] == "asked"} == {"clear"}


def test_a_reading_that_is_to_unlock_the_outputs_says_so(audited, craft):
    audited.journal.put("locked", craft="auk 1042", words="Horn was not confirmed stopped")
    assert audited.wait(lambda: audited.actuation.locked != "")
    audited.run(ReadFaults())
    settled(audited)
    assert {line["why"] for line in of(audited, "asked")} == {"unlock"}


def test_an_exchange_that_the_gate_cuts_off_tells_what_was_missing(audited, craft):
    asked = []

    def goes_wrong(pdu):
        asked.append(pdu)
        craft.speed = 5000.0
        return [0.2, (b"\x62" + pdu[1:3] + bytes(40))]

    craft.engine.script = goes_wrong
    audited.run(ReadFaults())
    settled(audited)
    [line] = [line for line in of(audited, "asked") if line["result"] == "broken off"]
    assert line["frames"] == 1
    assert line["words"]
    [blocked] = of(audited, "blocked")
    assert (blocked["to"], blocked["why"]) == ("7E0", line["words"])
    assert blocked["frame"].startswith("30")  # the flow control that came too late
    assert len(craft.sent) == sum(line["frames"] for line in of(audited, "asked"))


def test_an_adapter_that_goes_breaks_the_exchange_off_in_the_journal_too(audited, craft):
    def goes(pdu):
        craft.gone = True
        return []

    craft.engine.script = goes
    audited.run(ReadFaults())
    assert of(audited, "asked", 1)[0]["result"] == "broken off"
    assert of(audited, "asked")[0]["words"] == "The adapter or the craft went away."


def test_frames_handed_in_for_an_exchange_that_is_over_are_told_a_few_a_second(audited, auk, craft):
    module = auk.uds.modules[0]
    stray = Exchange(faults_request(auk.uds, module))
    for _ in range(50):
        audited.gate.transmit(stray, 0x7E0, bytes(8))
    assert audited.wait(lambda: audited.gate.audit._untold == 0 and len(of(audited, "blocked")) >= 4)
    lines = of(audited, "blocked")
    assert len(lines) <= 8
    assert sum("frame" in line for line in lines) + sum(line["more"] for line in lines) == 50
    assert craft.sent == []
