"""Puts broadcasts of SAE J1939-21 together that are longer than one frame. It only listens.

A sender announces a broadcast (TP.CM with control 32, "BAM": size, packets, group) and follows with TP.DT
frames: a number from 1 and 7 bytes each, the last one filled up with FF. What is agreed between two others
(RTS, CTS) is passed over: it is not for us, and nothing here ever answers.
Source of the layout: shared/reference/standards.md 5.5 (controls as in the open CANboat database; a whole
exchange as captured from the PyPI package can-j1939).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Collection

CONTROL, DATA = 60_416, 60_160
"""Parameter groups TP.CM and TP.DT; both carry a destination."""

BROADCAST = 32
"""Control byte of an announced broadcast."""
ABORT = 255
EVERYBODY = 0xFF
"""The destination of a broadcast."""

PER_PACKET = 7
SHORTEST, LONGEST = 9, 255 * PER_PACKET
"""Bytes; what is shorter fits one frame."""

GAP_S = 0.75
"""Longest time between two frames of a broadcast (timer T1 of SAE J1939-21, from memory; a sender leaves
50 to 200 ms)."""


class Whole(NamedTuple):
    """A broadcast that came whole.

    Attributes:
        source: address of its sender.
        group: its parameter group.
        data: without the filling.
        since: when it was announced; what happened later is not in it.
    """

    source: int
    group: int
    data: bytes
    since: float


class _Partial:
    """A broadcast of which some frames have come."""

    __slots__ = ("at", "data", "group", "packets", "seen", "since", "size")

    def __init__(self, group: int, size: int, packets: int, at: float) -> None:
        self.group, self.size, self.packets, self.at, self.since = group, size, packets, at, at
        self.seen = 0
        self.data = bytearray()


class Broadcasts:
    """Broadcasts under way: at most one for each of the 256 senders, as the standard allows.

    Packets must come in order, each once; whatever breaks that drops the broadcast, so that bytes of two are
    never mixed.

    Attributes:
        unused: frames that were dropped with their broadcast, were malformed, or had none.

    Args:
        groups: parameter groups that are put together; broadcasts of others are passed over.
    """

    def __init__(self, groups: Collection[int]) -> None:
        self._groups = frozenset(groups)
        self._partial: dict[int, _Partial] = {}
        self._others: set[int] = set()
        self.unused = 0

    @property
    def waiting(self) -> int:
        """Frames of broadcasts that are not complete."""
        return sum(1 + partial.seen for partial in self._partial.values())

    @property
    def held(self) -> int:
        """Bytes kept of broadcasts that are not complete."""
        return sum(len(partial.data) for partial in self._partial.values())

    def feed(self, ident: int, at: float, data: bytes) -> Whole | None:
        """Take any frame with a 29-bit identifier.

        Args:
            ident: its identifier; bits above 29 and the priority do not count.
            at: seconds; NaN where the recording has no time.
            data: 0 to 8 bytes.

        Returns:
            The whole broadcast if this frame completes it, without the filling.
        """
        group = ident >> 8 & 0x3FF00
        if group not in {CONTROL, DATA} or ident >> 8 & 0xFF != EVERYBODY:
            return None
        source = ident & 0xFF
        if len(data) != 8:
            self.unused += 1
            self._drop(source)
            return None
        if group == CONTROL:
            self._control(source, at, data)
            return None
        return self._packet(source, at, data)

    def _control(self, source: int, at: float, data: bytes) -> None:
        control = data[0]
        if control not in {BROADCAST, ABORT}:
            return
        self._drop(source)
        self._others.discard(source)
        if control == ABORT:
            return
        size, packets, group = data[1] | data[2] << 8, data[3], data[5] | data[6] << 8 | data[7] << 16
        if not SHORTEST <= size <= LONGEST or packets != -(-size // PER_PACKET):
            self.unused += 1
        elif group in self._groups:
            self._partial[source] = _Partial(group, size, packets, at)
        else:
            self._others.add(source)

    def _packet(self, source: int, at: float, data: bytes) -> Whole | None:
        partial = self._partial.get(source)
        if partial is None:
            self.unused += source not in self._others
            return None
        if data[0] != partial.seen + 1 or abs(at - partial.at) > GAP_S:
            self.unused += 1
            self._drop(source)
            return None
        partial.data += data[1:]
        partial.seen += 1
        partial.at = at
        if partial.seen < partial.packets:
            return None
        del self._partial[source]
        return Whole(source, partial.group, bytes(partial.data[: partial.size]), partial.since)

    def _drop(self, source: int) -> None:
        partial = self._partial.pop(source, None)
        if partial is not None:
            self.unused += 1 + partial.seen
