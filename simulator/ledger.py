"""The ledger: all that the tool asked of the adapter or sent to the craft, and the engine at that moment."""

from __future__ import annotations

import contextlib
import json
import os
import time
from typing import TYPE_CHECKING, Any

from simulator.errors import SimulatorError

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

KEEP = 50_000
"""Entries kept in memory, and violations as many; later ones are counted, and written to the file if there
is one."""


class Ledger:
    """Entries in the order in which they came.

    Attributes:
        entries: what was received, with time, engine and what it did.
        violations: those that should never have come.
        hear: takes identifier, data, extended and remote of a frame that reached the bus and makes its entry;
            None = nobody listens, so that no frame may come.
        count: entries in all; violation_count, violations in all.
    """

    def __init__(
        self,
        engine: Callable[[], dict[str, Any]],
        path: Path | None = None,
        *,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        """Open it.

        Args:
            engine: gives the engine's state for an entry.
            path: file that gets one JSON object a line as they come; None = memory only.
            clock: seconds on CLOCK_MONOTONIC.

        Raises:
            SimulatorError: the file cannot be written.
        """
        self._engine = engine
        self._clock = clock
        self._path = path
        self.entries: list[dict[str, Any]] = []
        self.violations: list[dict[str, Any]] = []
        self.count = self.violation_count = 0
        self.hear: Callable[[int, bytes, bool, bool], None] | None = None
        try:
            flags = os.O_WRONLY | os.O_CREAT | os.O_APPEND
            self._file = None if path is None else os.open(path, flags, 0o600)
        except OSError as error:
            raise SimulatorError(f"The ledger {path} cannot be written: {error.strerror}.") from error

    def enter(self, what: str, did: str, *, violation: str | None = None, **details: Any) -> None:
        """Make an entry.

        Args:
            what: what came: "command" or "frame".
            did: what it did, in words.
            violation: why it should not have come; None = it may.
            details: what else is known, such as the bytes.

        Raises:
            SimulatorError: the file took nothing: the disk is full, or gone.
        """
        entry = {"t": self._clock(), "what": what, "did": did, **self._engine(), **details}
        if violation is not None:
            entry["violation"] = violation
            self.violation_count += 1
            if len(self.violations) < KEEP:
                self.violations.append(entry)
        self.count += 1
        if len(self.entries) < KEEP:
            self.entries.append(entry)
        if self._file is not None:
            try:
                os.write(self._file, json.dumps(entry).encode() + b"\n")
            except OSError as error:
                raise SimulatorError(f"The ledger {self._path} takes no more: {error.strerror}.") from error

    def frame(self, ident: int, data: bytes, *, extended: bool, remote: bool) -> None:
        """A frame of the other side reached the bus."""
        if self.hear is not None:
            self.hear(ident, data, extended, remote)
            return
        self.enter(
            "frame",
            "nothing: it is not offered",
            violation="frame received",
            ident=ident,
            extended=extended,
            remote=remote,
            data=data.hex(),
        )

    def close(self) -> None:
        """Close the file."""
        if self._file is not None:
            with contextlib.suppress(OSError):
                os.close(self._file)
            self._file = None
