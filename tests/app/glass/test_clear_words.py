"""What is said before faults are cleared and after. Expectations are written out by hand.

Codes are examples of SAE J2012 / ISO 15031-6, their words invented. What a fault that returns within 2 s of
clearing with the key on means is common practice, no source.
"""

from __future__ import annotations

import pytest
from msgspec import structs
from some_faults import BOTH, COOLANT, MISFIRE, MODULES, STRANGE, SUPPLY, fault, report, rows, shapes

from app.clear_words import HOLDS_S, clear_words
from app.diagnosis import CameBack, JobState
from app.fault_words import faults_words
from app.messages import LinkState
from bus.diagnose import REPORT_HOLDS_S

P0301_LATER = (
    "P0301 after 2.6 s: slow to show, or it comes and goes. "
    "Engine off, move the loom, read again (common practice)."
)


def cleared(*now, before=(COOLANT, SUPPLY, MISFIRE), **more):
    return report(*now, kind="clear", number=2, at=998.0, before=list(before), **more)


def test_what_came_back_stands_with_its_time_and_what_that_means(seen):
    back = [CameBack("engine", "P0117", "", 0.4), CameBack("engine", "P0301", "", 2.6)]
    said = faults_words(seen(cleared(COOLANT, MISFIRE, came_back=back)))
    assert said.title == "Cleared 3. 2 came back"
    assert rows(said.lines)[:3] == [
        "P0117 after 0.4 s, key on: a hard circuit fault. Plug and wires first (common practice).",
        P0301_LATER,
        "Stored now: 2 faults, read just now.",
    ]
    assert shapes(said.lines)[:3] == ["triangle", "triangle", ""]


def test_none_back_is_no_proof(seen):
    said = faults_words(seen(cleared()))
    assert said.title == "Cleared 3, none came back"
    assert rows(said.lines) == [
        "Not back yet proves nothing. Key off and on, run it as before, read again.",
        "Stored now: none, read just now.",
    ]
    old = faults_words(seen(cleared(), since=999.0))
    assert rows(old.lines)[-1] == "Stored then: none, read just now."
    assert "Read before the craft was lost and found again." in rows(old.lines)[0]


@pytest.mark.parametrize(
    ("told", "title"),
    [
        (cleared(COOLANT, trouble="It says no."), "Cleared 2, 1 NOT cleared"),
        (cleared(COOLANT, SUPPLY, MISFIRE, trouble="It says no."), "NOT cleared"),
        (cleared(unread={"engine": "It did not answer."}), "What is stored is NOT known"),
        (
            cleared(before=(COOLANT, STRANGE), unread={"display": "It did not answer."}),
            "Cleared 1, 1 NOT known",
        ),
        (
            cleared(COOLANT, SUPPLY, came_back=[CameBack("engine", "P0117", "", 0.4)]),
            "Cleared 2, 1 NOT cleared. 1 came back",
        ),
    ],
)
def test_only_what_was_read_again_counts_as_cleared(seen, told, title):
    assert faults_words(seen(told)).title == title


def test_a_clearing_that_was_cut_short_leaves_what_was_saved_and_no_certainty(seen):
    why = dict.fromkeys(MODULES, "Not read since clearing was cut short.")
    said = faults_words(
        seen(cleared(trouble="Clearing auk 20417 was cut short. Read the faults again.", unread=why))
    )
    assert said.title == "What is stored is NOT known"
    assert rows(said.lines) == [
        "Clearing auk 20417 was cut short. Read the faults again.",
        "Engine controller was not read. Not read since clearing was cut short.",
        "Display was not read. Not read since clearing was cut short.",
        "Saved before it: P0117, P0562, P0301.",
    ]
    lost = cleared(before=(), trouble="Clearing auk 20417 was cut short.", unread=why)
    assert faults_words(seen(lost)).title == "What is stored is NOT known"


def test_a_refused_clearing_tells_every_need_and_keeps_what_was_read(seen):
    needs = ["Engine speed 900. Stop it", "Battery at 11.9 V. Charge it"]
    trouble = f"Clearing the faults of the engine controller is refused: {'; '.join(needs)}"
    said = faults_words(seen(report(COOLANT, kind="clear", number=2, trouble=trouble, needs=needs)))
    assert said.title == "Clearing was refused"
    assert rows(said.lines)[:4] == [
        "Clearing the faults of the engine controller is refused.",
        "Engine speed 900. Stop it.",
        "Battery at 11.9 V. Charge it.",
        "Before that: 1 fault, read 2 min ago.",
    ]
    assert shapes(said.lines)[:4] == ["cross", "cross", "cross", ""]
    assert said.faults


def test_a_clearing_that_did_not_happen_says_why_once(seen):
    why = "Another reading has come since. Look at it, then clear."
    told = report(COOLANT, kind="clear", number=2, trouble=f"Nothing was cleared. {why}", needs=[why])
    assert rows(faults_words(seen(told)).lines)[:2] == ["Nothing was cleared.", why]
    told = report(COOLANT, kind="clear", number=2, trouble="P0118 has set since. Read again, then clear.")
    assert faults_words(seen(told)).title == "Not cleared"


def fresh(*faults, **more):
    return report(*faults, at=980.0, **more)


def test_a_technician_is_asked_and_told_what_is_lost(seen):
    told = fresh(*BOTH, MISFIRE)
    said = clear_words(seen(told, operator="Mara"), told)
    assert (said.name, said.title, said.clears) == ("check/clear", "Clear 3 faults?", 3)
    assert rows(said.lines) == [
        "P0117, P0562, P0301.",
        "Saved first in journal and book. Then cleared, then read again.",
        "The controller forgets the values of each moment, counts, ages. Clearing mends nothing.",
        "Mara, technician, clears.",
    ]
    assert shapes(said.lines) == ["", "", "triangle", "tick"]
    assert not said.sign_in
    assert not said.read


@pytest.mark.parametrize(
    ("operator", "who"), [("", "nobody"), ("Ines", "Ines (dock)"), ("somebody else", "nobody")]
)
def test_nobody_but_a_technician_clears(seen, operator, who):
    told = fresh(COOLANT)
    said = clear_words(seen(told, operator=operator), told)
    assert (said.clears, said.sign_in) == (0, True)
    assert said.title == "Clear 1 fault? Not yet"
    assert rows(said.lines)[:2] == [f"Signed in is {who}. Sign in as technician.", "P0117."]


@pytest.mark.parametrize("other", [None, fresh(COOLANT, number=2), fresh(COOLANT, craft="auk 20418")])
def test_another_report_than_the_one_that_was_shown_is_not_cleared(seen, other):
    said = clear_words(seen(other, operator="Mara"), fresh(COOLANT))
    assert (said.name, said.clears) == ("check/clear_other", 0)
    assert rows(said.lines) == ["Nothing was cleared. Go back and look first, then clear."]


def test_a_new_bus_process_numbers_anew_and_is_another_report(seen):
    again = structs.replace(fresh(COOLANT, SUPPLY), at=999.0)
    assert clear_words(seen(again, operator="Mara"), fresh(COOLANT)).clears == 0


@pytest.mark.parametrize(
    ("at", "how", "words", "read"),
    [
        (1000 - HOLDS_S - 1, {}, "The reading is old. It was 1 min ago. Read again, then clear.", True),
        (980.0, {"since": 990.0}, "The reading is old. It was 20 s ago. Read again, then clear.", True),
        (
            980.0,
            {"state": LinkState.LOST},
            "The craft is not heard. Key on, plug in, then read again.",
            False,
        ),
    ],
)
def test_an_old_reading_is_read_again_first(seen, at, how, words, read):
    told = report(COOLANT, at=at)
    said = clear_words(seen(told, operator="Mara", **how), told)
    assert (said.clears, said.read, rows(said.lines)[0]) == (0, read, words)


def test_the_glass_calls_a_reading_old_when_the_bus_side_does():
    assert HOLDS_S == REPORT_HOLDS_S
    assert HOLDS_S == 60.0


def test_nothing_is_cleared_while_a_job_runs(seen):
    told = fresh(COOLANT)
    job = JobState("scan", "Beginning", 0, 0, 999.0)
    said = clear_words(seen(told, operator="Mara", job=job), told)
    assert said.clears == 0
    assert rows(said.lines)[0] == "The controllers are being asked. Wait for the end."


def test_only_controllers_read_to_the_end_are_cleared(seen):
    told = fresh(COOLANT, STRANGE, unread={"display": "It was cut off."})
    said = clear_words(seen(told, operator="Mara"), told)
    assert said.clears == 1
    assert rows(said.lines)[:2] == ["P0117.", "Display was not read to the end. It is not cleared."]
    told = fresh(STRANGE, unread={"display": "It was cut off."})
    said = clear_words(seen(told, operator="Mara"), told)
    assert (said.title, said.clears, said.read) == ("Nothing to clear", 0, True)
    assert clear_words(seen(fresh(), operator="Mara"), fresh()).title == "Nothing to clear"


def test_a_long_list_of_codes_goes_on_in_another_row(seen):
    many = [fault(f"P02{number:02}", "", 0x020000 + number * 256) for number in range(1, 15)]
    told = fresh(*many)
    lines = rows(clear_words(seen(told, operator="Mara"), told).lines)
    assert lines[0].count("P02") == 12
    assert lines[1] == "P0213, P0214."
