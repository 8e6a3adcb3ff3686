"""How far the way to the bus is open, and the outlets by which frames leave the gate for other threads."""

from __future__ import annotations

import dataclasses
import enum
import queue
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bus.frame import Frame

QUEUE_BLOCKS = 200_000
"""Blocks a stuck reader may fall behind before blocks are dropped and counted: minutes of a full bus."""


class Way(enum.Enum):
    """How far the way to the bus is open."""

    NO_ADAPTER = enum.auto()
    NEED_RATE = enum.auto()
    LISTENING = enum.auto()
    """Looking for the bit rate, nothing heard so far."""
    QUIET = enum.auto()
    """Open at a known rate (or none is needed), nothing heard."""
    HEARING = enum.auto()


@dataclasses.dataclass(frozen=True)
class GateStatus:
    """What the gate knows of the way; replaced as a whole, so a reader never sees half of it.

    Attributes:
        way: see Way.
        since: seconds on CLOCK_MONOTONIC when it began.
        reason: the sentence of the last adapter error, empty if there is none.
        adapter: in words.
        bitrate: bit/s in use or None.
    """

    way: Way
    since: float
    reason: str = ""
    adapter: str = ""
    bitrate: int | None = None

    def about(self) -> dict[str, object]:
        """Adapter and bit rate, for the notes of a recording."""
        return {"adapter": self.adapter, "bitrate": self.bitrate}


class Outlet:
    """Frames on their way from the gate to one reader; the gate never waits for it.

    Attributes:
        lost: frames dropped because the reader hangs.
    """

    def __init__(self) -> None:
        self._blocks: queue.SimpleQueue[list[Frame]] = queue.SimpleQueue()
        self.lost = 0

    def put(self, frames: list[Frame]) -> None:
        """Hand over a block."""
        if self._blocks.qsize() < QUEUE_BLOCKS:
            self._blocks.put(frames)
        else:
            self.lost += len(frames)

    def take(self, timeout_s: float) -> list[Frame]:
        """The oldest block, or an empty list after ``timeout_s``."""
        try:
            return self._blocks.get(timeout=timeout_s) if timeout_s > 0 else self._blocks.get_nowait()
        except queue.Empty:
            return []
