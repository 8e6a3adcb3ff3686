"""The craft book: entries are only ever added, numbered without a gap, chained, in an order of their own."""

import hashlib
import json
import sqlite3
import subprocess
import sys
import threading

import msgspec
import pytest

from app.book import Book
from app.diagnosis import Fault, IdentityLine, ModuleState, Report
from app.entry import Kind
from app.errors import StorageError, UsageError
from app.operators import OPERATORS

INES, MARA = OPERATORS
CRAFT = "auk 1042"
REST = "craft, visit, hlc, wall_ms, wall_trusted, boot, mono_ms, operator, kind, schema, body, previous, hash"


def note(book, text="a word", craft=CRAFT):
    return book.add(Kind.NOTE, craft, "Mara", {"text": text})


def report(kind="scan", at=50.0):
    fault = Fault("engine", 0x011700, "P0117", "Coolant sensor low", 0x09, True, False, True, False)
    return Report(
        number=1,
        kind=kind,
        at=at,
        wall=1_795_600_000.0,
        craft=CRAFT,
        identity=[IdentityLine("engine", "Serial", "1042")],
        modules=[ModuleState("engine", "Engine controller", True)],
        faults=[fault],
        before=[fault] if kind == "clear" else [],
    )


def test_what_was_added_is_there_after_opening_again(open_book):
    book = open_book()
    added = note(book, "grüße, 5 cm³")
    book.close()
    assert open_book().entry(added.number) == added


def test_the_first_entry_says_that_the_book_was_begun_and_only_once(open_book):
    first = open_book().entry(1)
    open_book()
    entries = open_book().entries()
    assert entries == [first]
    assert first.kind == Kind.BOOK_BEGUN
    assert first.previous == ""


def test_a_data_folder_keeps_its_device_and_another_has_another(open_book, tmp_path):
    assert open_book().device == open_book().device
    assert open_book(tmp_path / "other").device != open_book().device


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE entry SET body = '{}' WHERE number = 2",
        "UPDATE OR REPLACE entry SET number = 1 WHERE number = 2",
        "DELETE FROM entry WHERE number = 2",
        "DELETE FROM entry",
        "INSERT OR REPLACE INTO entry SELECT * FROM entry WHERE number = 2",
        (
            f"REPLACE INTO entry (rowid, device, number, id, {REST}) "
            f"SELECT rowid, 'x', number, 'x', {REST} FROM entry WHERE number = 2"
        ),
        f"INSERT INTO entry SELECT device, number + 5, 'x', {REST} FROM entry WHERE number = 2",
        "UPDATE book SET device = 'x'",
        "DELETE FROM book",
        "INSERT INTO book VALUES ('x')",
    ],
)
def test_the_file_itself_refuses_to_change_or_lose_an_entry(open_book, raw, sql):
    book = open_book()
    note(book)
    note(book)
    before = [tuple(row) for row in raw().execute("SELECT * FROM entry, book")]
    with pytest.raises(sqlite3.IntegrityError, match=r"append-only|no gaps|keeps its name"):
        raw().execute(sql)
    assert [tuple(row) for row in raw().execute("SELECT * FROM entry, book")] == before


def test_every_entry_is_synced_before_it_counts(open_book):
    # SQLite documentation, PRAGMA synchronous: 2 = FULL, the log is synced at every commit.
    connection = open_book()._store._connection
    assert connection.execute("PRAGMA synchronous").fetchone()[0] == 2
    assert connection.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
    assert connection.execute("PRAGMA busy_timeout").fetchone()[0] == 5000


ADDER = """
import sys
from pathlib import Path
from app.book import Book
from app.entry import Kind
book = Book.open(Path(sys.argv[1]))
for count in range(60):
    book.add(Kind.NOTE, "", "", {"text": sys.argv[2], "count": count})
book.close()
"""


def test_two_programs_that_add_at_once_leave_no_gap_and_one_chain(open_book, tmp_path):
    adders = [subprocess.Popen([sys.executable, "-c", ADDER, tmp_path, name]) for name in ("one", "two")]
    assert [adder.wait(60) for adder in adders] == [0, 0]
    book = open_book()
    entries = book.entries(limit=1000)
    assert [entry.number for entry in entries] == list(range(121, 0, -1))
    assert book.verify() == []
    for name in ("one", "two"):
        counts = [entry.body["count"] for entry in reversed(entries) if entry.body.get("text") == name]
        assert counts == list(range(60))


def test_threads_may_share_one_book(open_book):
    book = open_book()
    threads = [threading.Thread(target=lambda: [note(book) for _ in range(20)]) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert [entry.number for entry in book.entries(limit=1000)] == list(range(81, 0, -1))
    assert book.verify() == []


def test_the_hashes_can_be_made_again_without_our_code(open_book, raw, tmp_path):
    # FIPS 180-4 SHA-256 by two other programs (Python's hashlib, the sha256sum of coreutils) over RFC 8785
    # text, which for these bodies is what json.dumps makes with sorted keys and no spaces.
    book = open_book()
    note(book, "über 5 cm³")
    book.add_scan(report(), "Mara")
    previous = ""
    for row in raw().execute("SELECT * FROM entry ORDER BY number"):
        fields = dict(row)
        claimed = fields.pop("hash")
        fields["body"] = json.loads(fields["body"])
        fields["wall_trusted"] = bool(fields["wall_trusted"])
        for name in ("at", "wall"):
            if name in fields["body"]:
                fields["body"][name] = int(fields["body"][name])  # JCS writes 50.0 as 50
        text = json.dumps(fields, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()
        assert hashlib.sha256(text).hexdigest() == claimed
        summed = subprocess.run(["sha256sum"], input=text, capture_output=True, check=True).stdout
        assert summed.split()[0].decode() == claimed
        assert fields["previous"] == previous
        previous = claimed
    assert raw().execute("PRAGMA integrity_check").fetchone()[0] == "ok"


def unlocked(connection):
    """The file without its triggers and checks, as somebody who wants to cheat would make it."""
    for name in [
        row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
    ]:
        connection.execute(f"DROP TRIGGER {name}")
    return connection


@pytest.mark.parametrize(
    ("sql", "number", "words"),
    [
        ('UPDATE entry SET body = \'{"text":"other"}\' WHERE number = 3', 3, "was changed"),
        ('UPDATE entry SET body = \'{"text": "a word"}\' WHERE number = 3', 3, "was changed"),
        ("UPDATE entry SET body = '{\"text\":1e999}' WHERE number = 3", 3, "was changed"),
        ("UPDATE entry SET body = '[]' WHERE number = 3", 3, "was changed"),
        ("UPDATE entry SET operator = 'Ines' WHERE number = 5", 5, "was changed"),
        ("UPDATE entry SET wall_trusted = 0 WHERE number = 1", 1, "was changed"),
        ("DELETE FROM entry WHERE number = 3", 3, "is missing"),
        ("DELETE FROM entry WHERE number IN (1, 2)", 1, "all up to number 2 are missing"),
    ],
)
def test_verify_says_which_number_is_wrong(open_book, raw, sql, number, words):
    book = open_book()
    for _ in range(4):
        note(book)
    assert book.verify() == []
    unlocked(raw()).execute(sql)
    (broken,) = book.verify()
    assert (broken.device, broken.number) == (book.device, number)
    assert words in broken.what


def test_an_entry_changed_together_with_its_hash_is_found_by_the_one_after_it(open_book, raw):
    book = open_book()
    for _ in range(4):
        note(book)
    from app.chain import entry_hash

    changed = msgspec.structs.replace(book.entry(3), body={"text": "other"})
    unlocked(raw()).execute(
        'UPDATE entry SET body = \'{"text":"other"}\', hash = ? WHERE number = 3', (entry_hash(changed),)
    )
    (broken,) = book.verify()
    assert (broken.number, broken.what.split(":")[0]) == (3, "was exchanged")


def test_a_clock_set_back_two_weeks_neither_reorders_nor_is_believed(open_book, hand):
    book = open_book()
    first = note(book)
    hand.wall -= 14 * 86_400
    back = note(book)
    hand.boot, hand.mono = "boot-2", 3.0
    book = open_book()
    later = note(book)
    assert [entry.number for entry in book.entries(CRAFT)] == [later.number, back.number, first.number]
    assert [first.wall_trusted, back.wall_trusted, later.wall_trusted] == [True, False, False]
    assert (later.boot, later.mono_ms) == ("boot-2", 3000)
    hand.wall += 15 * 86_400
    assert note(book).wall_trusted


def test_pages_of_the_list_meet_without_loss_or_repetition(open_book):
    book = open_book()
    for count in range(23):
        note(book, craft=CRAFT if count % 2 else "auk 7")
    for craft, total in ((None, 24), (CRAFT, 11), ("auk 7", 12), ("auk 99", 0)):
        pages, last = [], None
        while page := book.entries(craft, 5, last):
            pages += page
            last = page[-1]
        assert pages == book.entries(craft, 100)
        assert len(pages) == total


def test_the_newest_facts_of_a_craft_win_and_both_stay(open_book):
    book = open_book()
    first = book.add_craft("auk", "1042", "XX-1")
    second = book.add_craft("auk", "1042", "XX-2")
    book.add_craft("auk", "7")
    assert book.newest(CRAFT) == second
    assert book.entry(first.number).body["hull_number"] == "XX-1"
    assert [entry.craft for entry in book.crafts()] == ["auk 7", CRAFT]
    assert book.newest("auk 99") is None


def test_a_craft_seen_again_in_the_same_visit_makes_no_new_entry_and_keeps_its_hull_number(open_book, hand):
    book = open_book()
    first = book.add_craft("auk", "1042", "XX-1")
    hand.pass_by(3600)
    assert book.add_craft("auk", "1042") == first
    assert note(book).visit == first.visit == first.id
    assert note(book, craft="").visit == note(book, craft="auk 7").visit == ""


def test_a_visit_goes_on_over_a_restart_and_ends_when_nothing_was_heard_for_hours(open_book, hand):
    first = open_book().add_craft("auk", "1042")
    hand.boot, hand.mono = "boot-2", 5.0
    hand.wall += 120
    assert open_book().add_craft("auk", "1042").visit == first.visit
    hand.pass_by(5 * 3600)
    later = open_book().add_craft("auk", "1042")
    assert later.visit == later.id != first.visit


def test_a_visit_ends_after_hours_without_a_restart_too_and_never_because_the_clock_was_set(open_book, hand):
    book = open_book()
    first = book.add_craft("auk", "1042")
    hand.wall -= 14 * 86_400
    assert book.add_craft("auk", "1042").visit == first.visit
    hand.mono += 5 * 3600
    assert book.add_craft("auk", "1042").visit != first.visit


def test_the_same_report_is_kept_once(open_book):
    book = open_book()
    scan = book.add_scan(report(), "Mara")
    assert book.add_scan(report(), "Mara") == scan
    assert book.add_scan(report(at=51.0), "Mara").number == scan.number + 1
    clear = book.add_clear(report("clear", at=60.0), "Mara")
    assert msgspec.convert(book.entry(clear.number).body, Report) == report("clear", at=60.0)


def test_a_report_of_the_other_kind_is_not_taken(open_book):
    with pytest.raises(ValueError, match="no clear"):
        open_book().add_clear(report("scan"))


def test_who_signed_in_stands_in_the_book(open_book):
    entry = open_book().sign_in(INES)
    assert (entry.operator, entry.body) == ("Ines", {"role": "dock"})


def test_a_body_that_json_cannot_say_adds_nothing_and_spoils_nothing(open_book):
    book = open_book()
    with pytest.raises(ValueError, match="no JSON form"):
        book.add(Kind.NOTE, "", "", {"value": float("nan")})
    assert note(book).number == 2
    assert book.verify() == []


def test_reading_a_book_never_writes_it(open_book, tmp_path):
    with pytest.raises(StorageError, match="no craft book"):
        Book.read(tmp_path)
    assert list(tmp_path.iterdir()) == []
    added = note(open_book())
    reader = Book.read(tmp_path)
    assert reader.entries(limit=1) == [added]
    with pytest.raises(StorageError, match="may not be written"):
        note(reader)
    reader.close()


def test_a_number_that_is_not_there_is_said_so(open_book):
    with pytest.raises(UsageError, match="no entry 99"):
        open_book().entry(99)
