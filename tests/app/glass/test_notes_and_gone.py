"""Faults that are gone since the last visit, and notes beside a fault."""

import pytest
from msgspec import structs, to_builtins
from some_faults import BOTH, COOLANT, MISFIRE, SUPPLY, fault, report, rows

from app.entry import Kind
from app.fault_notes import MOST_SHOWN, note_body, note_lines
from app.fault_words import fault_words, faults_words
from app.visits import gone_since


@pytest.fixture
def entry(make_entry):
    """An entry of this kind, made on this visit."""
    return lambda kind, body, visit, **more: structs.replace(make_entry(kind, body), visit=visit, **more)


@pytest.fixture
def read(entry):
    return lambda one, visit, kind=Kind.SCAN: entry(kind, to_builtins(one), visit)


def codes(faults):
    return [one.code for one in faults]


def test_what_was_confirmed_at_the_last_visit_and_is_stored_no_more_is_gone(read):
    pending = fault("P0107", "Manifold sensor low", 0x010700, 0x04)
    now = report(SUPPLY)
    entries = [read(now, "b"), read(report(*BOTH, pending), "a"), read(report(MISFIRE), "0")]
    assert codes(gone_since(entries, now)) == [
        "P0117"
    ]  # a pending one may go by itself; older visits are over


def test_of_a_module_that_was_not_read_nothing_is_said(read):
    now = report(unread={"engine": "It did not answer."})
    assert gone_since([read(now, "b"), read(report(*BOTH), "a")], now) == []


def test_what_this_tool_has_cleared_on_this_visit_is_not_called_gone(read):
    now = report(kind="clear", before=BOTH)
    entries = [read(now, "b", Kind.CLEAR), read(report(*BOTH), "b"), read(report(*BOTH), "a")]
    assert gone_since(entries, now) == []


def test_what_was_left_after_the_last_visits_clearing_counts(read):
    left = report(SUPPLY, kind="clear", before=BOTH)
    now = report()
    assert codes(gone_since([read(now, "b"), read(left, "a", Kind.CLEAR)], now)) == ["P0562"]


def test_where_the_book_knows_nothing_nothing_is_said(read, entry):
    now = report()
    assert gone_since([], now) == []
    assert gone_since([read(now, "b")], now) == []
    assert gone_since([read(now, "b"), entry(Kind.SCAN, {"what": 1}, "a")], now) == []
    assert gone_since([read(now, "b"), read(report(*BOTH), "a")], None) == []


def test_it_stands_in_the_list_below_what_is_stored(make):
    said = faults_words(make.after_reading(report(SUPPLY)), [COOLANT])
    last = said.lines[-1]
    assert last.strong == "Stored at the last visit, gone now:"
    assert last.plain == "P0117 Coolant sensor low. Cleared elsewhere, or forgotten."
    assert "gone" not in " ".join(rows(faults_words(make.after_reading(report(SUPPLY))).lines))


def test_notes_on_this_fault_stand_beside_it_newest_first_and_no_others(make, entry):
    body = note_body(COOLANT, "Part replaced")
    assert body["text"] == "P0117 Coolant sensor low: part replaced"
    notes = [entry(Kind.NOTE, note_body(COOLANT, f"Note {n}"), "a", operator="Mara") for n in range(5)]
    other = entry(Kind.NOTE, note_body(SUPPLY, "Part replaced"), "a")
    plain = entry(Kind.NOTE, {"text": "Hull rinsed"}, "a")
    lines = note_lines([other, plain, *notes], COOLANT)
    assert [line.strong for line in lines] == [f"Noted: Note {n}." for n in range(MOST_SHOWN)]
    assert all("Mara" in line.plain for line in lines)
    moment = make.after_reading(report(COOLANT))
    assert fault_words(moment, report(COOLANT), [COOLANT], 0, lines)[1][-1] == lines[-1]
