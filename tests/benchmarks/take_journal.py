"""What taking in the journal costs: CPU of the book, against plain sqlite3 inserting the same rows.

    .venv/bin/python tests/benchmarks/take_journal.py

A journal of 10,000 lines, as readings leave them, is taken into a new book; then the book is closed and
opened again, and the journal looked at once more. The yardstick puts the very same rows into a table of the
same form (indexes and triggers too) with ``executemany`` in one transaction; it makes no hashes and reads no
journal.
The machine may be shared: quote the ratios, not the seconds.
"""

import contextlib
import sqlite3
import statistics
import tempfile
import time
from pathlib import Path

from app.book import Book
from app.store_schema import MIGRATIONS
from bus.journal import Journal

LINES = 10_000
ROUNDS = 3


def write_journal(path):
    journal = Journal(path, boot_id="benchmark")
    journal.start()
    for number in range(LINES):
        journal.put(
            "asked",
            craft="auk 1042",
            operator="Mara",
            asked=f"Reading {number % 65536:04X} of the engine controller",
            why="scan",
            request=f"22{number % 65536:04x}",
            to="7E0",
            frames=2,
            result="answered",
            bytes=number % 200,
            took_s=round(0.01 + number % 97 / 1000, 3),
        )
    journal.stop()


def ours(data, path):
    """CPU seconds of the first taking, and of a look after a new start."""
    spent = []
    for _ in range(2):
        with contextlib.closing(Book.open(data)) as book:
            began = time.process_time()
            book.take_journal(path)
            spent.append(time.process_time() - began)
    return spent


def plain(data, target):
    """CPU seconds of putting the same rows into a new file of the same form."""
    with contextlib.closing(sqlite3.connect(data / "book" / "entries.sqlite")) as book:
        device = book.execute("SELECT device FROM book").fetchone()
        rows = book.execute("SELECT * FROM entry ORDER BY number").fetchall()
    with contextlib.closing(sqlite3.connect(target, isolation_level=None)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
        for statement in (statement for step in MIGRATIONS for statement in step):
            connection.execute(statement)
        connection.execute("INSERT INTO book VALUES (?)", device)
        began = time.process_time()
        connection.execute("BEGIN IMMEDIATE")
        connection.executemany(f"INSERT INTO entry VALUES ({', '.join('?' * 16)})", rows)
        connection.execute("COMMIT")
        return time.process_time() - began


def main():
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "journal.jsonl"
        write_journal(path)
        rows = []
        for number in range(ROUNDS):
            data = Path(folder) / f"data-{number}"
            first, again = ours(data, path)
            rows.append((first, again, plain(data, Path(folder) / f"plain-{number}.sqlite")))
    first, again, yardstick = (statistics.median(column) for column in zip(*rows, strict=True))
    print(
        f"{LINES} new lines {first:.2f} s, {first / yardstick:.1f} times plain inserting; "
        f"nothing new after a start {again:.3f} s, {again / yardstick:.2f} times"
    )


if __name__ == "__main__":
    main()
