"""How an entry stands in the file of the book, and what the file answers when it cannot take one."""

from __future__ import annotations

import contextlib
import json
import sqlite3
import uuid
from typing import TYPE_CHECKING, Any

import msgspec

from app.entry import Entry
from app.errors import StorageError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

SHOWN = "kind NOT IN ('asked', 'blocked', 'sent')"
"""Entries that are listed unless all are wanted, see app.entry.AUDIT; the indexes below need these words."""

MIGRATIONS: tuple[tuple[str, ...], ...] = (
    (
        "CREATE TABLE book (device TEXT NOT NULL) STRICT",
        """CREATE TABLE entry (
            device TEXT NOT NULL,
            number INTEGER NOT NULL CHECK (number > 0),
            id TEXT NOT NULL,
            craft TEXT NOT NULL,
            visit TEXT NOT NULL,
            hlc TEXT NOT NULL CHECK (length(hlc) = 16),
            wall_ms INTEGER NOT NULL,
            wall_trusted INTEGER NOT NULL CHECK (wall_trusted IN (0, 1)),
            boot TEXT NOT NULL,
            mono_ms INTEGER NOT NULL,
            operator TEXT NOT NULL,
            kind TEXT NOT NULL,
            schema INTEGER NOT NULL,
            body TEXT NOT NULL CHECK (json_valid(body)),
            previous TEXT NOT NULL,
            hash TEXT NOT NULL CHECK (length(hash) = 64),
            UNIQUE (device, number),
            UNIQUE (device, id)
        ) STRICT""",
        "CREATE INDEX entry_by_id ON entry (id)",
        "CREATE INDEX entry_by_time ON entry (hlc, device)",
        "CREATE INDEX entry_by_craft ON entry (craft, kind, hlc)",
        """CREATE TRIGGER entry_no_update BEFORE UPDATE ON entry
            BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END""",
        """CREATE TRIGGER entry_no_delete BEFORE DELETE ON entry
            BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END""",
        # INSERT OR REPLACE deletes without asking the trigger above.
        """CREATE TRIGGER entry_no_replace BEFORE INSERT ON entry
            WHEN EXISTS (SELECT 1 FROM entry WHERE rowid = NEW.rowid
                OR (device = NEW.device AND (number = NEW.number OR id = NEW.id)))
            BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END""",
        """CREATE TRIGGER entry_no_gap BEFORE INSERT ON entry
            WHEN NEW.device = (SELECT device FROM book) AND NEW.number <>
                1 + (SELECT COALESCE(MAX(number), 0) FROM entry WHERE device = NEW.device)
            BEGIN SELECT RAISE(ABORT, 'the numbers of the book have no gaps'); END""",
        """CREATE TRIGGER book_no_update BEFORE UPDATE ON book
            BEGIN SELECT RAISE(ABORT, 'a book keeps its name'); END""",
        """CREATE TRIGGER book_no_delete BEFORE DELETE ON book
            BEGIN SELECT RAISE(ABORT, 'a book keeps its name'); END""",
        """CREATE TRIGGER book_one_row BEFORE INSERT ON book WHEN EXISTS (SELECT 1 FROM book)
            BEGIN SELECT RAISE(ABORT, 'a book keeps its name'); END""",
    ),
    (
        f"CREATE INDEX entry_shown_by_time ON entry (hlc, device) WHERE {SHOWN}",
        f"CREATE INDEX entry_shown_by_craft ON entry (craft, hlc, device) WHERE {SHOWN}",
    ),
    # How far each journal was taken in, see app.journal_file.Mark; losing it costs a reading of it all.
    (
        """CREATE TABLE journal_mark (
            name TEXT NOT NULL PRIMARY KEY,
            offset INTEGER NOT NULL,
            size INTEGER NOT NULL,
            digest TEXT NOT NULL
        ) STRICT""",
    ),
)
"""What brings a book from version n to n + 1; user_version says where it stands."""

_INSERT = """INSERT INTO entry (device, number, id, craft, visit, hlc, wall_ms, wall_trusted,
        boot, mono_ms, operator, kind, schema, body, previous, hash)
    VALUES (:device, :number, :id, :craft, :visit, :hlc, :wall_ms, :wall_trusted,
        :boot, :mono_ms, :operator, :kind, :schema, :body, :previous, :hash)"""


class Damaged(StorageError):
    """The file is not a sound book."""


_IS_BUSY = "The craft book in {folder} is in use by another program that does not let go. Try again."
_IS_CLOSED = "The craft book in {folder} cannot be opened. May this user read and write there?"
_IS_DAMAGED = (
    "The craft book in {folder} is damaged. Start the tool again: it is put aside, and a new one begun."
)
_SENTENCES = {
    sqlite3.SQLITE_FULL: (
        "The storage is full: the craft book in {folder} takes no more. Copy recordings away and delete them."
    ),
    sqlite3.SQLITE_IOERR: "The craft book in {folder} cannot be read or written: is the disk full, failing?",
    sqlite3.SQLITE_READONLY: "The craft book in {folder} may not be written to. Is the storage read-only?",
    sqlite3.SQLITE_CANTOPEN: _IS_CLOSED,
    sqlite3.SQLITE_PERM: _IS_CLOSED,
    sqlite3.SQLITE_BUSY: _IS_BUSY,
    sqlite3.SQLITE_LOCKED: _IS_BUSY,
    sqlite3.SQLITE_CORRUPT: _IS_DAMAGED,
    sqlite3.SQLITE_NOTADB: _IS_DAMAGED,
}
_DAMAGE = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)


@contextlib.contextmanager
def sentences(folder: Path) -> Iterator[None]:
    """Turn what SQLite says into a sentence for a person."""
    try:
        yield
    except sqlite3.Error as error:
        code = getattr(error, "sqlite_errorcode", 0) & 0xFF  # the low byte is the kind, the rest the detail
        words = _SENTENCES.get(code, "The craft book in {folder} does not answer: {error}.")
        kind = Damaged if code in _DAMAGE else StorageError
        raise kind(words.format(folder=folder, error=error)) from error


@contextlib.contextmanager
def writing(connection: sqlite3.Connection, folder: Path) -> Iterator[None]:
    """One transaction: all of it is on the disk afterwards, or nothing."""
    with sentences(folder):
        connection.execute("BEGIN IMMEDIATE")
        try:
            yield
            connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise


def migrate(connection: sqlite3.Connection, folder: Path) -> bool:
    """Bring the file to this version's form, inside a transaction of the caller.

    Returns:
        Whether it is a new book.

    Raises:
        StorageError: a newer version wrote it.
    """
    version = file_version(connection, folder)
    for step, statements in enumerate(MIGRATIONS[version:], version + 1):
        for statement in statements:
            connection.execute(statement)
        connection.execute(f"PRAGMA user_version = {step:d}")
    if version == 0:
        connection.execute("INSERT INTO book (device) VALUES (?)", (str(uuid.uuid4()),))
    return version == 0


def file_version(connection: sqlite3.Connection, folder: Path) -> int:
    """Which version's form the file has; 0 = it is empty.

    Raises:
        StorageError: a newer version wrote it.
    """
    version = int(connection.execute("PRAGMA user_version").fetchone()[0])
    if version > len(MIGRATIONS):
        raise StorageError(
            f"The craft book in {folder} was written by a newer version of this tool. It is left as it is: "
            "install that version again."
        )
    return version


def book_device(connection: sqlite3.Connection, folder: Path) -> str:
    """The UUID a book got when it was begun.

    Raises:
        Damaged: it has lost it.
    """
    row = connection.execute("SELECT device FROM book").fetchone()
    if row is None:
        raise Damaged(f"The craft book in {folder} has lost its name. Put the folder aside and start again.")
    return str(row["device"])


def insert(connection: sqlite3.Connection, entry: Entry, body: str) -> None:
    """Add one entry; ``body`` is its own in canonical form."""
    connection.execute(_INSERT, msgspec.structs.asdict(entry) | {"body": body})


def to_entry(row: sqlite3.Row) -> Entry:
    """An entry as it stands in the file; a body that is no JSON object is shown as text."""
    fields: dict[str, Any] = dict(row)
    try:
        body = json.loads(fields["body"])
    except ValueError:
        body = None
    fields["body"] = body if isinstance(body, dict) else {"unreadable": fields["body"]}
    fields["wall_trusted"] = bool(fields["wall_trusted"])
    return Entry(**fields)
