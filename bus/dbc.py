"""A DBC file as plain tables: where each signal's bits lie and what they mean.

The tables are made by bus/dbc_reader.py and kept in the user's cache folder, named by a hash of the DBC text:
the next start takes them from there and spares the import of the parser. Measured on a 2-core x86-64
machine, family auk: 150 ms with the parser, 0.3 ms from the cache.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from typing import TYPE_CHECKING

import msgspec
import platformdirs

from app.errors import FamilyError

if TYPE_CHECKING:
    from pathlib import Path

TABLE_VERSION = 1
"""Rises with every change of the layouts below or of what is checked: older tables are made anew."""


class SignalLayout(msgspec.Struct, frozen=True):
    """Where one signal lies and what its bits mean.

    The message's bytes, read as one unsigned number in the signal's own byte order, shifted right by
    ``shift`` and cut to ``length`` bits, are the raw value; a signed one is a two's complement. The value is
    (raw × numerator + offset) ÷ denominator, all whole numbers, so that one division of two exact numbers
    gives the nearest printable value: 3 × 0.1 is 0.3.

    Attributes:
        big: True for Motorola byte order.
        length: bits, 1 to 64.
        last_byte: index of the last byte that holds a bit of it.
        low, high: raw values within the DBC's [minimum|maximum]; the whole raw range where it names none.
        texts: raw value to text (VAL_).
        pages: selector values under which the signal is present; empty = always.
        selector: True if it chooses the page.
        line: of its SG_ in the DBC file, from 1.
    """

    name: str
    unit: str
    big: bool
    shift: int
    length: int
    signed: bool
    last_byte: int
    numerator: int
    offset: int
    denominator: int
    low: int
    high: int
    texts: dict[int, str]
    pages: tuple[int, ...]
    selector: bool
    line: int

    def value(self, raw: int) -> float:
        """The physical value of a raw number."""
        return (raw * self.numerator + self.offset) / self.denominator


class MessageLayout(msgspec.Struct, frozen=True):
    """One message.

    Attributes:
        ident: identifier, bit 31 set for 29-bit ones.
        length: bytes.
        cycle: seconds between frames (GenMsgCycleTime), None where the file does not say.
        signals: in the order of the file.
        line: of its BO_ in the DBC file, from 1.
    """

    name: str
    ident: int
    length: int
    cycle: float | None
    signals: tuple[SignalLayout, ...]
    line: int


_DIGEST = hashlib.sha256().digest_size

_ENCODER = msgspec.msgpack.Encoder()
_DECODER: msgspec.msgpack.Decoder[tuple[MessageLayout, ...]] = msgspec.msgpack.Decoder(
    tuple[MessageLayout, ...]
)


def load_dbc(path: Path) -> tuple[tuple[MessageLayout, ...], list[FamilyError]]:
    """Read a DBC file.

    Args:
        path: the file; UTF-8, or Windows-1252 as the format's older tools write it.

    Returns:
        The messages in the order of the file, and everything that is wrong with it. With errors, the
        messages are those that could be understood.
    """
    try:
        content = path.read_bytes()
    except OSError as error:
        what = f"the signals cannot be read: {error.strerror or error}"
        return (), [FamilyError(str(path), None, what, "Put the family's DBC file there.")]
    kept = _cache_file(content)
    if (table := _kept(kept)) is not None:
        return table, []
    from bus.dbc_reader import read_dbc  # noqa: PLC0415  # only without a kept table: it loads the parser

    messages, errors = read_dbc(_text(content), str(path))
    if not errors:
        _keep(kept, messages)
    return messages, errors


def _text(content: bytes) -> str:
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", "replace")


def _cache_file(content: bytes) -> Path:
    digest = hashlib.sha256(b"%d\n" % TABLE_VERSION + content).hexdigest()
    return platformdirs.user_cache_path("boathook") / "signals" / f"{digest}.msgpack"


def _kept(kept: Path) -> tuple[MessageLayout, ...] | None:
    """The table in a kept file, None where it is missing or a single bit of it is not as it was written."""
    with contextlib.suppress(OSError, msgspec.MsgspecError):
        content = kept.read_bytes()
        table = content[_DIGEST:]
        if content[:_DIGEST] == hashlib.sha256(table).digest():
            return _DECODER.decode(table)
    return None


def _keep(kept: Path, messages: tuple[MessageLayout, ...]) -> None:
    """Keep the tables for the next start; a disk that refuses costs time then, nothing else."""
    part = kept.with_suffix(f".{os.getpid()}.part")
    table = _ENCODER.encode(messages)
    with contextlib.suppress(OSError):
        kept.parent.mkdir(parents=True, exist_ok=True)
        part.write_bytes(hashlib.sha256(table).digest() + table)
        part.replace(kept)
