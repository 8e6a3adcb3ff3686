"""The craft book on the disk: every question asked of it. One writer; entries are only ever added."""

from __future__ import annotations

import json
import os
import shutil
import threading
from typing import TYPE_CHECKING

from app.chain import Head, seal
from app.journal_file import Mark
from app.store_schema import SHOWN, insert, sentences, to_entry, writing

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from app.clocks import Clocks
    from app.entry import Draft, Entry

LOW_BYTES = 100 * 2**20
"""Free space below which a person is told; the recorder stops at twice this (our own figures)."""

CHUNK = 500
"""Entries read at a time where all are wanted."""


class Store:
    """An open book. Any thread may use it, one at a time.

    Args:
        connection: of a file in this version's form.
        folder: where it stands.
        device: UUID of this book.
        lock: file descriptor to be closed with it.

    Attributes:
        device: UUID of this book; a new book is a new device, so that a number is never used twice.
    """

    def __init__(
        self, connection: sqlite3.Connection, folder: Path, device: str, lock: int | None = None
    ) -> None:
        self.device = device
        self._file_lock = lock
        self._connection = connection
        self._folder = folder
        self._lock = threading.RLock()

    def close(self) -> None:
        """Close the file, and let go of it."""
        with self._lock:
            self._connection.close()
            if self._file_lock is not None:
                os.close(self._file_lock)
                self._file_lock = None

    def append(
        self, drafts: Sequence[Draft], clocks: Clocks, mark: tuple[str, Mark] | None = None
    ) -> list[Entry]:
        """Add entries, all or none; they are on the disk when this returns.

        Args:
            drafts: in their order.
            clocks: what to ask for the time.
            mark: name of the journal they come from, and how far it is read with them.

        Returns:
            Those that were added: a draft with ``once`` whose id is known is left out.

        Raises:
            StorageError: nothing was added.
            ValueError: a body holds something that has no canonical form; nothing was added.
        """
        added = []
        with self._lock, writing(self._connection, self._folder):
            head = self._head()
            known = self._known([draft.id for draft in drafts if draft.once])
            for draft in drafts:
                if draft.once and draft.id in known:
                    continue
                known.add(draft.id)
                entry, body = seal(draft, head, self.device, clocks)
                insert(self._connection, entry, body)
                head = Head(entry.number, entry.hash, entry.hlc)
                added.append(entry)
            if mark is not None:
                name, how_far = mark
                self._connection.execute(
                    "INSERT OR REPLACE INTO journal_mark (name, offset, size, digest) VALUES (?, ?, ?, ?)",
                    (name, how_far.offset, how_far.size, how_far.digest),
                )
        return added

    def mark(self, name: str) -> Mark | None:
        """How far the journal of this name was taken in; None if it never was."""
        rows = self._rows("SELECT offset, size, digest FROM journal_mark WHERE name = ?", name)
        return Mark(**rows[0]) if rows else None

    def start_of(self, output: str, press: str) -> tuple[str, str] | None:
        """Craft and operator of the newest start of this output with this number; None if there is none."""
        for row in self._rows(
            "SELECT * FROM entry WHERE device = ? AND kind = 'output_start' ORDER BY number DESC LIMIT ?",
            self.device,
            CHUNK,  # one that so many others followed has had its end
        ):
            entry = to_entry(row)
            what = entry.body.get("what")
            if isinstance(what, dict) and (what.get("output"), str(what.get("press"))) == (output, press):
                return entry.craft, entry.operator
        return None

    def by_id(self, entry_id: str) -> Entry | None:
        """The entry with this id, None if there is none."""
        return self._one("SELECT * FROM entry WHERE id = ? LIMIT 1", entry_id)

    def by_number(self, number: int, device: str | None = None) -> Entry | None:
        """An entry of a device, of this one if none is named; None if there is no such number."""
        return self._one("SELECT * FROM entry WHERE device = ? AND number = ?", device or self.device, number)

    def entries(
        self, craft: str | None, limit: int, before: Entry | None, *, audit: bool = False
    ) -> list[Entry]:
        """Newest first by logical time; of one craft or of all, with those of app.entry.AUDIT or without."""
        values: list[object] = ["g", ""] if before is None else [before.hlc, before.device]
        wanted = ["(hlc, device) < (?, ?)"]  # "g" sorts after all digits
        if craft is not None:
            wanted.append("craft = ?")
            values.append(craft)
        if not audit:
            wanted.append(SHOWN)
        where = " AND ".join(wanted)  # of the constants above
        sql = f"SELECT * FROM entry WHERE {where} ORDER BY hlc DESC, device DESC LIMIT ?"  # noqa: S608
        return [to_entry(row) for row in self._rows(sql, *values, limit)]

    def hidden(self, craft: str | None) -> int:
        """How many entries of app.entry.AUDIT there are, of one craft or of all."""
        rows = self._rows(
            "SELECT COUNT(*) AS entries FROM entry "
            "WHERE kind IN ('asked', 'blocked', 'sent') AND (?1 IS NULL OR craft = ?1)",
            craft,
        )
        return int(rows[0]["entries"])

    def newest(self, craft: str, kind: str | None = None) -> Entry | None:
        """The newest entry of a craft by logical time, of one kind or of any."""
        if kind is None:
            return self._one(
                "SELECT * FROM entry WHERE craft = ? ORDER BY hlc DESC, device DESC LIMIT 1", craft
            )
        return self._one(
            "SELECT * FROM entry WHERE craft = ? AND kind = ? ORDER BY hlc DESC, device DESC LIMIT 1",
            craft,
            kind,
        )

    def newest_of_each(self, kind: str) -> list[Entry]:
        """The newest entry of this kind of every craft, newest craft first."""
        rows = self._rows(
            "SELECT * FROM entry AS e WHERE kind = ?1 AND craft <> '' AND NOT EXISTS "
            "(SELECT 1 FROM entry AS n WHERE n.craft = e.craft AND n.kind = ?1 "
            "AND (n.hlc, n.device) > (e.hlc, e.device)) "
            "ORDER BY hlc DESC, device DESC",
            kind,
        )
        return [to_entry(row) for row in rows]

    def in_order(self) -> Iterator[tuple[Entry, str]]:
        """Every entry with its body as stored, by device and number."""
        device, number = "", 0
        while rows := self._rows(
            "SELECT * FROM entry WHERE (device, number) > (?, ?) ORDER BY device, number LIMIT ?",
            device,
            number,
            CHUNK,
        ):
            for row in rows:
                yield to_entry(row), str(row["body"])
            device, number = rows[-1]["device"], rows[-1]["number"]

    def count(self) -> int:
        """How many entries there are, of all devices."""
        return int(self._rows("SELECT COUNT(*) AS entries FROM entry")[0]["entries"])

    def room(self) -> str:
        """A sentence if the disk is nearly full, else empty."""
        free = shutil.disk_usage(self._folder).free
        if free >= LOW_BYTES:
            return ""
        return (
            f"The storage is nearly full: {free // 2**20} MiB are left. Copy recordings away and delete them."
        )

    def _known(self, ids: list[str]) -> set[str]:
        """Which of these entries are there already."""
        known: set[str] = set()
        for start in range(0, len(ids), CHUNK):
            part = json.dumps(ids[start : start + CHUNK])
            rows = self._rows("SELECT id FROM entry WHERE id IN (SELECT value FROM json_each(?))", part)
            known.update(row["id"] for row in rows)
        return known

    def _head(self) -> Head:
        rows = self._rows(
            "SELECT number, hash FROM entry WHERE device = ? ORDER BY number DESC LIMIT 1", self.device
        )
        newest = self._rows("SELECT MAX(hlc) AS hlc FROM entry")
        number, digest = (rows[0]["number"], rows[0]["hash"]) if rows else (0, "")
        return Head(number, digest, newest[0]["hlc"] or "")

    def _one(self, sql: str, *values: object) -> Entry | None:
        rows = self._rows(sql, *values)
        return to_entry(rows[0]) if rows else None

    def _rows(self, sql: str, *values: object) -> list[sqlite3.Row]:
        with self._lock, sentences(self._folder):
            return self._connection.execute(sql, values).fetchall()
