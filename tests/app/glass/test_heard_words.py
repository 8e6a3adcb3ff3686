"""Faults that an engine tells by itself, in words: what is not known now is never "none"."""

from __future__ import annotations

import pytest
from msgspec import structs

from app.diagnosis import HeardFault, HeardFaults
from app.fault_words import faults_words
from app.heard_words import TOLD_S
from app.j1939_words import trouble_code, trouble_words
from app.messages import LinkState
from app.quick_faults import faults_seen
from app.quick_row import State, Verdict

HOT = HeardFault(110, 0, 2, active=True)
LOW = HeardFault(168, 4, None, active=False)
STRANGE = HeardFault(500_248, 7, 1, active=True, certain=False)


@pytest.fixture
def after(make):
    def moment(*faults, lamps=(), ago=0.5, source=0, more=0, **view):
        made = make.view(**view)
        told = HeardFaults(source, make.now - ago, None, list(lamps), list(faults), more)
        snapshot = structs.replace(made.snapshot, heard=[told])
        return make.moment(structs.replace(made, snapshot=snapshot))

    return moment


def rows(moment):
    return [f"{line.strong} {line.plain}".strip() for line in faults_words(moment).lines]


def test_words_are_those_of_the_standard_and_none_are_invented():
    """FMI and SPN of standards.md 5.3 and 5.4."""
    assert trouble_words(110, 0) == "Coolant temperature: above normal, most severe"
    assert trouble_words(190, 8) == "Engine speed: frequency or pulse width not right"
    assert trouble_words(500_248, 7) == ""
    assert trouble_words(110, 30) == "Coolant temperature"
    assert trouble_code(110, 0).replace("\u00a0", " ") == "SPN 110 FMI 0"


def test_active_faults_earlier_ones_and_the_lamps_are_told_and_nothing_is_offered(after):
    moment = after(HOT, STRANGE, LOW, lamps=("amber warning", "red stop"))
    said = faults_words(moment)
    assert (said.title, said.name) == ("2 faults active, 1 earlier", "check/faults_heard")
    assert (said.read, said.faults) == ("", False), "there is nothing to ask and nothing to clear"
    text = " ".join(rows(moment)).replace("\u00a0", " ")
    assert "Engine lights: red stop, amber warning. Stop the engine." in text
    assert "Coolant temperature: above normal, most severe. SPN 110 FMI 0, active now, 2 times" in text
    assert "SPN 500248 FMI 7. no words for it here, active now, once, an old way of writing" in text
    assert "Battery voltage: voltage too low. SPN 168 FMI 4, earlier" in text


def test_none_is_said_only_while_it_is_told(after):
    assert faults_words(after()).title == "No active faults"
    assert faults_words(after(ago=TOLD_S + 0.1)).title == "Faults now NOT known, before: none told"
    assert faults_words(after(HOT, ago=40.0)).title == "Faults now NOT known, before: 1 fault"
    assert "active then" in " ".join(rows(after(HOT, ago=40.0)))
    assert faults_words(after(HOT, state=LinkState.LOST)).title == "Faults now NOT known, before: 1 fault"


def test_faults_that_had_no_room_count(after):
    moment = after(HOT, more=5)
    assert faults_words(moment).title == "6 faults active"
    assert "5 more are told than have room here." in rows(moment)


@pytest.mark.parametrize(
    ("said", "verdict", "state"),
    [
        ({}, Verdict.FIT, State.FINE),
        ({"faults": (HOT,), "lamps": ("amber warning",)}, Verdict.LOOK, State.STORED),
        ({"faults": (HOT,)}, Verdict.LOOK, State.STORED),
        ({"faults": (HOT,), "lamps": ("red stop",)}, Verdict.ASHORE, State.STORED),
        ({"lamps": ("red stop",)}, Verdict.ASHORE, State.STORED),
        ({"faults": (LOW,)}, Verdict.FIT, State.FINE),
        ({"ago": 6.0}, Verdict.LOOK, State.NOT_READ),
    ],
)
def test_the_quick_check_goes_by_the_lamps(after, said, verdict, state):
    (seen,) = faults_seen(after(*said.pop("faults", ()), **said), 0.0)
    assert (seen.verdict, seen.state) == (verdict, state)


def test_where_nobody_tells_the_quick_check_has_no_row_of_it(make):
    assert faults_seen(make.moment(), 0.0) == []


def test_an_engine_that_only_tells_what_was_does_not_say_that_nothing_is(make):
    made = make.view()
    told = HeardFaults(0, None, make.now - 1.0, [], [LOW])
    moment = make.moment(structs.replace(made, snapshot=structs.replace(made.snapshot, heard=[told])))
    assert faults_words(moment).title == "Faults now NOT known, before: 1 fault"
    assert rows(moment)[0] == "Engine does not say what is active. Only what was before."
