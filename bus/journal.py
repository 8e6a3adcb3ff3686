"""What the bus side must not forget: intents, outputs, transmits, fuel. On the disk before it counts.

A thread of its own writes and syncs, so the gate never waits: it asks, and looks at the ticket later. Each
line carries the hash of the one before, so that a missing or changed line shows.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import queue
import sys
import threading
import time
from typing import TYPE_CHECKING, Any

from bus.disk import sync_folder

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

GAP = "gap"
"""Kind of an entry that no file holds: told where lines are missing or were changed."""


class Ticket:
    """The promise that an entry gets to the disk.

    Attributes:
        synced: it is there.
        failed: one sentence if it will not get there.
    """

    __slots__ = ("failed", "synced")

    def __init__(self) -> None:
        self.synced = False
        self.failed = ""


class Journal:
    """An append-only file of JSON lines.

    Attributes:
        entries: everything that is on the disk, oldest first; never changed.
        told: everything that was read at start or asked for since, whether or not it got to the disk: what
            must not be forgotten counts from the moment it is told.
        at_start: how many of ``told`` were read at start.
        damaged: lines of the file that could not be read (a power cut while writing leaves one).
        gaps: places where the hashes say that a line is missing or was changed.
    """

    def __init__(
        self,
        path: Path,
        *,
        clock: Callable[[], float] = time.monotonic,
        wall: Callable[[], float] = time.time,
        boot_id: str = "",
    ) -> None:
        self._path = path
        self._clock = clock
        self._wall = wall
        self._boot_id = boot_id
        self._queue: queue.SimpleQueue[tuple[dict[str, Any], Ticket] | None] = queue.SimpleQueue()
        self._thread = threading.Thread(target=self._run, name="journal", daemon=True)
        self.entries: list[dict[str, Any]] = []
        self.told: list[dict[str, Any]] = []
        self.damaged = 0
        self.gaps = 0
        self._hash = ""
        self._number = 0
        self._size = 0
        self._torn = False
        self._fd = -1
        self._open()
        self.at_start = len(self.told)

    def _open(self) -> None:
        self._path.parent.mkdir(parents=True, exist_ok=True)
        new = not self._path.exists()
        if not new:
            self._read()
        self._fd = os.open(self._path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
        if new:
            with contextlib.suppress(OSError):  # a file system that cannot is none we could do better on
                sync_folder(self._path.parent)
        self._size = os.fstat(self._fd).st_size

    def _read(self) -> None:
        for raw, entry in read_lines(self._path):
            self._torn = not raw.endswith(b"\n")
            if entry is None:
                self.damaged += 1
                continue
            if entry.get("prev") != self._hash or entry.get("n") != self._number + 1:
                self.gaps += 1
                self.told.append({"kind": GAP, "body": {}})
            self.entries.append(entry)
            self.told.append(entry)
            self._hash = _hash(raw)
            self._number = entry["n"] if isinstance(entry.get("n"), int) else self._number + 1

    def start(self) -> None:
        """Begin; returns at once."""
        self._thread.start()

    def stop(self) -> None:
        """Write what waits, end."""
        self._queue.put(None)
        self._thread.join(10)
        os.close(self._fd)

    def put(self, kind: str, /, **body: Any) -> Ticket:
        """Ask for an entry to be written; returns at once."""
        ticket = Ticket()
        entry = {
            "n": 0,
            "kind": kind,
            "mono": round(self._clock(), 6),
            "wall": round(self._wall(), 3),
            "boot": self._boot_id,
            "body": body,
        }
        self.told.append(entry)
        self._queue.put((entry, ticket))
        return ticket

    def _run(self) -> None:
        while (job := self._queue.get()) is not None:
            batch = [job]
            while not self._queue.empty():
                more = self._queue.get()
                if more is None:
                    self._write(batch)
                    return
                batch.append(more)
            self._write(batch)

    def _write(self, batch: list[tuple[dict[str, Any], Ticket]]) -> None:
        lines, entries, tickets = [], [], []
        number, previous = self._number, self._hash
        for asked, ticket in batch:
            entry = asked | {"n": number + 1, "prev": previous}
            try:
                raw = (json.dumps(entry, separators=(",", ":")) + "\n").encode()
            except (TypeError, ValueError) as error:
                _fail([ticket], f"The journal cannot hold an entry: {error}.")
                continue
            number += 1
            previous = _hash(raw)
            lines.append(raw)
            entries.append(entry)
            tickets.append(ticket)
        sentence = self._to_disk(b"".join(lines))
        if sentence:
            _fail(tickets, sentence)
            return
        self._hash, self._number = previous, number
        self.entries.extend(entries)
        for ticket in tickets:
            ticket.synced = True

    def _to_disk(self, block: bytes) -> str:
        """Write and sync; returns a sentence if it failed.

        What got there of a block that failed is taken back. Where even that fails, the torn line is ended
        before the next is begun.
        """
        whole = b"\n" + block if self._torn else block
        try:
            if os.write(self._fd, whole) != len(whole):
                return self._take_back("the storage is full")
            os.fsync(self._fd)
        except OSError as error:
            return self._take_back(error.strerror or str(error))
        self._torn = False
        self._size += len(whole)
        return ""

    def _take_back(self, why: str) -> str:
        try:
            os.ftruncate(self._fd, self._size)
        except OSError:
            self._torn = True
            with contextlib.suppress(OSError):
                self._size = os.fstat(self._fd).st_size
        return f"The journal cannot be written: {why}."


def _fail(tickets: list[Ticket], sentence: str) -> None:
    print(sentence, file=sys.stderr, flush=True)
    for ticket in tickets:
        ticket.failed = sentence


def read_lines(path: Path) -> Iterator[tuple[bytes, dict[str, Any] | None]]:
    """Every line of a journal as it stands, with its entry or None where it cannot be read."""
    with path.open("rb") as file:
        for raw in file:
            if raw == b"\n":
                continue
            try:
                entry = json.loads(raw)
            except (ValueError, RecursionError):  # the second: brackets nested without end
                entry = None
            sound = isinstance(entry, dict) and "kind" in entry and isinstance(entry.get("body"), dict)
            yield raw, entry if sound else None


def _hash(raw: bytes) -> str:
    """Of a line without its end: a power cut may have taken the end alone."""
    return hashlib.sha256(raw.rstrip(b"\n")).hexdigest()[:32]
