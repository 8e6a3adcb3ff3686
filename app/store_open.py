"""Opens the file of the craft book: a damaged one is put aside, what it still says is taken over.

A book stands in a folder of its own: putting it aside is one renaming, whenever the power goes.
"""

from __future__ import annotations

import contextlib
import fcntl
import os
import sqlite3
import time
from typing import TYPE_CHECKING

import msgspec

from app.canonical import canonical
from app.chain import is_sound
from app.errors import StorageError
from app.store import Store
from app.store_schema import Damaged, book_device, file_version, insert, migrate, sentences, to_entry, writing

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from app.entry import Entry

FOLDER = "book"
FILE = "entries.sqlite"
LOCK = "book.lock"
ASIDE = "book-damaged-"

BUSY_MS = 5000
"""How long SQLite waits for another writer."""

CHECK_STEPS = 50
"""The check at start is given up after this many times STEPS_AT_A_TIME steps of SQLite, seconds on a handheld
(our own figure): a book so large is not held up, and not called damaged."""

STEPS_AT_A_TIME = 1_000_000

OPENING_S = 20.0
"""How long another program may take to open the book before we give up (our own figure)."""


class Opened(msgspec.Struct, frozen=True):
    """A book that was opened.

    Attributes:
        store: the open book.
        aside: name of the folder where a damaged book stands; empty if there was none.
        kept: entries taken over from it.
    """

    store: Store
    aside: str
    kept: int


def open_store(data: Path) -> Opened:
    """Open the book of a data folder for writing; begin one if there is none or if it is damaged.

    Raises:
        StorageError: it cannot be opened; it is left as it is.
    """
    folder = data / FOLDER
    try:
        data.mkdir(parents=True, exist_ok=True)
        lock = os.open(data / LOCK, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    except OSError as error:
        raise StorageError(f"The craft book in {folder} cannot be opened: {error.strerror}.") from error
    try:
        alone = _wait_for(lock, folder)
        if folder.exists() and not _is_sound(folder):
            _put_aside(folder, alone=alone)
        opened = _begin(data, folder, lock)
        fcntl.flock(lock, fcntl.LOCK_SH)
    except BaseException:
        os.close(lock)
        raise
    return opened


def read_store(data: Path) -> Store:
    """Open the book of a data folder for reading.

    Raises:
        StorageError: there is none, or it cannot be read.
    """
    folder = data / FOLDER
    if not (folder / FILE).exists():
        raise StorageError(
            f"There is no craft book in {data} yet. It is begun when the tool is first started."
        )
    with sentences(folder), contextlib.ExitStack() as undo:
        connection = undo.enter_context(contextlib.closing(_connect(folder, "ro")))
        if file_version(connection, folder) == 0:
            raise StorageError(f"The craft book in {folder} is empty.")
        device = book_device(connection, folder)
        undo.pop_all()
    return Store(connection, folder, device)


def _wait_for(lock: int, folder: Path) -> bool:
    """Wait until nobody is about to open the book.

    Returns:
        Whether nobody else has it open.
    """
    until = time.monotonic() + OPENING_S
    while True:
        for mode, alone in ((fcntl.LOCK_EX, True), (fcntl.LOCK_SH, False)):
            with contextlib.suppress(BlockingIOError):
                fcntl.flock(lock, mode | fcntl.LOCK_NB)
                return alone
        if time.monotonic() > until:
            raise StorageError(
                f"The craft book in {folder} is being opened by another program. Try again in a minute."
            )
        time.sleep(0.05)


def _connect(folder: Path, mode: str) -> sqlite3.Connection:
    connection = sqlite3.connect(
        f"{(folder / FILE).absolute().as_uri()}?mode={mode}",
        uri=True,
        isolation_level=None,
        check_same_thread=False,
        timeout=BUSY_MS / 1000,
    )
    connection.row_factory = sqlite3.Row
    connection.text_factory = lambda raw: raw.decode(errors="replace")
    return connection


def _is_sound(folder: Path) -> bool:
    """Look whether the folder holds a sound database, or nothing yet.

    A file that is missing beside its log, or has no length, once held a book: SQLite would begin a new one.
    """
    file = folder / FILE
    if not file.exists():
        return not any(folder.iterdir())
    if file.stat().st_size == 0:
        return False
    steps = 0

    def too_long() -> bool:
        nonlocal steps
        steps += 1
        return steps > CHECK_STEPS

    with contextlib.closing(_connect(folder, "rw")) as connection:
        connection.set_progress_handler(too_long, STEPS_AT_A_TIME)
        try:
            with sentences(folder):
                return [row[0] for row in connection.execute("PRAGMA quick_check(1)")] == ["ok"]
        except Damaged:
            return False
        except StorageError:
            if steps > CHECK_STEPS:
                return True
            raise


def _put_aside(folder: Path, *, alone: bool) -> None:
    if not alone:
        raise Damaged(
            f"The craft book in {folder} is damaged, and another program has it open. "
            "Close that one, then start again."
        )
    number = 1
    while (aside := folder.with_name(f"{ASIDE}{number}")).exists():
        number += 1
    try:
        folder.rename(aside)
    except OSError as error:
        raise StorageError(
            f"The craft book in {folder} is damaged and cannot be put aside: {error.strerror}."
        ) from error


def _begin(data: Path, folder: Path, lock: int) -> Opened:
    """Open for writing; a new book takes over what damaged ones still hold."""
    folder.mkdir(mode=0o700, exist_ok=True)
    aside, kept = "", 0
    with sentences(folder):
        connection = _connect(folder, "rwc")
        try:
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = FULL")
            with writing(connection, folder):
                if migrate(connection, folder):
                    aside, kept = _take_over(connection, data)
                device = book_device(connection, folder)
            for place in (folder, data):
                _sync(place)
        except BaseException:
            connection.close()
            raise
    return Opened(Store(connection, folder, device, lock), aside, kept)


def _take_over(connection: sqlite3.Connection, data: Path) -> tuple[str, int]:
    """Add the sound entries of every book that was put aside; they keep their device and number."""
    folders = [path for path in data.glob(f"{ASIDE}*") if path.name.removeprefix(ASIDE).isdecimal()]
    folders.sort(key=lambda path: int(path.name.removeprefix(ASIDE)))
    taken: set[tuple[str, int]] = set()
    for folder in folders:
        for entry in _readable(folder):
            if (entry.device, entry.number) not in taken:
                insert(connection, entry, canonical(entry.body))
                taken.add((entry.device, entry.number))
    return (folders[-1].name if folders else "", len(taken))


def _readable(folder: Path) -> Iterator[Entry]:
    """What a damaged book still says, read without changing it: from its start, then back from its end."""
    with contextlib.suppress(sqlite3.Error), contextlib.closing(_connect(folder, "ro")) as connection:
        for order in ("SELECT * FROM entry ORDER BY rowid", "SELECT * FROM entry ORDER BY rowid DESC"):
            with contextlib.suppress(sqlite3.Error):
                for row in connection.execute(order):
                    entry = to_entry(row)
                    if is_sound(entry, row["body"]):
                        yield entry


def _sync(folder: Path) -> None:
    """Make the names in a folder last."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
