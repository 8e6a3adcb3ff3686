"""Which entry came first, on handhelds whose clock may be wrong.

A hybrid logical clock (Kulkarni and others, "Logical Physical Clocks", 2014): the newest trusted wall time in
milliseconds, and a count behind it. It never goes back, whatever the wall clock does.
"""

from __future__ import annotations

import dataclasses
import time
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import msgspec

if TYPE_CHECKING:
    from collections.abc import Callable

COUNT_BITS = 16
"""Of the logical clock, behind the milliseconds; text of 16 hexadecimal digits sorts like the number."""

EARLIEST_MS = int(datetime(2025, 11, 24, tzinfo=UTC).timestamp() * 1000)
"""A wall clock before this was never set: the tool is younger."""

LATEST_MS = int(datetime(2100, 1, 1, tzinfo=UTC).timestamp() * 1000)
"""A wall clock after this is broken (our own figure); it must not drag the logical clock along."""


class Stamp(msgspec.Struct, frozen=True):
    """The time of one entry.

    Attributes:
        hlc: the logical clock as text that sorts.
        wall_ms: the wall clock, milliseconds since 1970, as it was.
        wall_trusted: False if the wall clock was never set, or stood before the newest entry.
    """

    hlc: str
    wall_ms: int
    wall_trusted: bool


@dataclasses.dataclass(frozen=True)
class Clocks:
    """What the book asks for the time.

    Attributes:
        boot: id of this start of the machine; monotonic times compare only within it.
        wall: seconds since 1970.
        mono: seconds on CLOCK_MONOTONIC.
    """

    boot: str
    wall: Callable[[], float] = time.time
    mono: Callable[[], float] = time.monotonic


def stamp(newest: str, wall_ms: int) -> Stamp:
    """The time of an entry to be added now.

    Args:
        newest: logical clock of the newest entry known, of whatever device; empty if there is none.
        wall_ms: what the wall clock says, milliseconds since 1970.
    """
    last = int(newest, 16) if newest else 0
    trusted = max(EARLIEST_MS, milliseconds(newest)) <= wall_ms < LATEST_MS
    hlc = max(last + 1, EARLIEST_MS << COUNT_BITS, wall_ms << COUNT_BITS if trusted else 0)
    return Stamp(f"{hlc:016x}", wall_ms, trusted)


def milliseconds(hlc: str) -> int:
    """The newest trusted wall time a logical clock knows of, milliseconds since 1970; 0 if none."""
    return int(hlc, 16) >> COUNT_BITS if hlc else 0
