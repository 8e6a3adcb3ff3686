"""Clearing: saved first, cleared, read again; where it breaks, nothing is called cleared."""

import json
import time

import msgspec
import pytest

from app.output_messages import ClearFaults, ReadFaults
from bus.asker import Times
from bus.clear_job import END, INTENT, cut_short, recovered
from bus.journal import Journal, read_lines

SHORT = {service: Times(0.6, 1.8) for service in (0x22, 0x19, 0x14)}
CLEAR = "14 ff ff ff"


@pytest.fixture
def bench(open_bench, craft, stored):
    """A technician is signed in; the engine holds two faults, the display none."""
    craft.engine.faults = {0x011700: stored(0x2F, b"", 3, 7), 0x030100: stored(0x08)}
    made = open_bench(craft, times=SHORT)
    made.sign_in()
    return made


@pytest.fixture
def clear(bench):
    """Read, then clear what was read."""

    def go(**changes):
        report = bench.run(ReadFaults())
        bench.craft.sent.clear()
        request = ClearFaults(report.number, time.monotonic())
        return bench.run(msgspec.structs.replace(request, **changes))

    return go


def kept(bench, kind):
    path = bench.journal._path
    return [entry["body"] for _, entry in read_lines(path) if entry is not None and entry["kind"] == kind]


def ended(bench):
    """How the first clear ended; it is written down without anybody waiting for it."""
    assert bench.wait(lambda: kept(bench, END))
    return kept(bench, END)[0]


def asked_to_clear(craft):
    return [ident for ident, pdu in craft.requests() if pdu == CLEAR]


def codes(faults):
    return sorted(fault.code for fault in faults)


def test_faults_are_saved_cleared_and_read_again(bench, craft, clear):
    report = clear()
    assert (report.kind, report.trouble, report.needs) == ("clear", "", [])
    assert codes(report.before) == ["P0117", "P0301"]
    assert report.faults == report.came_back == []
    assert all(module.read for module in report.modules)
    assert report.identity[0].value == "AUK12345L526"
    pdus = [pdu for _, pdu in craft.requests()]
    assert pdus[:2] == ["19 02 ff", CLEAR]
    assert pdus[2:] == ["19 02 ff"] * 3  # at once, and both modules in the end
    [saved] = kept(bench, INTENT)
    assert [fault["code"] for fault in saved["faults"]] == ["P0117", "P0301"]
    assert saved["faults"][0]["count"] == 3
    assert (saved["craft"], saved["operator"]) == ("auk 1042", "Ann Example")
    end = ended(bench)
    assert (end["cleared"], end["unsure"], end["known"]) == (["engine"], [], True)


def test_the_faults_are_on_the_disk_before_the_request_leaves(bench, craft, clear):
    on_disk = []

    def look(pdu):
        if pdu[0] == 0x14:
            on_disk.extend(kept(bench, INTENT))

    craft.engine.script = look
    clear()
    assert codes_of(on_disk) == [["P0117", "P0301"]]


def codes_of(entries):
    return [sorted(fault["code"] for fault in body["faults"]) for body in entries]


def test_what_cannot_be_saved_is_not_cleared(bench, craft, clear, monkeypatch):
    report = bench.run(ReadFaults())
    monkeypatch.setattr(Journal, "_to_disk", lambda self, block: "The journal cannot be written: full.")
    craft.sent.clear()
    report = bench.run(ClearFaults(report.number, time.monotonic()))
    assert "could not be saved, so nothing was cleared" in report.trouble
    assert codes(report.faults) == ["P0117", "P0301"]
    assert asked_to_clear(craft) == []
    assert set(craft.engine.faults) == {0x011700, 0x030100}


def test_what_fails_all_the_time_comes_back_with_its_seconds(bench, craft, clear, stored):
    craft.engine.after_clear = {0x011700: stored(0x2F)}
    report = clear()
    assert [(back.code, back.text) for back in report.came_back] == [
        ("P0117", "Coolant temperature sensor circuit low")
    ]
    assert 0 <= report.came_back[0].after_s < 2
    assert codes(report.faults) == ["P0117"]
    assert report.trouble == ""


def test_what_sets_again_a_moment_later_comes_back_too(open_bench, craft, stored):
    craft.engine.faults = {0x011700: stored()}
    bench = open_bench(craft, times=SHORT, settle_s=0.3)
    bench.sign_in()
    report = bench.run(ReadFaults())
    reads = []

    def later(pdu):
        if pdu[:2] == b"\x19\x02":
            reads.append(pdu)
            if len(reads) == 3:  # the check before, the one at once after, the last
                craft.engine.faults = {0x011700: stored(0x09)}

    craft.engine.script = later
    report = bench.run(ClearFaults(report.number, time.monotonic()))
    [back] = report.came_back
    assert 0.2 <= back.after_s < 5


def test_a_later_reading_says_what_is_there_again_since_clearing(bench, craft, clear, stored):
    assert clear().came_back == []
    craft.engine.faults = {0x011700: stored(), 0x056200: stored()}
    report = bench.run(ReadFaults())
    assert [back.code for back in report.came_back] == ["P0117"], "P0562 was not among those cleared"
    assert report.came_back[0].after_s > 0
    craft.engine.faults = {}
    assert bench.run(ReadFaults()).came_back == []


def test_after_a_clear_a_test_that_has_yet_to_run_is_no_fault(bench, craft, clear, stored):
    craft.engine.after_clear = {0x011700: stored(0x50), 0x030100: stored(0x50)}
    report = clear()
    assert report.faults == report.came_back == []


def test_another_fault_after_the_clear_is_a_fault_but_did_not_come_back(bench, craft, clear, stored):
    craft.engine.after_clear = {0x056200: stored()}
    report = clear()
    assert codes(report.faults) == ["P0562"]
    assert report.came_back == []


def test_only_a_module_that_holds_faults_is_cleared(bench, craft, clear):
    clear()
    assert asked_to_clear(craft) == [0x7E0]


def test_with_nobody_signed_in_nothing_is_cleared_and_the_need_is_told(open_bench, craft, stored):
    craft.engine.faults = {0x011700: stored()}
    bench = open_bench(craft, times=SHORT, patience_s=0.1)
    report = bench.run(ReadFaults())
    report = bench.run(ClearFaults(report.number, time.monotonic()))
    assert any("technician" in need for need in report.needs)
    assert codes(report.faults) == ["P0117"]
    assert asked_to_clear(craft) == []
    assert ended(bench)["known"] is True


@pytest.mark.parametrize("shift", [30.0, -61.0])
def test_a_touch_from_another_time_clears_nothing(craft, clear, shift):
    report = clear(at=time.monotonic() + shift)
    assert "more than 60 s ago" in report.trouble
    assert craft.requests() == []


def test_a_report_that_is_too_old_clears_nothing(bench, craft, monkeypatch):
    report = bench.run(ReadFaults())
    monkeypatch.setattr("bus.diagnose.REPORT_HOLDS_S", 0.0)
    craft.sent.clear()
    assert "ago" in bench.run(ClearFaults(report.number, time.monotonic())).trouble
    assert craft.requests() == []


def test_only_the_newest_report_can_be_cleared(bench, craft):
    first = bench.run(ReadFaults())
    bench.run(ReadFaults())
    craft.sent.clear()
    report = bench.run(ClearFaults(first.number, time.monotonic()))
    assert "Another reading has come since" in report.trouble
    assert craft.requests() == []


def test_nothing_is_cleared_before_anything_was_read(bench, craft):
    report = bench.run(ClearFaults(0, time.monotonic()))
    assert "Read the faults first" in report.trouble
    assert craft.requests() == []


def test_a_fault_that_nobody_has_seen_is_not_cleared(bench, craft, clear, stored):
    report = bench.run(ReadFaults())
    craft.engine.faults[0x056200] = stored()
    report = bench.run(ClearFaults(report.number, time.monotonic()))
    assert "P0562 has set since" in report.trouble
    assert asked_to_clear(craft) == []
    assert kept(bench, INTENT) == []


def test_with_nothing_stored_nothing_is_sent(bench, craft, clear):
    craft.engine.faults = {}
    report = clear()
    assert "nothing to clear" in report.trouble
    assert craft.requests() == []


def test_a_module_that_was_not_read_to_the_end_is_not_cleared(bench, craft, clear, stored):
    craft.engine.faults = {0x011700: stored(0x2F, b"\x01\x01\xf4")}  # a snapshot cut off
    report = clear()
    assert "was not read to the end, so it was not cleared" in report.trouble
    assert asked_to_clear(craft) == []


def test_a_controller_that_refuses_is_not_called_cleared(bench, craft, clear):
    craft.engine.clears = False
    report = clear()
    assert "The craft is not in the state it needs" in report.trouble
    assert "Nothing of it was cleared" in report.trouble
    assert codes(report.faults) == ["P0117", "P0301"]
    assert report.came_back == []
    assert ended(bench)["cleared"] == []


def test_an_acknowledgement_that_does_not_come_is_settled_by_reading_again(bench, craft, clear):
    def silent(pdu):
        if pdu[0] == 0x14:
            craft.engine.answer(pdu)  # it clears, and does not say so
            return []
        return None

    craft.engine.script = silent
    report = clear()
    assert "did not confirm that it has cleared" in report.trouble
    assert "was read again: what it holds now is shown" in report.trouble
    assert report.faults == []
    assert ended(bench) == {
        "craft": "auk 1042",
        "cleared": [],
        "unsure": ["engine"],
        "known": True,
    }


def test_a_link_that_breaks_half_way_leaves_it_unknown_until_it_is_read_again(bench, craft, clear):
    def break_off(pdu):
        if pdu[0] == 0x14:
            craft.engine.answer(pdu)
            craft.engine.script = lambda _: []
            return []
        return None

    craft.engine.script = break_off
    report = clear()
    assert "what it holds now is not known. Read again." in report.trouble
    assert not {module.key: module.read for module in report.modules}["engine"]
    assert report.faults == []
    assert codes(report.before) == ["P0117", "P0301"]
    assert set(cut_short(bench.journal.told)) == {"auk 1042"}
    craft.engine.script = lambda pdu: None
    assert bench.run(ReadFaults()).trouble == ""
    assert cut_short(bench.journal.told) == {}


def test_after_a_restart_an_interrupted_clear_is_told_before_anything_else(
    open_bench, tmp_path, stored, craft
):
    path = tmp_path / "before.jsonl"
    craft.engine.faults = {0x011700: stored(0x2F)}
    first = open_bench(craft, times=SHORT, journal=path)
    first.sign_in()
    report = first.run(ReadFaults())

    def power_cut(pdu):
        if pdu[0] == 0x14:
            first.diagnosis._ending.set()
            first.gate.stop()
            return []
        return None

    craft.engine.script = power_cut
    first.diagnosis.ask(ClearFaults(report.number, time.monotonic()))
    assert first.wait(lambda: not first.gate._thread.is_alive())
    # The journal as it stands at this moment is all that is left.
    lines = [line for line in path.read_bytes().splitlines(keepends=True) if json.loads(line)["kind"] != END]
    after = tmp_path / "after.jsonl"
    after.write_bytes(b"".join(lines))
    craft.engine.script = lambda pdu: None
    second = open_bench(craft, times=SHORT, journal=after)
    second.diagnosis.look()
    told = second.diagnosis.report
    assert told.kind == "clear"
    assert "was cut short" in told.trouble
    assert codes(told.before) == ["P0117"]
    assert told.faults == []
    assert {module.key for module in told.modules if not module.read} == {"engine", "display"}
    assert second.run(ReadFaults()).trouble == ""
    assert cut_short(second.journal.told) == {}


def test_a_clear_of_another_craft_is_not_told_of_this_one(bench):
    bench.diagnosis._cut_short = {"auk 9": {"faults": []}}
    bench.diagnosis.look()
    assert bench.diagnosis.report is None


def test_a_fault_of_our_own_in_the_middle_of_clearing_leaves_it_unknown(
    bench, craft, clear, monkeypatch, capsys
):
    monkeypatch.setattr("bus.clear_job.ClearJob._at_once", lambda self, modules: 1 / 0)
    report = clear()
    assert "The tool itself failed" in report.trouble
    assert "not known" in report.trouble
    assert report.faults == []
    assert codes(report.before) == ["P0117", "P0301"]
    assert not any(module.read for module in report.modules)
    capsys.readouterr()


def test_a_damaged_intent_still_says_that_it_was_cut_short():
    found = recovered("auk 1", {"faults": [{"code": 3}], "labels": "?"})
    assert "auk 1 was cut short" in found.trouble
    assert found.faults == []


def test_a_running_engine_keeps_its_faults(open_bench, craft, stored):
    craft.engine.faults = {0x011700: stored()}
    craft.speed = 800.0
    bench = open_bench(craft, times=SHORT, patience_s=0.1)
    bench.sign_in()
    report = bench.run(ReadFaults())
    assert codes(report.faults) == ["P0117"]  # at idle it may be read
    report = bench.run(ClearFaults(report.number, time.monotonic()))
    assert any("Engine is turning" in need for need in report.needs)
    assert asked_to_clear(craft) == []


def test_a_weak_battery_keeps_the_faults(open_bench, craft, stored):
    craft.engine.faults = {0x011700: stored()}
    craft.battery = 12.1
    bench = open_bench(craft, times=SHORT, patience_s=0.1)
    bench.sign_in()
    report = bench.run(ReadFaults())
    report = bench.run(ClearFaults(report.number, time.monotonic()))
    assert any("Battery 12.1 V" in need for need in report.needs)
    assert asked_to_clear(craft) == []
