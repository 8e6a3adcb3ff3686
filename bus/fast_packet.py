"""Puts NMEA 2000 fast packets together.

A message of more than 8 bytes comes as up to 32 frames. The first byte of each holds a sequence counter
(3 bits), the same in all frames of one packet, and the frame's number (5 bits). Frame 0 goes on with the
length of the whole and 6 bytes of it, the others with 7 bytes each; the rest of the last frame is filling.
Source: the field layout published with the open CANboat database, common/common.h, commit 01d0dc3d.
"""

from __future__ import annotations

LONGEST = 6 + 31 * 7
"""Bytes of the longest packet: 223."""

STALE_S = 0.75
"""From a packet's first frame: by then its sender has long gone on to another (the counter comes round after
eight packets). Our own figure: the frames of one packet follow each other within milliseconds."""


class _Partial:
    """A packet of which some frames have come."""

    __slots__ = ("at", "data", "frames", "length", "sequence")

    def __init__(self, sequence: int, length: int, at: float, data: bytes) -> None:
        self.sequence, self.length, self.at = sequence, length, at
        self.data = bytearray(data)
        self.frames = 1


class FastPackets:
    """Packets under way, one for each sender and parameter group.

    Frames must come in order and without a gap; whatever breaks that drops the packet, so that bytes of two
    packets are never mixed.

    Attributes:
        unused: frames that were dropped with their packet, or had none.
    """

    def __init__(self) -> None:
        self._partial: dict[tuple[int, int], _Partial] = {}
        self.unused = 0

    @property
    def waiting(self) -> int:
        """Frames of packets that are not complete."""
        return sum(partial.frames for partial in self._partial.values())

    def feed(self, source: int, group: int, at: float, data: bytes) -> bytes | None:
        """Take one frame.

        Args:
            source: bus address of the sender.
            group: parameter group number.
            at: seconds; NaN where the recording has no time.
            data: of the frame, 0 to 8 bytes.

        Returns:
            The whole packet if this frame completes it, without the filling.
        """
        key = (source, group)
        if len(data) < 2:
            self.unused += 1
            self._drop(key)
            return None
        sequence, number = data[0] >> 5, data[0] & 0x1F
        if number == 0:
            return self._begin(key, sequence, at, data)
        partial = self._partial.get(key)
        if (
            partial is None
            or partial.sequence != sequence
            or partial.frames != number
            or abs(at - partial.at) > STALE_S
            or len(data) - 1 < min(7, partial.length - len(partial.data))
        ):
            self.unused += 1
            self._drop(key)
            return None
        partial.data += data[1:8]
        partial.frames += 1
        return self._finished(key, partial)

    def _begin(self, key: tuple[int, int], sequence: int, at: float, data: bytes) -> bytes | None:
        self._drop(key)
        length = data[1]
        if not 0 < length <= LONGEST or len(data) - 2 < min(6, length):
            self.unused += 1
            return None
        partial = self._partial[key] = _Partial(sequence, length, at, data[2:8])
        return self._finished(key, partial)

    def _finished(self, key: tuple[int, int], partial: _Partial) -> bytes | None:
        if len(partial.data) < partial.length:
            return None
        del self._partial[key]
        return bytes(partial.data[: partial.length])

    def _drop(self, key: tuple[int, int]) -> None:
        partial = self._partial.pop(key, None)
        if partial is not None:
            self.unused += partial.frames
