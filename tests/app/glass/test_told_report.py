"""An engine that tells its faults by itself and can be asked and cleared too (SAE J1939)."""

from __future__ import annotations

import pytest
from msgspec import structs

from app.clear_words import back_lines
from app.diagnosis import CameBack, Fault, HeardFault, HeardFaults, ModuleState, Report
from app.fault_words import fault_words, faults_words
from app.faults import NO_STATUS
from app.identity_words import identity_words
from app.j1939_words import trouble_code
from app.quick_faults import faults_seen
from app.quick_row import State, Verdict

HOT = HeardFault(110, 0, 2, active=True)
LOW = HeardFault(168, 4, None, active=True)


def stored(spn, fmi, text, *, active, times=None):
    flags = {"failed_now": active, "pending": False, "confirmed": False, "warning": False}
    return Fault(
        "engine", spn << 5 | fmi, f"SPN\u00a0{spn} FMI\u00a0{fmi}", text, NO_STATUS, count=times, **flags
    )


WAS_HOT = stored(110, 0, "Coolant temperature: above normal, most severe", active=True, times=2)
NAMELESS = stored(500_248, 7, "", active=False)


@pytest.fixture
def of(make):
    """A moment of such a craft: what it tells now, what lights, what was read."""

    def moment(heard=(), lamps=(), read=None):
        made = make.view()
        catalogue = structs.replace(made.catalogue, modules=["Engine controller"], tells=True)
        at = make.now - 0.5
        snapshot = structs.replace(made.snapshot, heard=[HeardFaults(0, at, at, list(lamps), list(heard))])
        report = None
        if read is not None:
            module = ModuleState("engine", "Engine controller", read=True)
            craft = f"{snapshot.craft.family} {snapshot.craft.serial}"
            report = Report(1, "scan", make.now - 20.0, 1.9e9, craft, [], [module], list(read))
            snapshot = structs.replace(snapshot, report=1)
        return make.moment(structs.replace(made, snapshot=snapshot, catalogue=catalogue, report=report))

    return moment


def rows(moment):
    return [
        f"{line.strong} {line.plain}".strip().replace("\u00a0", " ") for line in faults_words(moment).lines
    ]


def test_what_it_tells_stands_there_before_anybody_asks_and_can_be_read(of):
    said = faults_words(of([HOT], ["red stop"]))
    assert (said.title, said.name, said.read) == ("1 fault active", "check/faults_heard", "Read faults")
    assert "What is mended it tells no more; to clear them, read them first." in " ".join(rows(of([HOT])))


def test_what_was_read_stands_there_with_the_lamps_of_now(of):
    said = faults_words(of([HOT], ["red stop"], [WAS_HOT, NAMELESS]))
    assert (said.faults, said.read) == (True, "Read again")
    assert said.title.startswith("2 faults")
    assert "Engine lights: red stop. Stop the engine." in rows(of([HOT], ["red stop"], [WAS_HOT]))
    assert "SPN 500248 FMI 7 Engine controller: no words for it here, stored" in rows(of([], [], [NAMELESS]))


def test_what_became_active_since_is_said_and_what_was_read_as_active_is_not(of):
    since = "Active since it was read: SPN 168 FMI 4. Read again."
    assert since in rows(of([HOT, LOW], [], [WAS_HOT]))
    assert not any("Active since" in row for row in rows(of([HOT], [], [WAS_HOT])))
    earlier = structs.replace(WAS_HOT, failed_now=False)
    assert "Active since it was read: SPN 110 FMI 0. Read again." in rows(of([HOT], [], [earlier]))


def test_one_fault_has_no_status_byte_and_no_number_of_another_standard(of):
    moment = of([HOT], [], [WAS_HOT])
    title, lines = fault_words(moment, moment.report, [WAS_HOT], 0)
    said = " ".join(f"{line.strong} {line.plain}" for line in lines)
    assert title.replace("\u00a0", " ") == "Fault: SPN 110 FMI 0"
    assert "Status" not in said
    assert "number" not in said
    assert "Engine controller." in said


def test_serial_and_hours_stand_on_the_identity_page_before_and_after_reading(of):
    for moment in (of([HOT]), of([HOT], [], [WAS_HOT])):
        _, lines = identity_words(moment)
        said = [line.strong for line in lines]
        assert any(row.startswith("Serial: 20417") for row in said)
        assert any(row.startswith("Hours: ") for row in said)


@pytest.mark.parametrize(
    ("lamps", "verdict"),
    [((), Verdict.LOOK), (("amber warning",), Verdict.LOOK), (("red stop",), Verdict.ASHORE)],
)
def test_the_check_before_hire_goes_by_what_was_read_and_by_the_lamps_of_now(of, lamps, verdict):
    seen = faults_seen(of([HOT], lamps, [WAS_HOT]), 0.0)
    assert [one.state for one in seen] == [State.STORED] * (2 if lamps else 1)
    assert {one.verdict for one in seen} == {Verdict.LOOK, verdict}


def test_a_lamp_without_a_code_is_not_fit(of):
    seen = faults_seen(of([], ["red stop"], []), 0.0)
    assert Verdict.ASHORE in {one.verdict for one in seen}


@pytest.mark.parametrize(
    ("spn", "fmi", "after_s", "words"),
    [
        (110, 0, 1.1, "it is still so"),
        (100, 18, 1.1, "it is still so"),
        (110, 3, 1.1, "a hard circuit fault"),
        (110, 0, 9.0, "slow to show"),
    ],
)
def test_what_comes_back_at_once_is_a_circuit_only_where_its_code_says_so(spn, fmi, after_s, words):
    """FMI 0, 1 and 15 to 18 are of the quantity, 3 to 6 of the circuit: standards.md 5.4."""
    [line] = back_lines([CameBack("engine", trouble_code(spn, fmi), "", after_s)])
    assert words in line.strong
