"""Recordings: one frame a line as the Linux tool candump writes it, and whatever else python-can reads.

Both text forms are read: ``(1700000000.123456) can0 123#11AA`` with or without a last R or T, and
``can0  123   [8]  11 AA …`` with or without a time in front. Eight hexadecimal digits make a 29-bit
identifier, three an 11-bit one. What is no data frame of classic CAN is counted and passed over: remote,
error and CAN FD frames, cut lines, noise.
"""

from __future__ import annotations

import contextlib
import math
import re
from typing import TYPE_CHECKING, Any, BinaryIO

from app.errors import RecordingError
from bus.frame import EXTENDED, Frame, digits

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

BLOCK = 1 << 18
"""Bytes read at once."""

LONGEST_LINE = 1 << 16
"""Bytes; more without an end of line is not text."""

LATEST = 1e11
"""Seconds; a time beyond this (the year 5138), or before 0, is noise."""

OTHER_FORMATS = {
    ".asc": ("ASCReader", "r"),
    ".blf": ("BLFReader", "rb"),
    ".csv": ("CSVReader", "r"),
    ".db": ("SqliteReader", ""),
    ".mf4": ("MF4Reader", ""),
    ".trc": ("TRCReader", "r"),
}
"""Ending of a file name to the reader of python-can, and how the file is opened for it ("" = it opens it
itself). Everything else is read as text of candump."""

_IDENT = re.compile(r"[0-7][0-9A-Fa-f]{2}|[01][0-9A-Fa-f]{7}")
"""An identifier that a data frame can carry; error frames have a higher bit set."""

_MOST_IDENTS = 4096
"""Identifiers remembered while reading; a bus has a few hundred, noise any number."""


def candump_line(wall_s: float, channel: str, frame: Frame) -> bytes:
    """One line of a recording.

    Args:
        wall_s: seconds since 1970.
        channel: name of the interface, without blanks.
        frame: what was received.
    """
    return f"({wall_s:017.6f}) {channel} {digits(frame.ident)}#{frame.data.hex().upper()}\n".encode()


def read_frames(path: Path) -> Iterator[Frame]:
    """The frames of a recording; see RecordingReader.

    Raises:
        RecordingError: the file cannot be opened, or holds no frame.
    """
    return iter(RecordingReader(path))


class RecordingReader:
    """Reads a recording; every iteration starts at its beginning.

    Args:
        path: of the file.

    Attributes:
        lines: read so far (of other formats: frames).
        line: number of the line that the frame at hand came from.
        unreadable: lines so far that gave no frame; blank ones do not count.
        first_unreadable: number of the first of them, None if there is none.

    Raises:
        RecordingError: the file cannot be opened; while iterating: it holds no frame.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._begin()
        _open(path).close()

    def _begin(self) -> None:
        self.lines = self.line = self.unreadable = 0
        self.first_unreadable: int | None = None
        self._idents: dict[str, int] = {}

    def __iter__(self) -> Iterator[Frame]:
        self._begin()
        heard = False
        frames = self._others() if self.path.suffix.lower() in OTHER_FORMATS else self._texts()
        for frame in frames:
            heard = True
            yield frame
        if not heard:
            raise RecordingError(
                f"{self.path} holds no CAN frame that can be read; "
                "expected lines like (1700000000.123456) can0 123#11AA. Is it a recording?"
            )

    def _bad(self, number: int) -> None:
        self.unreadable += 1
        if self.first_unreadable is None:
            self.first_unreadable = number

    def _texts(self) -> Iterator[Frame]:
        with _open(self.path) as file:
            for lines in _blocks(file, self.path):
                yield from self._frames(lines)

    def _frames(self, lines: list[str]) -> Iterator[Frame]:
        """The frames of a block of lines; the usual form is taken apart here, everything else in _odd."""
        fromhex, new, idents = bytes.fromhex, tuple.__new__, self._idents
        number = self.lines
        for line in lines:
            number += 1
            try:
                stamp, _, text = line.split()
                digits, payload = text.split("#")
                ident = idents[digits]
                data = fromhex(payload)
                at = float(stamp[1:-1])
                usual = stamp[0] == "(" and stamp[-1] == ")" and len(data) <= 8 and 0 <= at < LATEST
            except (ValueError, KeyError):
                usual = False
            frame = new(Frame, (at, ident, data)) if usual else self._odd(line)
            self.lines = self.line = number
            if frame is not None:
                yield frame
            elif line and not line.isspace():
                self._bad(number)

    def _odd(self, line: str) -> Frame | None:
        """A frame in any of the forms, None where the line holds none."""
        head, bracket, tail = line.partition(" [")
        parts = head.split()
        at = math.nan
        if parts and parts[0][0] == "(":
            stamp = parts.pop(0)
            try:
                at = float(stamp[1:-1])
            except ValueError:
                return None
            if stamp[-1] != ")" or not 0 <= at < LATEST:
                return None
        if bracket:
            digits, data = (parts[-1] if len(parts) > 1 else ""), _counted(tail)
        else:
            if len(parts) == 3 and parts[2] in {"R", "T"}:
                del parts[2]
            digits, mark, payload = (parts[1] if len(parts) == 2 else "").partition("#")
            data = _bytes(payload) if mark else None
        ident = self._idents.get(digits) or self._ident(digits)
        if ident is None or data is None or len(data) > 8:
            return None
        return Frame(at, ident, data)

    def _ident(self, digits: str) -> int | None:
        if not _IDENT.fullmatch(digits):
            return None
        if len(self._idents) >= _MOST_IDENTS:
            self._idents.clear()
        ident = self._idents[digits] = int(digits, 16) | (EXTENDED if len(digits) == 8 else 0)
        return ident

    def _others(self) -> Iterator[Frame]:
        """Frames of a format that python-can knows."""
        import can  # noqa: PLC0415  # 0.1 s that only these formats need

        name, mode = OTHER_FORMATS[self.path.suffix.lower()]
        number = 0
        try:
            with contextlib.ExitStack() as stack:
                source: Any = self.path
                if mode:
                    encoding = None if "b" in mode else "latin-1"
                    source = stack.enter_context(self.path.open(mode, encoding=encoding))
                for message in stack.enter_context(getattr(can, name)(source)):
                    number += 1
                    self.lines = self.line = number
                    if message.is_error_frame or message.is_remote_frame or message.is_fd:
                        self._bad(number)
                        continue
                    ident = message.arbitration_id | (EXTENDED if message.is_extended_id else 0)
                    yield Frame(message.timestamp, ident, bytes(message.data))
        except Exception as error:  # a damaged file breaks the readers in any way there is
            if number == 0:
                raise RecordingError(f"{self.path} cannot be read: {error}.") from error
            self.lines = number + 1
            self._bad(number + 1)


def _open(path: Path) -> BinaryIO:
    try:
        return path.open("rb")
    except OSError as error:
        raise RecordingError(f"{path} cannot be opened: {error.strerror or error}.") from error


def _blocks(file: BinaryIO, path: Path) -> Iterator[list[str]]:
    """The lines of a file, many at a time; bytes that are no text stay one character each."""
    rest = ""
    while True:
        try:
            block = file.read(BLOCK)
        except OSError as error:
            raise RecordingError(f"{path} cannot be read: {error.strerror or error}.") from error
        if not block:
            break
        text = rest + block.decode("latin-1")
        if "\r" in text:
            # A carriage return at the very end may be half of a pair: it waits for the next block.
            held = text.endswith("\r")
            text = text.removesuffix("\r").replace("\r\n", "\n").replace("\r", "\n") + ("\r" if held else "")
        lines = text.split("\n")
        rest = lines.pop()
        if len(rest) > LONGEST_LINE:  # cut: what is thrown away could be no frame, and memory is finite
            rest = rest[:LONGEST_LINE]
        yield lines
    if rest:
        yield [rest]


def _bytes(payload: str) -> bytes | None:
    try:
        return bytes.fromhex(payload)
    except ValueError:
        return None


def _counted(tail: str) -> bytes | None:
    """Data of ``can0 123 [2] 11 AA 'text'`` from behind the opening bracket; None if it is not as counted.

    A count of two digits marks a CAN FD frame.
    """
    count, _, rest = tail.partition("]")
    data = _bytes(rest.partition("'")[0])
    return data if data is not None and count == str(len(data)) else None
