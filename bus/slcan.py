"""The serial-line CAN text protocol, as bytes in and frames out; opens nothing.

Commands end in CR; an adapter answers CR for yes and BEL for no, and sends received frames as
``tIIILDD…`` (11-bit), ``TIIIIIIIILDD…`` (29-bit), ``r``/``R`` (remote), each perhaps with four hex digits of
time stamp behind. The same protocol is spoken by the Linux kernel's slcan driver and by python-can.
"""

from __future__ import annotations

from bus.frame import EXTENDED, Frame

RATE_COMMANDS = {
    10_000: b"S0\r",
    20_000: b"S1\r",
    50_000: b"S2\r",
    100_000: b"S3\r",
    125_000: b"S4\r",
    250_000: b"S5\r",
    500_000: b"S6\r",
    800_000: b"S7\r",
    1_000_000: b"S8\r",
}
"""bit/s to the command that sets it."""

OPEN = b"O\r"
LISTEN = b"L\r"
CLOSE = b"C\r"

_T, _BIG_T, _R, _BIG_R = b"tTrR"
_BEL = 7
_LONGEST = 64
"""Bytes; the longest line of the protocol is 31. More without CR is noise, not a line."""


def frame_line(ident: int, data: bytes) -> bytes:
    """The transmit command for a data frame.

    Args:
        ident: identifier, bit 31 set for 29-bit ones.
        data: 0 to 8 bytes.
    """
    if ident & EXTENDED:
        return b"T%08X%d%s\r" % (ident & ~EXTENDED, len(data), data.hex().upper().encode())
    return b"t%03X%d%s\r" % (ident, len(data), data.hex().upper().encode())


class LineDecoder:
    """Turns what the serial line delivers, in blocks of any size, into frames.

    Attributes:
        noise: lines that were neither frame nor answer.
        answers: yes (True) and no (False) answers since they were last taken.
    """

    def __init__(self) -> None:
        self.noise = 0
        self.answers: list[bool] = []
        self._rest = b""

    def feed(self, block: bytes, at: float) -> list[Frame]:
        """Frames completed by this block, all stamped ``at`` (seconds, CLOCK_MONOTONIC)."""
        lines = (self._rest + block).split(b"\r")
        self._rest = lines.pop()
        if len(self._rest) > _LONGEST:
            self.noise += 1
            self._rest = b""
        elif _BEL in self._rest:
            self._rest = self._strip_refusals(self._rest)
        frames: list[Frame] = []
        for raw in lines:
            line = raw if _BEL not in raw else self._strip_refusals(raw)
            if not line:
                self.answers.append(True)
                continue
            frame = _parse(line, at)
            if frame is not None:
                frames.append(frame)
            elif line[0] in b"zZVNFvr" or line[0] == _BIG_R:
                self.answers.append(True)
            else:
                self.noise += 1
        return frames

    def take_answers(self) -> list[bool]:
        """Answers since the last call, oldest first."""
        answers, self.answers = self.answers, []
        return answers

    def _strip_refusals(self, line: bytes) -> bytes:
        self.answers.extend([False] * line.count(b"\a"))
        return line.replace(b"\a", b"")


def _parse(line: bytes, at: float) -> Frame | None:
    kind = line[0]
    try:
        if kind == _T:
            count = line[4] - 48
            if 0 <= count <= 8 and len(line) >= 5 + 2 * count:
                data = bytes.fromhex(line[5 : 5 + 2 * count].decode("ascii"))
                return Frame(at, int(line[1:4], 16), data) if len(data) == count else None
        elif kind == _BIG_T:
            count = line[9] - 48
            if 0 <= count <= 8 and len(line) >= 10 + 2 * count:
                data = bytes.fromhex(line[10 : 10 + 2 * count].decode("ascii"))
                ident = int(line[1:9], 16)
                if ident <= 0x1FFF_FFFF and len(data) == count:
                    return Frame(at, ident | EXTENDED, data)
    except (ValueError, IndexError):  # noise on the line, counted by the caller
        pass
    return None
