"""The book takes in the bus side's journal: every line once, in its order, whatever happens to the file."""

import json
import shutil

import pytest

from app import book as book_module
from app.book import Book
from app.entry import Kind
from app.errors import StorageError
from app.journal_file import read_journal
from bus.journal import Journal, read_lines

CRAFT = "auk 1042"


@pytest.fixture
def path(tmp_path):
    return tmp_path / "journal.jsonl"


@pytest.fixture
def write(path, hand):
    """The real journal of the bus side, opened, written and closed again."""

    def run(*lines):
        journal = Journal(path, clock=lambda: hand.mono, wall=lambda: hand.wall, boot_id=hand.boot)
        journal.start()
        for kind, body in lines:
            journal.put(kind, **body)
        journal.stop()

    return run


def started(press=1, **more):
    body = {"output": "injector_1", "press": press, "craft": CRAFT, "operator": "Mara", "cylinder": 1}
    return ("output_start", body | {"fuel_cm3": 0.0633} | more)


def ended(press=1, **more):
    body = {
        "output": "injector_1",
        "press": press,
        "fired": True,
        "confirmed": True,
        "cause": "Finger lifted",
    }
    return ("output_end", body | more)


PRESS = (
    ("confirm", {"what": "no_smell", "operator": "Mara", "craft": CRAFT}),
    ("proved", {"craft": CRAFT}),
    started(),
    ended(),
    (
        "refused",
        {"output": "injector_1", "operator": "Mara", "craft": None, "needs": ["key_on"], "cause": "Off."},
    ),
    ("purge", {"craft": CRAFT}),
    ("leak", {"craft": CRAFT, "operator": "Mara"}),
    ("vented", {"craft": CRAFT, "what": "fuel"}),
    ("locked", {"craft": CRAFT, "words": "Injector 1 was not confirmed stopped"}),
    ("settled", {"craft": CRAFT}),
)


def taken(book):
    """The journal's entries in the book, oldest first."""
    return [entry for entry in reversed(book.entries(limit=10_000)) if "journal" in entry.body]


def numbers(book):
    return [entry.body["journal"]["n"] for entry in taken(book)]


def test_every_line_of_the_real_journal_becomes_one_entry_in_its_order(open_book, write, path):
    write(*PRESS)
    book = open_book()
    result = book.take_journal(path)
    assert (result.added, result.damaged, result.waiting) == (len(PRESS), 0, False)
    assert [entry.kind for entry in taken(book)] == [kind for kind, _ in PRESS]
    assert [entry.body["what"] for entry in taken(book)] == [body for _, body in PRESS]
    assert book.verify() == []


def test_the_same_journal_taken_twice_adds_nothing_in_this_run_or_after_a_restart(open_book, write, path):
    write(*PRESS)
    book = open_book()
    book.take_journal(path)
    assert book.take_journal(path).added == 0
    book.close()
    book = open_book()
    assert book.take_journal(path).added == 0
    write(started(2), ended(2))
    assert book.take_journal(path).added == 2
    assert numbers(book) == list(range(1, len(PRESS) + 3))


def test_two_programs_that_take_the_same_journal_add_it_once(open_book, write, path):
    one, two = open_book(), open_book()
    for press in range(5):
        write(started(press), ended(press))
        for book in (one, two) if press % 2 else (two, one):
            book.take_journal(path)
    assert numbers(one) == list(range(1, 11))


def test_an_end_is_booked_on_the_craft_and_person_of_its_start(open_book, write, path):
    write(started())
    book = open_book()
    book.take_journal(path)
    write(ended())
    book.take_journal(path)
    end = taken(book)[-1]
    assert (end.kind, end.craft, end.operator) == ("output_end", CRAFT, "Mara")


def test_an_end_finds_its_start_after_a_restart_too(open_book, write, path):
    write(started())
    open_book().take_journal(path)
    write(ended())
    book = open_book()
    book.take_journal(path)
    assert (taken(book)[-1].craft, taken(book)[-1].operator) == (CRAFT, "Mara")


def test_what_the_journal_says_of_a_craft_belongs_to_its_visit(open_book, write, path):
    book = open_book()
    seen = book.add_craft("auk", "1042")
    write(*PRESS)
    book.take_journal(path)
    assert {entry.visit for entry in taken(book) if entry.craft == CRAFT} == {seen.id}


def test_a_line_cut_anywhere_waits_and_is_taken_when_it_is_whole(open_book, write, path, tmp_path):
    write(started(), ended())
    whole = path.read_bytes()
    first = whole.index(b"\n") + 1
    for cut in range(first, len(whole), 17):
        copy = tmp_path / f"cut-{cut}.jsonl"
        copy.write_bytes(whole[:cut])
        book = open_book(tmp_path / f"data-{cut}")
        result = book.take_journal(copy)
        assert (result.added, result.damaged, result.waiting) == (1, 0, cut > first)
        copy.write_bytes(whole)
        assert book.take_journal(copy).added == 1
        assert [entry.kind for entry in taken(book)] == ["output_start", "output_end"]


def test_a_line_torn_by_a_power_cut_is_told_once_and_the_lines_after_it_count(open_book, write, path):
    write(started(), ended())
    path.write_bytes(path.read_bytes()[:-30])
    write(started(2))  # the bus side ends the torn line before it goes on
    book = open_book()
    assert (book.take_journal(path).damaged, open_book().take_journal(path).added) == (1, 0)
    kinds = [entry.kind for entry in reversed(book.entries())][1:]
    assert kinds == ["output_start", Kind.JOURNAL_DAMAGED, "output_start"]
    assert '"output_end"' in book.entries()[1].body["text"]


@pytest.mark.parametrize(
    "line",
    [
        b"\0" * 40,
        b"\xff\xfe",
        b"[1, 2]",
        b'{"kind": "confirm"}',
        b'{"kind": "confirm", "body": []}',
        b'{"kind": 5, "body": {}}',
        b'{"kind": "confirm", "body": {"x": NaN}}',
        b'{"kind": "confirm", "body": {"x": 1e999}}',
        b'{"kind": "confirm", "body": {"x": 123456789012345678901}}',
        b'{"kind": "confirm", "body": {"x": "\\ud800"}}',
        b"[" * 100_000,
    ],
)
def test_a_line_that_makes_no_sense_stops_nothing(open_book, write, path, line):
    write(started())
    write(ended())
    first, second = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(first + line + b"\n" + second)
    book = open_book()
    result = book.take_journal(path)
    assert (result.added, result.damaged) == (3, 1)
    assert book.take_journal(path).added == 0
    assert book.verify() == []


def test_a_kind_of_a_newer_bus_side_is_kept_as_it_is(open_book, write, path):
    write(("moon_phase", {"craft": CRAFT, "phase": "full"}))
    book = open_book()
    book.take_journal(path)
    (entry,) = taken(book)
    assert (entry.kind, entry.craft, entry.body["journal"]["kind"]) == (Kind.JOURNAL, CRAFT, "moon_phase")
    assert entry.body["what"]["phase"] == "full"


@pytest.mark.parametrize("restart", [False, True])
def test_a_journal_put_aside_and_begun_again_is_taken_without_loss_or_repetition(
    open_book, write, path, restart
):
    book = open_book()
    write(started(1))
    book.take_journal(path)
    write(ended(1))  # not taken yet when the file is put aside
    path.rename(path.with_name("journal.jsonl.2"))
    write(started(2), ended(2))
    path.rename(path.with_name("journal.jsonl.1"))
    write(started(3))
    if restart:
        book = open_book()
    assert book.take_journal(path).added == 4
    assert [entry.body["what"]["press"] for entry in taken(book)] == [1, 1, 2, 2, 3]
    write(ended(3))
    assert book.take_journal(path).added == 1


def test_a_journal_that_was_empty_when_first_looked_at_loses_nothing_when_it_is_put_aside(
    open_book, write, path
):
    book = open_book()
    path.write_bytes(b"")
    book.take_journal(path)
    write(started(1))
    path.rename(path.with_name("journal.jsonl.1"))
    write(ended(1))
    assert book.take_journal(path).added == 2


def test_a_file_begun_again_in_the_same_place_is_read_from_its_start(open_book, write, path):
    book = open_book()
    write(started(1))
    book.take_journal(path)
    path.write_bytes(b"")
    write(started(2), ended(2), started(3))
    assert book.take_journal(path).added == 3


def test_a_new_book_that_took_over_an_old_one_knows_what_was_taken_from_the_journal(
    open_book, write, path, tmp_path
):
    write(*PRESS)
    book = open_book()
    book.take_journal(path)
    book.close()
    (tmp_path / "book").rename(tmp_path / "book-damaged-1")
    book = open_book()
    assert book.entry(1).body["kept"] == len(PRESS) + 1
    assert book.take_journal(path).added == 0
    write(started(2))
    assert book.take_journal(path).added == 1
    assert book.verify() == []


def test_when_the_book_takes_no_more_the_lines_are_not_forgotten(open_book, write, path):
    write(*PRESS)
    book = open_book()
    connection = book._store._connection
    connection.execute("PRAGMA query_only = 1")
    with pytest.raises(StorageError):
        book.take_journal(path)
    connection.execute("PRAGMA query_only = 0")
    assert book.take_journal(path).added == len(PRESS)


def test_a_journal_that_is_not_there_yet_has_nothing_to_say(open_book, path, write):
    book = open_book()
    assert book.take_journal(path).added == 0
    write(started())
    assert book.take_journal(path).added == 1


def test_a_journal_that_cannot_be_read_is_said_so(open_book, path):
    path.mkdir()
    with pytest.raises(StorageError, match="cannot be read"):
        open_book().take_journal(path)


def test_both_readers_of_the_format_see_the_same_lines(write, path):
    write(*PRESS)
    with path.open("ab") as file:
        file.write(b"\n\n{torn\n")
    write(started(9))
    ours = [line.fields for line in read_journal(path).lines]
    assert ours == [entry for _, entry in read_lines(path)]
    assert ours[-1] == json.loads(path.read_bytes().splitlines()[-1])


def test_the_book_remembers_how_far_it_has_read(open_book, write, path, monkeypatch):
    asked = []

    def reading(place, mark):
        asked.append(mark)
        return read_journal(place, mark)

    monkeypatch.setattr(book_module, "read_journal", reading)
    write(*PRESS)
    book = open_book()
    book.take_journal(path)
    book.take_journal(path)
    book.close()
    open_book().take_journal(path)  # after a restart too
    assert [mark and mark.offset for mark in asked] == [None, *[path.stat().st_size] * 2]


@pytest.mark.parametrize(
    "change",
    ["offset = offset + 1", "offset = 3", "offset = -1", "size = size - 1", "size = 0", "digest = 'x'"],
)
def test_a_mark_that_does_not_fit_costs_a_reading_and_nothing_else(open_book, write, path, raw, change):
    write(*PRESS)
    book = open_book()
    book.take_journal(path)
    assert raw().execute(f"UPDATE journal_mark SET {change}").rowcount == 1
    write(started(2), ended(2))
    assert book.take_journal(path).added == 2
    assert numbers(book) == list(range(1, len(PRESS) + 3))


def test_the_mark_goes_no_further_than_the_entries_that_are_on_the_disk(open_book, write, path, raw):
    write(started())
    book = open_book()
    book.take_journal(path)
    before = tuple(raw().execute("SELECT * FROM journal_mark").fetchone())
    write(ended())
    raw().execute(
        "CREATE TRIGGER full BEFORE INSERT ON entry WHEN NEW.kind = 'output_end' "
        "BEGIN SELECT RAISE(ABORT, 'no more'); END"
    )
    with pytest.raises(StorageError):
        book.take_journal(path)
    assert tuple(raw().execute("SELECT * FROM journal_mark").fetchone()) == before
    raw().execute("DROP TRIGGER full")
    assert book.take_journal(path).added == 1


def test_an_end_belongs_to_the_newest_start_of_its_number_over_restarts(open_book, write, path):
    """Presses are counted anew by every bus process."""
    for who in ("Ines", "Mara"):
        write(started(1, operator=who))
        open_book().take_journal(path)
    write(started(2, operator="Ines"))
    write(ended(1))
    book = open_book()
    book.take_journal(path)
    assert (taken(book)[-1].craft, taken(book)[-1].operator) == (CRAFT, "Mara")


def test_thousands_of_lines_stand_in_the_order_of_the_journal_with_what_they_say(open_book, write, path):
    total = 3000
    write(*[started(number) if number % 2 else ended(number - 1) for number in range(1, total + 1)])
    book = open_book()
    assert book.take_journal(path).added == total
    assert numbers(book) == list(range(1, total + 1))
    lines = [entry for _, entry in read_lines(path)]
    assert [entry.body["what"] for entry in taken(book)] == [line["body"] for line in lines]
    assert book.verify() == []
    assert open_book().take_journal(path).added == 0


def test_reading_on_costs_only_the_new_lines(write, path):
    write(*PRESS)
    first = read_journal(path)
    write(started(2))
    second = read_journal(path, first.mark)
    assert [line.fields["body"]["press"] for line in second.lines] == [2]
    assert read_journal(path, second.mark).lines == []


def test_a_book_copied_while_it_is_open_can_be_read(open_book, write, path, tmp_path):
    write(*PRESS)
    book = open_book()
    book.take_journal(path)
    shutil.copytree(tmp_path / "book", tmp_path / "copy" / "book")
    reader = Book.read(tmp_path / "copy")
    assert reader.count() == book.count()
    reader.close()
