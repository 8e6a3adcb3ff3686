"""What was asked, sent, held back and cleared, in the words of the book; the list leaves most of it out."""

import argparse
import io
import json
from datetime import UTC

import pytest

from app import book_command, store_schema
from app.entry import AUDIT, FROM_JOURNAL, Entry, Kind
from app.entry_words import headline, page
from bus.journal import Journal

CRAFT = "auk 1042"
ASKED = {
    "craft": CRAFT, "operator": "Mara", "asked": "Reading F190 of the engine controller", "why": "scan",
    "request": "22f190", "to": "7E0", "frames": 2, "result": "answered", "bytes": 20, "took_s": 0.04,
}  # fmt: skip
SENT = {
    "craft": CRAFT, "operator": "Mara", "output": "horn", "press": 3, "frames": 6, "session": 1, "start": 2,
    "release": 2, "default_session": 1, "last_answer": "5001003201f4", "took_s": 1.2,
}  # fmt: skip
BLOCKED = {
    "craft": CRAFT, "operator": "", "frame": "3000000000000000", "to": "7E0", "why": "Its exchange is over",
    "more": 0,
}  # fmt: skip
FAULT = {
    "module": "engine", "number": 0x011700, "code": "P0117", "text": "Coolant sensor low", "status": 9,
    "failed_now": True, "pending": False, "confirmed": True, "warning": False,
}  # fmt: skip
INTENT = {
    "craft": CRAFT, "operator": "Mara", "report": 3, "modules": ["engine"],
    "labels": {"engine": "Engine controller"}, "faults": [FAULT], "identity": [],
}  # fmt: skip


def ending(**what):
    return {"craft": CRAFT, "cleared": [], "unsure": [], "known": True} | what


def entry(kind, what, **journal):
    return Entry(
        device="d", number=7, id="i", craft=CRAFT, visit="", hlc="0" * 16, wall_ms=1_795_600_000_000,
        wall_trusted=True, boot="b", mono_ms=1_000_000, operator="Mara", kind=kind, schema=1,
        body={"what": what, "journal": {"kind": kind, **journal}}, previous="", hash="f" * 64,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "what", "words"),
    [
        ("asked", ASKED, "Reading F190 of the engine controller (for a reading): answered with 20 bytes"),
        (
            "asked",
            ASKED | {"result": "refused", "code": "22", "name": "conditionsNotCorrect", "why": "clear"},
            "Reading F190 of the engine controller (for clearing): refused with code 22 (conditionsNot",
        ),
        (
            "asked",
            ASKED | {"result": "refused", "code": "FA", "name": "", "why": ""},
            "Reading F190 of the engine controller: refused with code FA",
        ),
        (
            "asked",
            ASKED | {"result": "no answer", "words": "Display did not answer.", "why": ""},
            "Reading F190 of the engine controller: no answer. Display did not answer",
        ),
        (
            "asked",
            ASKED | {"result": "broken off", "words": "The adapter went away.", "why": "", "frames": 0},
            "Reading F190 of the engine controller: broken off. The adapter went away; nothing left the tool",
        ),
        (
            "sent",
            SENT,
            "Horn: 6 frames sent, 1 to open a session, 2 to start, 2 to release, 1 to close the session; l",
        ),
        (
            "sent",
            {"output": "horn", "press": 3, "frames": 1, "release": 1, "last_answer": ""},
            "Horn: 1 frame sent, 1 to release; no answer came",
        ),
        ("blocked", BLOCKED, "A frame to 7E0 was held back: Its exchange is over"),
        ("blocked", BLOCKED | {"more": 4}, "A frame to 7E0 was held back: Its exchange is over, and 4 more"),
        ("blocked", {"craft": CRAFT, "operator": "", "more": 47}, "Held back as well: 47 frames"),
        ("clear_intent", INTENT, "About to clear; saved before it: 1 fault (P0117)"),
        ("clear_end", ending(cleared=["engine"]), "End of a clearing: engine confirmed it"),
        ("clear_end", ending(), "End of a clearing: no controller confirmed one"),
        (
            "clear_end",
            ending(cleared=["engine"], unsure=["display"], known=False),
            "End of a clearing: engine confirmed it, display did not. What is stored now is NOT known",
        ),
    ],
)
def test_each_line_is_said_in_words_also_where_the_book_took_it_before_it_knew_the_kind(kind, what, words):
    assert headline(entry(kind, what)).startswith(words)
    taken_by_an_older_version = entry(Kind.JOURNAL, what)
    taken_by_an_older_version.body["journal"]["kind"] = kind
    assert headline(taken_by_an_older_version).startswith(words)


def test_the_page_of_a_request_shows_its_bytes_to_whom_they_went_and_who_asked():
    lines = page(entry("asked", ASKED), UTC)
    assert {
        "Request: 22 F1 90",
        "To identifier: 7E0",
        "Frames sent: 2",
        "Why: for a reading",
        "By: Mara",
    } <= set(lines)


def test_the_page_before_a_clearing_shows_the_faults_that_were_saved_and_no_raw_structure():
    lines = page(entry("clear_intent", INTENT), UTC)
    assert "Saved before: P0117 Coolant sensor low: failing now, confirmed" in lines
    assert not [line for line in lines if "{" in line]


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (
            {"trouble": "Clearing is refused: the battery is low", "needs": ["Battery 11.9 V. Charge it"]},
            "Clearing was refused: Clearing is refused: the battery is low",
        ),
        (
            {"trouble": "Nothing was cleared. Read the faults first.", "needs": ["Read the faults first."]},
            "Clearing was refused: Read the faults first.",
        ),
        (
            {"trouble": "P0300 has set since the faults were read. Read again, then clear."},
            "Not cleared: P0300 has set since the faults were read. Read again, then clear.",
        ),
    ],
)
def test_a_clearing_that_was_refused_never_reads_like_one_that_happened(more, words):
    body = {
        "number": 2, "kind": "clear", "at": 1.0, "wall": 1.0, "craft": CRAFT, "identity": [],
        "modules": [{"key": "engine", "label": "Engine controller", "read": True, "words": ""}],
        "faults": [FAULT], **more,
    }  # fmt: skip
    said = headline(of_clearing(body))
    assert said == words
    assert "before, after it" not in said


def test_a_clearing_that_was_cut_short_says_that_nothing_is_known():
    unread = {"key": "engine", "label": "Engine controller", "read": False, "words": "Not read since."}
    body = {
        "number": 2, "kind": "clear", "at": 1.0, "wall": 1.0, "craft": CRAFT, "identity": [],
        "modules": [unread], "faults": [], "trouble": "Clearing auk 1042 was cut short.",
    }  # fmt: skip
    assert headline(of_clearing(body)).startswith("Clearing: what is stored is NOT known.")


def of_clearing(body):
    made = entry("clear", {})
    made.body.clear()
    made.body.update(body)
    return made


def test_what_is_left_out_of_lists_is_the_same_in_the_database_and_in_the_kinds():
    assert {kind.value for kind in AUDIT} <= {kind.value for kind in FROM_JOURNAL}
    listed = ", ".join(f"'{kind.value}'" for kind in sorted(AUDIT))
    assert f"kind NOT IN ({listed})" == store_schema.SHOWN


@pytest.fixture
def book(open_book, tmp_path, hand):
    """A book that took in a reading of three requests, a press and a frame held back."""
    path = tmp_path / "journal.jsonl"
    journal = Journal(path, clock=lambda: hand.mono, wall=lambda: hand.wall, boot_id=hand.boot)
    journal.start()
    for kind, body in [
        *[("asked", ASKED)] * 3,
        ("sent", SENT),
        ("blocked", BLOCKED),
        ("clear_end", ending()),
    ]:
        journal.put(kind, **body)
    journal.stop()
    opened = open_book()
    opened.add_craft("auk", "1042", operator="Mara")
    opened.add(Kind.NOTE, "skua 7", "Ines", {"text": "Hull rinsed"})
    opened.take_journal(path)
    return opened


def test_the_book_takes_every_line_and_lists_only_what_a_person_looks_for(book):
    kinds = [entry.kind for entry in book.entries(audit=True)]
    assert kinds[:6] == ["clear_end", "blocked", "sent", "asked", "asked", "asked"]
    assert [entry.kind for entry in book.entries()] == ["clear_end", "note", "craft_seen", "book_begun"]
    assert [entry.kind for entry in book.entries(CRAFT)] == ["clear_end", "craft_seen"]
    assert (book.hidden(), book.hidden(CRAFT), book.hidden("skua 7")) == (5, 5, 0)
    assert book.verify() == []


def test_a_page_of_the_list_is_full_however_much_is_left_out_between(book):
    first = book.entries(limit=2)
    assert [entry.kind for entry in first] == ["clear_end", "note"]
    assert [entry.kind for entry in book.entries(limit=2, before=first[-1])] == ["craft_seen", "book_begun"]


@pytest.mark.parametrize(
    ("craft", "audit", "index"),
    [
        (None, False, "entry_shown_by_time"),
        (CRAFT, False, "entry_shown_by_craft"),
        (None, True, "entry_by_time"),
    ],
)
def test_the_list_does_not_wade_through_what_it_leaves_out(book, craft, audit, index, monkeypatch):
    asked = []
    rows = book._store._rows
    monkeypatch.setattr(book._store, "_rows", lambda sql, *values: asked.append((sql, values)) or [])
    book.entries(craft, audit=audit)
    [(sql, values)] = asked
    [step] = rows(f"EXPLAIN QUERY PLAN {sql}", *values)
    assert f"USING INDEX {index} " in step["detail"]


def run(tmp_path, *words):
    parser = argparse.ArgumentParser("boathook book")
    book_command.add_arguments(parser)
    options = parser.parse_args(["--data", str(tmp_path), *words])
    out = io.StringIO()
    assert book_command.run(options, options.data, out) == 0
    return out.getvalue().splitlines()


def test_the_command_says_how_many_lines_it_does_not_list_and_all_lists_them(book, tmp_path):
    lines = run(tmp_path, "list")
    assert len(lines) == 5
    assert lines[-1] == "Not listed: 5 lines of what was asked and sent. See them: --all"
    assert len(run(tmp_path, "list", "--all")) == 9
    assert "Not listed" not in run(tmp_path, "list", "--all")[-1]
    assert run(tmp_path, "list", "--craft", "skua 7")[-1].endswith("Hull rinsed · Ines")
    assert json.loads(run(tmp_path, "list", "--json")[0])["hidden"] == 5
    everything = json.loads(run(tmp_path, "list", "--json", "--all")[0])
    assert (everything["hidden"], len(everything["entries"])) == (0, 9)
    number = next(one["entry"]["number"] for one in everything["entries"] if one["entry"]["kind"] == "asked")
    assert "Request: 22 F1 90" in run(tmp_path, "show", str(number))
