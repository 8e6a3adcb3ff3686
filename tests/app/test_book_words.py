"""What the book says to a person, on the glass and on the command line."""

import argparse
import io
import json
from datetime import UTC, datetime, timedelta, timezone

import msgspec
import pytest

from app import book_command
from app.diagnosis import CameBack, Fault, IdentityLine, ModuleState, Report, SnapshotLine
from app.entry import Entry, Kind
from app.entry_words import happened, headline, line, page, when
from app.errors import StorageError, UsageError
from app.operators import OPERATORS

CRAFT = "auk 1042"
WRITTEN = datetime(2026, 11, 25, 10, 32, tzinfo=UTC)

COOLANT = Fault(
    "engine",
    0x011700,
    "P0117",
    "Coolant sensor low",
    0x09,
    failed_now=True,
    pending=False,
    confirmed=True,
    warning=False,
    count=1,
    hours=62.5,
    snapshot=[SnapshotLine("Engine speed", "1250", "rev/min")],
)
UNKNOWN = Fault("engine", 0xD00300, "U1003", "", 0x08, False, False, True, False)
ENGINE = ModuleState("engine", "Engine controller", True)
DISPLAY = ModuleState("display", "Gauge display", False, "It did not answer.")


def report(kind="scan", **more):
    values = {
        "number": 1,
        "kind": kind,
        "at": 990.0,
        "wall": WRITTEN.timestamp() - 10,
        "craft": CRAFT,
        "identity": [IdentityLine("engine", "Serial", "1042"), IdentityLine("engine", "Part", "")],
        "modules": [ENGINE],
        "faults": [],
    }
    return Report(**values | more)


def entry(kind, body, **more):
    values = {
        "device": "d",
        "number": 7,
        "id": "i",
        "craft": CRAFT,
        "visit": "",
        "hlc": "0" * 16,
        "wall_ms": int(WRITTEN.timestamp() * 1000),
        "wall_trusted": True,
        "boot": "boot-1",
        "mono_ms": 1_000_000,
        "operator": "Mara",
        "kind": kind,
        "schema": 1,
        "body": body,
        "previous": "",
        "hash": "f" * 64,
    }
    return Entry(**values | more)


def of_report(result):
    return entry(result.kind, msgspec.to_builtins(result))


def of_journal(kind, what, **journal):
    return entry(kind, {"what": what, "journal": {"kind": kind, "n": 1, **journal}})


@pytest.mark.parametrize(
    ("result", "words"),
    [
        (report(), "Read: no faults"),
        (report(faults=[COOLANT]), "Read: 1 fault (P0117)"),
        (report(faults=[COOLANT, UNKNOWN]), "Read: 2 faults (P0117, U1003)"),
        (report(modules=[ENGINE, DISPLAY]), "Read: no faults; NOT READ: Gauge display"),
        (report(modules=[DISPLAY]), "Read: nothing could be read"),
        (report(modules=[]), "Read: nothing could be read"),
        (report(trouble="The link broke."), "Read: no faults. The link broke."),
        (report("clear", before=[COOLANT]), "Clearing: 1 fault (P0117) before, after it no faults"),
        (
            report("clear", before=[COOLANT], modules=[DISPLAY]),
            "Clearing: 1 fault (P0117) before, after it nothing could be read",
        ),
        (
            report("clear", before=[COOLANT, UNKNOWN], faults=[COOLANT], trouble="Refused."),
            "Clearing: 2 faults (P0117, U1003) before, after it 1 fault (P0117). Refused.",
        ),
    ],
)
def test_a_report_says_what_was_found_and_what_was_not_read(result, words):
    assert headline(of_report(result)) == words


def test_what_was_not_read_is_never_said_to_be_without_faults():
    words = headline(of_report(report(modules=[DISPLAY])))
    assert "no faults" not in words


@pytest.mark.parametrize(
    ("fired", "confirmed", "words"),
    [
        (True, True, "fired, confirmed stopped"),
        (True, False, "NOT CONFIRMED STOPPED"),
        (True, None, "NOT CONFIRMED STOPPED"),
        (None, False, "NOT CONFIRMED STOPPED"),
        (None, True, "fired, confirmed stopped"),
        (False, True, "did not fire"),
        (False, False, "did not fire"),
    ],
)
def test_an_output_is_said_to_have_stopped_only_if_that_was_confirmed(fired, confirmed, words):
    what = {
        "output": "injector_1",
        "press": 1,
        "fired": fired,
        "confirmed": confirmed,
        "cause": "Finger lifted.",
    }
    assert headline(of_journal("output_end", what)) == f"Injector 1: {words}. Finger lifted."


@pytest.mark.parametrize(
    ("kind", "what", "words"),
    [
        (
            "output_start",
            {"output": "injector_1", "label": "Injector 1", "cylinder": 1, "fuel_cm3": 0.06333},
            "Injector 1: about to fire, 0.0633 cm³ of fuel charged to cylinder 1",
        ),
        ("output_start", {"output": "bilge_pump", "fuel_cm3": 0}, "Bilge pump: about to fire"),
        (
            "output_start",
            {"output": "spark_inhibit", "label": "Hold spark off", "cylinder": 0, "fuel_cm3": 4.0},
            "Hold spark off: about to fire, 4 cm³ of fuel charged to all cylinders",
        ),
        ("inhibit_held", {"output": "fuel_inhibit"}, "Fuel inhibit: read back as held"),
        (
            "inhibit_ending",
            {"output": "fuel_inhibit", "cause": "It was ended.", "doubt": "It is not known."},
            "Fuel inhibit: to be given back once the engine stands still. It was ended. It is not known.",
        ),
        ("confirm", {"what": "jet_clear"}, "A person confirmed: nobody near intake and jet"),
        (
            "refused",
            {"output": "injector_1", "needs": ["key_on"], "cause": "Key is off."},
            "Injector 1 refused: Key is off.",
        ),
        ("confirm", {"what": "no_smell"}, "A person confirmed: hatch open, no smell of fuel"),
        ("confirm", {"what": "something_new"}, "A person confirmed: something new"),
        ("locked", {"words": "Injector 1 was not confirmed stopped"}, "Outputs locked: Injector 1 was not"),
        ("vented", {"what": "fuel"}, "Vented long enough after fuel"),
        ("journal", {"x": 1}, "Journal: journal"),
    ],
)
def test_what_the_journal_told_is_said_in_words(kind, what, words):
    assert headline(of_journal(kind, what)).startswith(words)


@pytest.mark.parametrize("kind", [*Kind, "of_a_newer_version"])
@pytest.mark.parametrize(
    "body", [{}, {"what": 5, "journal": 7}, {"what": {}, "journal": {}}, {"unreadable": "x"}]
)
def test_whatever_stands_in_an_entry_it_can_be_listed_and_shown(kind, body):
    odd = entry(kind, body)
    assert headline(odd)
    assert line(odd, UTC)
    assert len(page(odd, UTC)) >= 4


def test_every_kind_has_words_of_its_own():
    unknown = headline(entry("of_a_newer_version", {}))
    assert unknown == "Something this version does not know: of_a_newer_version"
    assert not [kind for kind in Kind if headline(entry(kind, {})).startswith("Something this version")]


def test_the_page_of_a_clearing_shows_the_faults_saved_before_it_with_their_snapshot():
    result = report(
        "clear",
        before=[COOLANT, UNKNOWN],
        faults=[COOLANT],
        modules=[ENGINE, DISPLAY],
        came_back=[CameBack("engine", "P0117", "Coolant sensor low", 12.4)],
    )
    assert page(of_report(result), UTC) == [
        "Clearing: 2 faults (P0117, U1003) before, after it 1 fault (P0117); NOT READ: Gauge display",
        "Serial: 1042",
        "Engine controller: read",
        "Gauge display: NOT READ. It did not answer.",
        "Stored before: P0117 Coolant sensor low: failing now, confirmed, set once, at 62.5 h",
        "  Engine speed 1250 rev/min",
        "Stored before: U1003 (no words for this code): confirmed",
        "Stored: P0117 Coolant sensor low: failing now, confirmed, set once, at 62.5 h",
        "  Engine speed 1250 rev/min",
        "Came back after 12 s: P0117 Coolant sensor low",
        "When: 2026-11-25 10:31",
        "Craft: auk 1042",
        "By: Mara",
        f"Entry 7 of handheld d, hash {'f' * 64}",
    ]


def test_the_time_of_what_happened_is_told_from_the_clock_that_cannot_be_set():
    # written at 10:32:00 and 1000 s after the start of the machine; happened 600 s after it
    same = of_journal("purge", {}, boot="boot-1", mono=600.0, wall=5.0)
    assert happened(same) == (WRITTEN.timestamp() - 400, True)
    assert when(same, UTC) == "2026-11-25 10:25"


def test_a_time_from_before_a_restart_is_shown_and_not_trusted():
    other = of_journal("purge", {}, boot="boot-0", mono=600.0, wall=WRITTEN.timestamp() - 3600)
    assert when(other, UTC) == "2026-11-25 09:32 (clock not trusted)"
    assert when(of_journal("purge", {}, boot="boot-0"), UTC) == "time not known"
    assert when(of_journal("purge", {}, boot="boot-0", wall=1e30), UTC) == "time not known"


def test_a_clock_that_is_not_trusted_is_marked_and_the_zone_is_the_readers():
    note = entry(Kind.NOTE, {"text": "x"}, wall_trusted=False)
    assert line(note, UTC) == "2026-11-25 10:32 (clock not trusted) · auk 1042 · Note: x · Mara"
    east = timezone(timedelta(hours=2))
    assert when(note, east).startswith("2026-11-25 12:32")


@pytest.fixture
def book(open_book):
    opened = open_book()
    opened.sign_in(OPERATORS[1])
    opened.add_craft("auk", "1042", "XX-1", "Mara")
    opened.add(Kind.NOTE, CRAFT, "Mara", {"text": "Jet pump rattles"})
    return opened


def run(command, *arguments, **options):
    out = io.StringIO()
    code = command(*arguments, **options, out=out)
    return code, out.getvalue()


def test_the_list_prints_one_line_an_entry_newest_first(book):
    code, text = run(book_command.list_entries, book, craft=None, limit=3, as_json=False)
    assert code == 0
    lines = text.splitlines()
    assert [printed.split()[0] for printed in lines] == ["4", "3", "2"]
    assert "auk 1042 · Note: Jet pump rattles · Mara" in lines[0]
    assert "Signed in (technician) · Mara" in lines[2]


def test_a_list_of_one_craft_holds_nothing_else_and_an_empty_one_says_so(book):
    _, text = run(book_command.list_entries, book, craft=CRAFT, limit=50, as_json=False)
    assert [printed.split()[0] for printed in text.splitlines()] == ["4", "3"]
    code, text = run(book_command.list_entries, book, craft="auk 9", limit=50, as_json=False)
    assert (code, text) == (0, "There is no entry of auk 9.\n")


def test_json_holds_every_field_of_an_entry_and_its_words(book):
    _, text = run(book_command.list_entries, book, craft=None, limit=50, as_json=True)
    printed = json.loads(text)
    assert printed["device"] == book.device
    assert [one["entry"]["number"] for one in printed["entries"]] == [4, 3, 2, 1]
    assert printed["entries"][0]["says"] == "Note: Jet pump rattles"
    assert printed["entries"][0]["entry"] == msgspec.to_builtins(book.entry(4))
    code, text = run(book_command.show_entry, book, 4, device=None, as_json=True)
    assert (code, json.loads(text)) == (0, printed["entries"][0])


def test_show_prints_the_page_of_an_entry(book):
    code, text = run(book_command.show_entry, book, 3, device=None, as_json=False)
    assert code == 0
    assert text.splitlines()[0] == "Craft seen: auk 1042, hull number XX-1"
    assert f"Entry 3 of handheld {book.device}" in text


def test_verify_says_sound_with_0_and_which_number_is_wrong_with_1(book, raw):
    code, text = run(book_command.verify_book, book, as_json=False)
    assert (code, text.split(":")[0]) == (
        0,
        "All 4 entries are as they were written; none before the newest is missing.\n",
    )
    cheat = raw()
    cheat.execute("DROP TRIGGER entry_no_update")
    cheat.execute("UPDATE entry SET operator = 'Ines' WHERE number = 3")
    code, text = run(book_command.verify_book, book, as_json=False)
    assert (code, text) == (1, "Number 3 was changed after it was written.\n")
    code, text = run(book_command.verify_book, book, as_json=True)
    verdict = json.loads(text)
    assert (code, verdict["sound"], verdict["entries"]) == (1, False, 4)
    assert [one["number"] for one in verdict["broken"]] == [3]


def typed(data, *words):
    parser = argparse.ArgumentParser("boathook book")
    book_command.add_arguments(parser)
    options = parser.parse_args(["--data", str(data), *words])
    return run(book_command.run, options, options.data)


def test_the_commands_as_typed_read_the_book_while_the_tool_has_it_open(book, tmp_path):
    assert typed(tmp_path, "list", "--limit", "1")[1].split()[0] == "4"
    assert typed(tmp_path, "list", "--craft", CRAFT, "--json", "--data", str(tmp_path))[0] == 0
    assert typed(tmp_path, "show", "2")[1].startswith("Signed in")
    assert json.loads(typed(tmp_path, "verify", "--json")[1])["sound"] is True


@pytest.mark.parametrize(
    ("words", "error", "text"),
    [
        (("show", "99"), UsageError, "no entry 99"),
        (("list", "--limit", "0"), UsageError, "1 or more"),
        (("list", "--data", "/nonexistent"), StorageError, "no craft book"),
    ],
)
def test_what_cannot_be_done_is_said_in_a_sentence(book, tmp_path, words, error, text):
    with pytest.raises(error, match=text):
        typed(tmp_path, *words)
