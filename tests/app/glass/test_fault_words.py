"""What is said about faults that were read. Expectations are written out by hand.

Codes are examples of SAE J2012 / ISO 15031-6 (P0117, P0301, P0562, U0073 with failure type 04), their words
invented; bits of the status byte are those of ISO 14229-1. What several faults of one moment point to is
common practice, no source.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec import structs
from some_faults import BOTH, COOLANT, MISFIRE, MODULES, STRANGE, report, rows, shapes

from app.diagnosis import CameBack, Fault, JobState, ModuleState, Report, SnapshotLine
from app.fault_rows import age_words
from app.fault_words import fault_words, faults_words, in_rows
from app.messages import Craft, LinkState

NOT_HEARD = [
    {"state": LinkState.LOST},
    {"state": LinkState.SILENT},
    {"connected": False},
    {"age": 3.0},
]


def test_before_anything_is_read_it_says_so_and_what_to_do(seen):
    said = faults_words(seen())
    assert said.title == "Faults: not read yet"
    assert rows(said.lines) == [
        "Touch “Read faults”. It asks: Engine controller, Display.",
        "Key on, plug in until it is done. Reading changes nothing on the craft.",
    ]
    assert (said.read, said.faults, said.done) == ("Read faults", False, None)


@pytest.mark.parametrize("how", NOT_HEARD)
def test_nothing_can_be_read_of_a_craft_that_is_not_heard(seen, how):
    said = faults_words(seen(**how))
    assert said.title == "Faults: not read yet"
    assert (said.read, shapes(said.lines)) == ("", ["cross"])


def test_a_family_without_controllers_to_ask_offers_no_reading(seen):
    said = faults_words(seen(modules=()))
    assert said.read == ""
    assert rows(said.lines) == [
        "Nobody to ask. The family of this craft names no controllers that can be asked."
    ]


@pytest.mark.parametrize(
    ("job", "title", "said", "done"),
    [
        (
            JobState("scan", "Display: reading its faults", 3, 12, 990.0),
            "Reading faults",
            ["Display: reading its faults.", "3 of 12 steps done.", "Leave the key on and the plug in."],
            0.25,
        ),
        (
            JobState("scan", "The controller asks for more time", 3, 12, 990.0, waiting=True),
            "Reading faults",
            [
                "The controller asks for more time.",
                "3 of 12 steps done.",
                "Waiting. Leave the key on and the plug in.",
            ],
            0.25,
        ),
        (
            JobState("clear", "Beginning", 0, 0, 990.0),
            "Clearing faults",
            ["Beginning.", "Leave the key on and the plug in."],
            0.0,
        ),
    ],
)
def test_a_job_tells_its_words_and_how_far_it_is_and_offers_nothing(seen, job, title, said, done):
    words = faults_words(seen(report(COOLANT), job=job))
    assert (words.title, rows(words.lines), words.done) == (title, said, done)
    assert (words.read, words.faults) == ("", False)


def test_a_job_of_a_bus_process_that_is_gone_is_not_shown_as_running(seen):
    job = JobState("scan", "Display: reading its faults", 3, 12, 990.0)
    assert faults_words(seen(report(COOLANT), job=job, connected=False)).done is None


def test_faults_of_one_moment_stand_together_the_latest_first(seen):
    said = faults_words(seen(report(MISFIRE, *BOTH, STRANGE)))
    assert said.title == "4 faults, read 2 min ago"
    assert rows(said.lines) == [
        "2 set together at 1142.3 h. Supply, ground, plug first (common practice).",
        "P0117 Coolant sensor low failing now, set at 1142.3 h, 12 times, seen this warm-up",
        "P0562 System voltage low confirmed, set at 1142.2 h, once, last seen 1 warm-up ago",
        "P0301 Misfire in cylinder 1 pending, set at 1098.0 h, 255 or more times, last seen 14 warm-ups ago",
        "U0073-04 Display, number C07304: not in this family's list, stored",
    ]
    assert said.lines[1].strong == "P0117 Coolant sensor low"
    assert (said.read, said.faults) == ("Read again", True)


def test_a_fault_alone_in_its_moment_has_no_heading(seen):
    said = faults_words(seen(report(COOLANT)))
    assert said.title == "1 fault, read 2 min ago"
    assert len(said.lines) == 1


def test_no_faults_is_said_only_when_every_controller_was_read(seen):
    said = faults_words(seen(report(at=1000.0)))
    assert said.title == "No faults stored, read just now"
    assert rows(said.lines) == ["Every controller was read to the end: Engine controller, Display."]


@given(
    unread=st.sets(st.sampled_from(list(MODULES))),
    trouble=st.sampled_from(["", "Reading is refused: The craft is not heard"]),
    kind=st.sampled_from(["scan", "clear"]),
    modules=st.booleans(),
    how=st.sampled_from([{}, *NOT_HEARD, {"since": 950.0}]),
)
def test_what_was_not_read_is_never_no_faults(*, seen, unread, trouble, kind, modules, how):
    told = report(kind=kind, trouble=trouble, unread=dict.fromkeys(unread, "It did not answer."))
    told = told if modules else structs.replace(told, modules=[])
    title = faults_words(seen(told, **how)).title
    whole = modules and not unread and not trouble and kind == "scan"
    assert title.startswith("No faults") == whole
    assert ("OLD" in title) == (whole and how != {}) or not whole


def test_a_controller_that_was_not_read_is_named_with_the_reason(seen):
    said = faults_words(
        seen(report(COOLANT, unread={"display": "Display did not answer. Check its fuse, read again."}))
    )
    assert said.title == "1 fault, NOT fully read, 2 min ago"
    assert rows(said.lines)[0] == "Display was not read. Did not answer. Check its fuse, read again."
    assert shapes(said.lines) == ["cross", ""]


def test_faults_that_were_listed_before_it_broke_off_are_not_all(seen):
    said = faults_words(seen(report(COOLANT, unread={"engine": "Engine controller: It was cut off."})))
    assert rows(said.lines)[0] == "Engine controller was not read to the end. It was cut off."


def test_what_was_missing_stands_there_once_and_in_order(seen):
    trouble = "Reading the faults of the engine controller is refused: Engine speed 900. Stop it; Not heard"
    told = report(
        trouble=trouble,
        needs=["Engine speed 900. Stop it", "Not heard"],
        unread={"engine": trouble, "display": trouble},
    )
    said = faults_words(seen(told))
    assert said.title == "NOT fully read, 2 min ago"
    assert rows(said.lines) == [
        "Reading the faults of the engine controller is refused.",
        "Engine speed 900. Stop it.",
        "Not heard.",
        "Engine controller was not read.",
        "Display was not read.",
    ]
    assert set(shapes(said.lines)) == {"cross"}


def test_without_a_craft_the_report_says_only_why(seen):
    told = structs.replace(
        report(craft="", trouble="No craft is heard whose controllers can be asked."), modules=[]
    )
    said = faults_words(seen(told))
    assert said.title == "Faults: NOT read, 2 min ago"
    assert rows(said.lines) == ["No craft is heard whose controllers can be asked."]


def test_a_reading_that_failed_leaves_the_one_before_with_its_age(seen):
    said = faults_words(seen(report(COOLANT, trouble="The tool itself failed: x. Read again.")))
    assert said.title == "Not read again"
    assert rows(said.lines)[:2] == [
        "The tool itself failed: x. Read again.",
        "Before that: 1 fault, read 2 min ago.",
    ]


@pytest.mark.parametrize(
    ("how", "words"),
    [
        ({"state": LinkState.LOST}, "Read before the craft was lost."),
        ({"since": 950.0}, "Read before the craft was lost and found again."),
        ({"connected": False}, "The part that talks to the craft has stopped since."),
        ({"age": 3.0}, "The part that talks to the craft has stopped since."),
    ],
)
def test_a_reading_from_before_the_craft_was_lost_looks_old(seen, how, words):
    said = faults_words(seen(report(COOLANT), **how))
    assert said.title == "1 fault, OLD: read 2 min ago"
    assert (said.lines[0].strong, said.lines[0].shape) == (words, "triangle")
    assert "What is stored now is not known." in said.lines[0].plain


def test_nothing_of_another_craft_is_shown(seen):
    said = faults_words(seen(report(COOLANT, craft="auk 20418")))
    assert said.title == "Faults: not read yet"
    assert rows(said.lines)[0] == "Another craft is plugged in. The last reading was of auk 20418."
    assert not said.faults
    assert faults_words(seen(report(COOLANT, craft="auk"))).faults
    unnamed = Craft("auk", "Auk three-cylinder", None)
    assert faults_words(seen(report(COOLANT, craft="auk 20418"), craft=unnamed)).faults


def test_a_report_that_the_snapshot_does_not_name_is_none(seen, make):
    told = report(COOLANT)
    moment = seen(told)
    view = structs.replace(
        make.view(),
        snapshot=structs.replace(moment.snapshot, report=2),
        report=told,
        catalogue=moment.catalogue,
    )
    assert make.moment(view).report is None


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0, "just now"), (9.9, "just now"), (10, "10 s ago"), (59.9, "50 s ago"), (60, "1 min ago"),
     (3599, "59 min ago"), (3600, "1 h 0 min ago"), (7890, "2 h 11 min ago")],
)  # fmt: skip
def test_ages_are_coarse(seconds, words):
    assert age_words(seconds) == words


STATUS_AF = (
    "Failing now. Status AF: failing now, failed in this operation cycle, pending, confirmed, "
    "failed since it was cleared, asks for the warning lamp."
)


def test_one_fault_shows_every_value(seen):
    kept = [
        SnapshotLine("Engine speed", "0", "rev/min"),
        SnapshotLine("Coolant", "-40", "degC"),
        SnapshotLine("Throttle", "not known"),
    ]
    told = report(structs.replace(COOLANT, snapshot=kept, status=0xAF), MISFIRE)
    title, lines = fault_words(seen(told), told, in_rows(told), 0)
    assert title == "Fault 1 / 2: P0117"
    assert rows(lines) == [
        "Coolant sensor low. Engine controller, number 011700.",
        STATUS_AF,
        "Set 12 times, at 1142.3 h. Seen this warm-up.",
        "When it set: Engine speed 0 rev/min, Coolant −40 °C, Throttle not known.",
    ]


def test_one_fault_of_which_nothing_is_known_says_so(seen):
    told = report(STRANGE)
    title, lines = fault_words(seen(told, state=LinkState.LOST), told, in_rows(told), 0)
    assert title == "Fault: U0073-04"
    assert rows(lines) == [
        "Read before the craft was lost. What is stored now is not known. Key on? Plug in?",
        "Not in this family's list. Display, number C07304.",
        "Stored. Status 20: failed since it was cleared.",
        "How often it set is not told. When it was last seen is not told.",
        "No values of that moment. None are asked for of a code that is not in the list.",
    ]


def test_a_report_that_has_not_come_yet_is_not_called_unread(seen):
    moment = seen(None)
    announced = structs.replace(moment.snapshot, report=3)
    moment.snapshot = announced
    assert faults_words(moment).title == "One moment"


def test_a_reading_says_what_is_there_again_since_clearing(seen):
    fault = Fault("engine", 0x011700, "P0117", "Coolant low", 0x2F, True, True, True, False)
    told = Report(
        4, "scan", 999.0, 0.0, "auk 20417", [], [ModuleState("engine", "Engine", read=True)], [fault],
        came_back=[CameBack("engine", "P0117", "Coolant low", 95.0)],
    )  # fmt: skip
    said = " ".join(line.strong for line in faults_words(seen(told)).lines)
    assert "There again since clearing" in said
    assert "P0117 after 2 min" in said
