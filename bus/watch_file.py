"""Prints every reading of a recording, in the order of its frames, as fast as it can be decoded."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING, TextIO

import msgspec

from app.errors import UsageError
from app.reading import Quality
from bus.frame import EXTENDED
from bus.recognise import Recogniser
from bus.recording import RecordingReader

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from pathlib import Path

    from app.reading import Reading
    from bus.family import Family

BLOCK = 2000
"""Lines written at once."""

KINDS = {False: "11-bit", True: "pgn"}
"""Whether an identifier has 29 bits, to the kind of family that speaks so. One of each may share a bus."""


class _Line(msgspec.Struct):
    """One reading as JSON; the order of the fields is part of the promise.

    Attributes:
        t: seconds as the recording or the wall clock has them, null where the recording has none.
        source: bus address of the sender (29-bit identifiers) or the identifier (11-bit).
        signal: the DBC's name.
        value: number, text, or null for what is no value.
    """

    t: float | None
    source: int
    signal: str
    value: float | str | None
    unit: str
    quality: Quality


_encode = msgspec.json.Encoder().encode


def _json(reading: Reading) -> bytes:
    return _encode(
        _Line(reading.at, reading.source, reading.signal, reading.value, reading.unit, reading.quality)
    )


def reading_line(reading: Reading) -> str:
    """A reading as one JSON object: t, source, signal, value, unit, quality."""
    return _json(reading).decode()


def reading_text(reading: Reading) -> str:
    """A reading for a person: time, sender, signal, value, unit, and the quality where it is not good."""
    at = "-" if reading.at is None else f"{reading.at:.6f}"
    source = f"{reading.source:X}"
    value = reading.value
    shown = "-" if value is None else value if isinstance(value, str) else f"{value:.12g}"
    quality = "" if reading.quality is Quality.GOOD else reading.quality.replace("_", " ")
    return f"{at:>17} {source:>4} {reading.signal:<24} {shown:>14} {reading.unit:<8} {quality}".rstrip()


def run(
    path: Path, families: Sequence[Family], family_name: str | None, *, as_json: bool, out: TextIO
) -> int:
    """Decode a recording.

    Args:
        path: of the recording.
        families: what the craft may be.
        family_name: instead of recognising it; None = read the recording twice, first to name the craft. A
            family of 11-bit and one of 29-bit identifiers in one recording are both decoded.
        as_json: one JSON object a line, else text for a person.
        out: takes the lines.

    Returns:
        Exit code: 0 done, also when the reader of a pipe had enough; 1 nothing could be named.

    Raises:
        UsageError: there is no family of that name.
        RecordingError: the file cannot be opened, or holds no frame.
    """
    reader = RecordingReader(path)
    chosen = _named(families, family_name) if family_name is not None else _recognised(reader, families)
    if not chosen:
        return 1
    watch = _Watch(reader, chosen)
    try:
        _write(watch.readings(), out, _json_block if as_json else _text_block)
    except BrokenPipeError:
        _hang_up(out)
        return 0
    if trouble := watch.trouble():
        print(trouble, file=sys.stderr)
    return 0


def _named(families: Sequence[Family], name: str) -> dict[bool, Family]:
    for family in families:
        if family.name == name:
            return {family.identifiers == KINDS[True]: family}
    known = ", ".join(family.name for family in families)
    raise UsageError(f"There is no sound family {name}. Known: {known}.")


def _recognised(reader: RecordingReader, families: Sequence[Family]) -> dict[bool, Family]:
    """One family for each kind of identifier; what is not told apart is said and left out."""
    recognisers = {
        extended: Recogniser(family for family in families if family.identifiers == kind)
        for extended, kind in KINDS.items()
    }
    for frame in reader:
        recognisers[frame.ident >= EXTENDED].feed(frame)
    chosen = {}
    for extended, recogniser in recognisers.items():
        if recogniser.family is not None:
            chosen[extended] = recogniser.family
        elif recogniser.candidates:
            names = ", ".join(family.name for family in recogniser.candidates)
            print(f"The recording fits several families ({names}): name one with --family.", file=sys.stderr)
    if not chosen:
        known = ", ".join(family.name for family in families)
        print(
            f"No family explains {reader.path}: {reader.lines} lines were read. "
            f"Known families: {known}; name one with --family to decode what there is.",
            *(words for recogniser in recognisers.values() for words in recogniser.nearly),
            sep="\n",
            file=sys.stderr,
        )
    return chosen


class _Watch:
    """One pass over a recording."""

    def __init__(self, reader: RecordingReader, families: dict[bool, Family]) -> None:
        self._reader = reader
        self._decoders = {extended: family.decoder() for extended, family in families.items()}
        self._first_bad: int | None = None

    @property
    def _bad(self) -> int:
        return sum(decoder.bad_frames for decoder in self._decoders.values())

    def readings(self) -> Iterator[list[Reading]]:
        """The readings of each frame that has any."""
        reader = self._reader
        decoders = [self._decoders.get(extended) for extended in (False, True)]
        for frame in reader:
            decoder = decoders[frame.ident >= EXTENDED]
            if decoder is None:
                continue
            readings = decoder.feed(frame)
            if readings:
                yield readings
            elif self._first_bad is None and self._bad:
                self._first_bad = reader.line

    def trouble(self) -> str:
        """One sentence about what could not be used, empty if everything could."""
        waiting = sum(decoder.waiting for decoder in self._decoders.values())
        bad = self._bad + waiting
        parts = []
        if self._reader.unreadable:
            first = self._reader.first_unreadable
            parts.append(
                f"{_count(self._reader.unreadable, 'line')} gave no data frame (first: line {first})"
            )
        if bad:
            first = self._first_bad
            where = f"first: line {first}" if first is not None else "the recording ends within a message"
            parts.append(f"{_count(bad, 'frame')} of known messages could not be decoded ({where})")
        return f"{self._reader.path}: {' and '.join(parts)}; everything else was used." if parts else ""


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"


def _json_block(readings: list[Reading]) -> str:
    return b"\n".join([_json(reading) for reading in readings]).decode() + "\n"


def _text_block(readings: list[Reading]) -> str:
    return "".join([f"{reading_text(reading)}\n" for reading in readings])


def _write(frames: Iterator[list[Reading]], out: TextIO, block_of: Callable[[list[Reading]], str]) -> None:
    block: list[Reading] = []
    for readings in frames:
        block += readings
        if len(block) >= BLOCK:
            out.write(block_of(block))
            block = []
    if block:
        out.write(block_of(block))
    out.flush()


def _hang_up(out: TextIO) -> None:
    """The pipe is closed: what Python still holds for it must not be an error when the program ends."""
    try:
        number = out.fileno()
    except (OSError, ValueError):
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, number)
    os.close(nowhere)
