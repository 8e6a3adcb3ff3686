"""Killed, cut off, damaged, full: what was acknowledged stays, and a person is told."""

import random
import shutil
import signal
import sqlite3
import subprocess
import sys
from types import SimpleNamespace

import pytest

from app import store, store_open, store_schema
from app.book import Book
from app.entry import Kind
from app.errors import StorageError

KILLS = 15

ADDER = """
import sys
from pathlib import Path
from app.book import Book
from app.entry import Kind
book = Book.open(Path(sys.argv[1]))
while True:
    entry = book.add(Kind.NOTE, "auk 1042", "Mara", {"text": "x" * 3000})
    print(entry.number, entry.hash, flush=True)
"""


def fill(book, count=40, size=3000):
    first = book.count() + 1
    texts = [f"entry {number} {'x' * size}" for number in range(first, first + count)]
    return [book.add(Kind.NOTE, "auk 1042", "Mara", {"text": text}) for text in texts]


def test_no_acknowledged_entry_is_lost_to_a_kill(tmp_path):
    # The kernel's cache survives a kill: this proves the order of our writes; that they are synced to the
    # medium at every commit is asked of SQLite in test_book.py.
    rng = random.Random(4)
    acknowledged = {}
    for _ in range(KILLS):
        adder = subprocess.Popen([sys.executable, "-c", ADDER, tmp_path], stdout=subprocess.PIPE, text=True)
        said = [adder.stdout.readline() for _ in range(rng.randrange(1, 40))]
        adder.send_signal(signal.SIGKILL)
        said += adder.stdout.readlines()
        adder.wait(20)
        adder.stdout.close()
        whole = [line.split() for line in said if line.endswith("\n")]
        acknowledged |= {int(number): digest for number, digest in whole}
    book = Book.open(tmp_path)
    assert book.notice == ""
    assert book.verify() == []
    kept = {entry.number: entry.hash for entry in book.entries(limit=100_000)}
    assert sorted(kept) == list(range(1, len(kept) + 1))
    assert len(acknowledged) >= KILLS
    assert acknowledged.items() <= kept.items()
    book.close()


def test_a_log_cut_anywhere_leaves_a_shorter_book_and_never_a_broken_one(tmp_path, hand):
    # A torn write at a power cut: the tail of SQLite's log is missing.
    book = Book.open(tmp_path / "whole", hand.clocks())
    fill(book, 12)
    log = (tmp_path / "whole" / "book" / "entries.sqlite-wal").read_bytes()
    lengths = set()
    for cut in random.Random(1).sample(range(len(log)), 40):
        copy = tmp_path / f"cut-{cut}"
        shutil.copytree(tmp_path / "whole", copy)
        (copy / "book" / "entries.sqlite-shm").unlink()
        (copy / "book" / "entries.sqlite-wal").write_bytes(log[:cut])
        cut_book = Book.open(copy, hand.clocks())
        assert cut_book.verify() == []
        cut_book.add(Kind.NOTE, "", "", {"text": "goes on"})
        lengths.add(cut_book.count())
        cut_book.close()
        shutil.rmtree(copy)
    assert len(lengths) > 5
    book.close()


def spoil_page(file):
    """Overwrite the page on which entry 20 stands with noise."""
    place = file.read_bytes().index(b"entry 20 ")
    with file.open("r+b") as handle:
        handle.seek(place // 4096 * 4096)
        handle.write(random.Random(2).randbytes(4096))


def spoil_start(file):
    with file.open("r+b") as handle:
        handle.write(b"\0" * 4096)


def spoil_length(file):
    with file.open("r+b") as handle:
        handle.truncate(file.stat().st_size // 2 + 100)


def lose_all(file):
    file.write_bytes(b"")


def lose_file(file):
    file.unlink()
    file.with_name(f"{file.name}-wal").write_bytes(b"something")


@pytest.mark.parametrize("spoil", [spoil_page, spoil_start, spoil_length, lose_all, lose_file])
def test_a_damaged_book_is_put_aside_untouched_and_a_new_one_begun(open_book, tmp_path, spoil):
    old = open_book()
    fill(old)
    old.close()
    file = tmp_path / "book" / "entries.sqlite"
    spoil(file)
    damaged = file.read_bytes() if file.exists() else None

    book = open_book()
    assert (
        "The craft book was damaged. It was put aside as book-damaged-1 and a new one was begun"
        in book.notice
    )
    assert book.device != old.device
    assert book.entry(1).body["aside"] == "book-damaged-1"
    aside = tmp_path / "book-damaged-1" / "entries.sqlite"
    assert (aside.read_bytes() if aside.exists() else None) == damaged
    assert book.add(Kind.NOTE, "", "", {"text": "goes on"}).number == 2
    book.close()
    assert open_book().notice == ""


def test_what_a_damaged_book_still_says_stands_in_the_new_one_as_it_was(open_book, tmp_path):
    old = open_book()
    written = fill(old, 100)
    old.close()
    spoil_page(tmp_path / "book" / "entries.sqlite")

    book = open_book()
    kept = [entry for entry in book.entries(limit=1000) if entry.device == old.device]
    assert book.entry(1).body["kept"] == len(kept)
    lost = {entry.number for entry in written} - {entry.number for entry in kept}
    assert lost
    assert len(lost) < 5
    assert 20 in lost
    assert [entry for entry in kept if entry.number > 1] == [
        entry for entry in reversed(written) if entry.number not in lost
    ]
    assert book.entry(1).hlc > kept[0].hlc, "the new book goes on in logical time"
    (broken,) = book.verify()
    assert (broken.device, broken.number) == (old.device, min(lost))
    assert "missing" in broken.what


def test_an_entry_that_is_not_as_it_was_written_is_not_taken_over(open_book, raw, tmp_path):
    old = open_book()
    fill(old, 50)
    old.close()
    cheat = raw()
    cheat.execute("DROP TRIGGER entry_no_update")
    cheat.execute("UPDATE entry SET operator = 'Ines' WHERE number = 40")
    cheat.close()
    spoil_page(tmp_path / "book" / "entries.sqlite")
    book = open_book()
    kept = {entry.number for entry in book.entries(limit=1000) if entry.device == old.device}
    assert 39 in kept
    assert 40 not in kept
    assert 40 in {one.number for one in book.verify()}


def test_a_second_damage_keeps_both_old_books(open_book, tmp_path):
    for count in (1, 2):
        book = open_book()
        fill(book, 3)
        book.close()
        spoil_start(tmp_path / "book" / "entries.sqlite")
        book = open_book()
        assert f"book-damaged-{count}" in book.notice
        book.close()
        for name in ("book", f"book-damaged-{count}"):
            assert (tmp_path / name / "entries.sqlite").exists()


def test_a_power_cut_while_putting_aside_loses_nothing_of_what_could_be_read(open_book, tmp_path):
    old = open_book()
    fill(old, 100)
    old.close()
    spoil_page(tmp_path / "book" / "entries.sqlite")
    (tmp_path / "book").rename(tmp_path / "book-damaged-1")  # done, and then the power went
    book = open_book()
    assert book.entry(1).body["kept"] > 90
    assert "put aside as book-damaged-1" in book.notice


def test_a_damaged_book_that_another_program_has_open_is_left_where_it_is(open_book, tmp_path):
    other = open_book()
    fill(other)
    other._store._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    spoil_page(tmp_path / "book" / "entries.sqlite")
    with pytest.raises(StorageError, match="another program has it open"):
        open_book()
    assert (tmp_path / "book").exists()
    assert not (tmp_path / "book-damaged-1").exists()


def test_damage_that_shows_while_reading_is_said_in_plain_words(open_book, tmp_path):
    book = open_book()
    fill(book)
    book.close()
    spoil_page(tmp_path / "book" / "entries.sqlite")
    reader = Book.read(tmp_path)
    with pytest.raises(StorageError, match=r"is damaged\. Start the tool again"):
        reader.verify()
    reader.close()


def test_a_book_of_a_newer_version_is_left_alone(open_book, raw, tmp_path):
    open_book().close()
    raw().execute("PRAGMA user_version = 99")
    before = (tmp_path / "book" / "entries.sqlite").read_bytes()
    for way in (Book.open, Book.read):
        with pytest.raises(StorageError, match="newer version"):
            way(tmp_path)
    assert (tmp_path / "book" / "entries.sqlite").read_bytes() == before
    assert not (tmp_path / "book-damaged-1").exists()


def test_a_book_of_an_older_version_is_brought_forward_with_all_its_entries(open_book, raw, monkeypatch):
    old = open_book()
    written = fill(old, 3)
    old.close()
    step = ("CREATE VIEW note AS SELECT * FROM entry WHERE kind = 'note'",)
    monkeypatch.setattr(store_schema, "MIGRATIONS", (*store_schema.MIGRATIONS, step))
    book = open_book()
    assert book.device == old.device
    assert book.entries(limit=3) == written[::-1]
    assert raw().execute("PRAGMA user_version").fetchone()[0] == len(store_schema.MIGRATIONS)
    assert raw().execute("SELECT COUNT(*) FROM note").fetchone()[0] == 3


def test_a_migration_that_fails_leaves_the_book_as_it_was(open_book, raw, monkeypatch):
    open_book().close()
    step = ("CREATE TABLE half (x)", "this is no SQL")
    monkeypatch.setattr(store_schema, "MIGRATIONS", (*store_schema.MIGRATIONS, step))
    with pytest.raises(StorageError, match="does not answer"):
        open_book()
    assert raw().execute("PRAGMA user_version").fetchone()[0] == len(store_schema.MIGRATIONS) - 1
    with pytest.raises(sqlite3.OperationalError, match="no such table"):
        raw().execute("SELECT * FROM half")


def test_a_book_of_the_first_version_can_be_read_as_it_is_and_grows_with_the_tool(
    open_book, raw, monkeypatch, tmp_path
):
    with monkeypatch.context() as then:
        then.setattr(store_schema, "MIGRATIONS", store_schema.MIGRATIONS[:1])
        book = open_book()
        note = book.add(Kind.NOTE, "auk 1042", "Mara", {"text": "Hull rinsed"})
        book.close()
    reader = Book.read(tmp_path)
    assert reader.entries("auk 1042") == [note]
    reader.close()
    assert raw().execute("PRAGMA user_version").fetchone()[0] == 1
    book = open_book()
    assert book.entries("auk 1042") == [note]
    assert raw().execute("PRAGMA user_version").fetchone()[0] == len(store_schema.MIGRATIONS)
    assert book.verify() == []


FULL = """
import resource, sys
from pathlib import Path
from app.book import Book
from app.entry import Kind
from app.errors import StorageError
book = Book.open(Path(sys.argv[1]))
resource.setrlimit(resource.RLIMIT_FSIZE, (400_000, resource.RLIM_INFINITY))
added = 0
try:
    while added < 10_000:
        book.add(Kind.NOTE, "", "", {"text": "x" * 3000})
        added += 1
except StorageError as error:
    print(error)
resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
book.add(Kind.NOTE, "", "", {"text": "room again"})
print(added, book.count(), len(book.verify()))
"""


def test_a_disk_that_takes_no_more_is_said_and_the_book_goes_on_when_there_is_room(tmp_path):
    done = subprocess.run(
        [sys.executable, "-c", FULL, tmp_path], capture_output=True, text=True, timeout=60, check=False
    )
    assert done.returncode == 0, done.stderr
    sentence, counts = done.stdout.splitlines()
    added, count, broken = map(int, counts.split())
    assert "full" in sentence, sentence
    assert 1 < added < 10_000
    assert (count, broken) == (added + 2, 0)


def test_full_as_sqlite_itself_says_it_is_one_sentence(open_book):
    book = open_book()
    connection = book._store._connection
    pages = connection.execute("PRAGMA page_count").fetchone()[0]
    connection.execute(f"PRAGMA max_page_count = {pages + 2}")
    with pytest.raises(StorageError, match="The storage is full"):
        fill(book)
    connection.execute("PRAGMA max_page_count = 1000000")
    fill(book, 1)
    assert book.verify() == []


@pytest.mark.parametrize(("free", "told"), [(99 * 2**20, True), (100 * 2**20, False)])
def test_little_free_space_is_told_before_it_is_gone(open_book, monkeypatch, free, told):
    book = open_book()
    monkeypatch.setattr(store.shutil, "disk_usage", lambda _: SimpleNamespace(free=free))
    assert ("99 MiB are left" in book.trouble()) is told


def test_a_folder_that_may_not_be_written_is_said_so(tmp_path):
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(StorageError, match="cannot be opened"):
        Book.open(tmp_path / "file" / "data")


def test_a_book_that_another_program_is_opening_for_ever_is_not_waited_for_for_ever(tmp_path, monkeypatch):
    import fcntl

    monkeypatch.setattr(store_open, "OPENING_S", 0.1)
    with (tmp_path / "book.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        with pytest.raises(StorageError, match="being opened by another program"):
            Book.open(tmp_path)


def test_a_check_that_takes_too_long_is_given_up_and_damages_nothing(open_book, monkeypatch):
    old = open_book()
    written = fill(old, 3)
    old.close()
    monkeypatch.setattr(store_open, "CHECK_STEPS", 0)
    monkeypatch.setattr(store_open, "STEPS_AT_A_TIME", 1)
    book = open_book()
    assert book.notice == ""
    assert book.entries(limit=3) == written[::-1]
