"""What the bus side must not forget: intents, outputs, transmits, fuel. On the disk before it counts.

A thread of its own writes and syncs, so the gate never waits: it asks, and looks at the ticket later. Each
line carries the hash of the one before, so that a missing or changed line shows.
"""

from __future__ import annotations

import hashlib
import json
import os
import queue
import sys
import threading
import time
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path


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
        entries: everything read from the file at start and written since, oldest first; never changed.
        damaged: lines of the file that could not be read (a power cut while writing leaves one).
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
        self.damaged = 0
        self._hash = ""
        self._fd = -1
        self._torn = False
        self._open()

    def _open(self) -> None:
        self._path.parent.mkdir(parents=True, exist_ok=True)
        whole = True
        if self._path.exists():
            for raw, entry in read_lines(self._path):
                whole = raw.endswith(b"\n")
                if entry is None:
                    self.damaged += 1
                    continue
                self.entries.append(entry)
                self._hash = _hash(raw)
        self._fd = os.open(self._path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
        self._torn = not whole

    def start(self) -> None:
        """Begin; returns at once."""
        self._thread.start()

    def stop(self) -> None:
        """Write what waits, end."""
        self._queue.put(None)
        self._thread.join(10)
        os.close(self._fd)

    def put(self, kind: str, **body: Any) -> Ticket:
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
        lines = []
        entries = []
        number, previous = len(self.entries), self._hash
        for entry, _ in batch:
            number += 1
            entry = entry | {"n": number, "prev": previous}  # noqa: PLW2901
            raw = (json.dumps(entry, separators=(",", ":")) + "\n").encode()
            previous = _hash(raw)
            lines.append(raw)
            entries.append(entry)
        sentence = self._to_disk(b"".join(lines))
        if sentence:
            print(sentence, file=sys.stderr, flush=True)
            for _, ticket in batch:
                ticket.failed = sentence
            return
        self._hash = previous
        self.entries.extend(entries)
        for _, ticket in batch:
            ticket.synced = True

    def _to_disk(self, block: bytes) -> str:
        """Write and sync; returns a sentence if it failed. A torn line is ended before the next is begun."""
        try:
            whole = b"\n" + block if self._torn else block
            self._torn = True
            if os.write(self._fd, whole) != len(whole):
                return "The journal cannot be written: the storage is full."
            os.fsync(self._fd)
            self._torn = False
        except OSError as error:
            return f"The journal cannot be written: {error.strerror}."
        return ""


def read_lines(path: Path) -> Iterator[tuple[bytes, dict[str, Any] | None]]:
    """Every line of a journal as it stands, with its entry or None where it cannot be read."""
    with path.open("rb") as file:
        for raw in file:
            if raw == b"\n":
                continue
            try:
                entry = json.loads(raw)
            except ValueError:
                entry = None
            yield raw, entry if isinstance(entry, dict) and "kind" in entry else None


def _hash(raw: bytes) -> str:
    return hashlib.sha256(raw).hexdigest()[:32]
