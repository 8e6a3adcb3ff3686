"""A recording played back as if it came over the wire, at its own pace."""

from __future__ import annotations

import math
import time
from typing import TYPE_CHECKING

from app.errors import AdapterLost
from bus.adapter import Adapter
from bus.frame import digits
from bus.gate import Gate
from bus.recording import RecordingReader

if TYPE_CHECKING:
    from pathlib import Path

    from bus.frame import Frame

UNTIMED_S = 0.002
"""Between frames of a recording that carries no time."""

BLOCK = 500
"""Frames handed on at once at most."""

LONGEST_GAP_S = 2.0
"""A pause in the recording is played no longer than this; the craft counts as lost meanwhile."""


class ReplayWire:
    """Implements bus.wire.Wire over a file; nothing can be sent to the past.

    Attributes:
        listening_only: always True.
    """

    listening_only = True

    def __init__(self, path: Path, speed: float) -> None:
        self._reader = RecordingReader(path)
        self._frames = iter(self._reader)
        self._speed = speed
        self._next: Frame | None = None
        self._due = time.monotonic()
        self._last: float | None = None
        self._ended = False

    @property
    def bad(self) -> int:
        """Lines of the recording that were no frames."""
        return self._reader.unreadable

    def receive(self, timeout_s: float) -> list[Frame]:
        """Frames that are due; see bus.wire.Wire."""
        until = time.monotonic() + timeout_s
        frames: list[Frame] = []
        while not self._ended and len(frames) < BLOCK:
            if self._next is None and not self._fetch():
                break
            now = time.monotonic()
            if self._due > now:
                if frames or self._due > until:
                    break
                time.sleep(self._due - now)
                continue
            assert self._next is not None
            frames.append(self._next._replace(at=now))
            self._next = None
        if not frames:
            time.sleep(max(0.0, until - time.monotonic()))
        return frames

    def _fetch(self) -> bool:
        self._next = next(self._frames, None)
        if self._next is None:
            self._ended = True
            return False
        at = self._next.at
        gap = UNTIMED_S if math.isnan(at) or self._last is None else max(0.0, at - self._last)
        self._last = None if math.isnan(at) else at
        self._due += min(gap, LONGEST_GAP_S) / self._speed
        return True

    def send(self, ident: int, data: bytes) -> None:
        """Never: see bus.wire.Wire."""
        raise AdapterLost(f"A recording takes no frames ({digits(ident)} with {len(data)} bytes).")

    def close(self) -> None:
        """See bus.wire.Wire."""
        self._ended = True


def replay_gate(path: Path, speed: float) -> Gate:
    """A gate whose wire is a recording.

    Raises:
        RecordingError: the file cannot be read (found when it is opened).
    """
    adapter = Adapter("replay", path.name)
    return Gate(adapter, open_wire=lambda *_args, **_options: ReplayWire(path, speed))
