"""What is on a bus that no family explains: every identifier, its newest bytes, and what standards say."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.messages import RawFrame
from app.reading import Quality, plain
from bus.frame import Frame, digits

if TYPE_CHECKING:
    from collections.abc import Sequence

    from app.reading import Reading
    from bus.decode import Decoder
    from bus.family import Family

MOST = 60
"""Identifiers that are kept; the bus of a small craft has fewer, and a snapshot must stay small."""

LATEST = 0.2
"""Share of the newest gap in the gap that is told: single late frames do not make it jump."""


class _Heard:
    __slots__ = ("at", "data", "gap", "times")

    def __init__(self, frame: Frame) -> None:
        self.at, self.data, self.gap, self.times = frame.at, frame.data, 0.0, 1

    def again(self, frame: Frame) -> None:
        gap = frame.at - self.at
        self.gap = gap if self.times == 1 else self.gap + LATEST * (gap - self.gap)
        self.at, self.data = frame.at, frame.data
        self.times += 1


class RawFrames:
    """The newest of every identifier.

    Attributes:
        left_out: frames of identifiers beyond MOST.

    Args:
        families: all that there are; those that a make may take the place of are the open standards.
    """

    def __init__(self, families: Sequence[Family]) -> None:
        self._families = families
        self._readers: list[tuple[Family, Decoder]] = []  # made when somebody looks: most crafts are named
        self._heard: dict[int, _Heard] = {}
        self._read: dict[int, tuple[Family, list[Reading]]] = {}
        self.left_out = 0

    def feed(self, frame: Frame) -> None:
        """Take any frame."""
        heard = self._heard.get(frame.ident)
        if heard is not None:
            heard.again(frame)
        elif len(self._heard) < MOST:
            self._heard[frame.ident] = _Heard(frame)
        else:
            self.left_out += 1
            return
        self._try_standards(frame)

    def _try_standards(self, frame: Frame) -> None:
        for family, decoder in self._readers:
            if decoder.knows(frame.ident) and (readings := decoder.feed(frame)):
                self._read[frame.ident] = family, readings

    def told(self) -> list[RawFrame]:
        """By identifier, the lowest first: those with 11 bits, then those with 29."""
        if not self._readers:
            standards = {name for family in self._families for name in family.recognise.over}
            self._readers = [(one, one.decoder()) for one in self._families if one.name in standards]
            for ident, heard in self._heard.items():
                self._try_standards(Frame(heard.at, ident, heard.data))
        return [
            RawFrame(digits(ident), heard.data.hex(" ").upper(), heard.times, heard.gap, self._says(ident))
            for ident, heard in sorted(self._heard.items())
        ]

    def _says(self, ident: int) -> str:
        """What a standard says that is in the newest of them; empty if nothing good is."""
        if ident not in self._read:
            return ""
        family, readings = self._read[ident]
        good = []
        for reading in readings:
            shown = family.shown.get(reading.signal)
            if reading.quality is Quality.GOOD and reading.value is not None and shown and not shown.hidden:
                unit = family.signal(reading.signal).unit
                good.append(f"{shown.label} {plain(reading.value)} {unit}".rstrip())
        return f"{family.title}: {', '.join(good)}" if good else ""
