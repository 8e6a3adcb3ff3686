r"""Reads the journal of the bus side: a file of JSON lines that only grows.

A line is one object {"n", "kind", "mono", "wall", "boot", "body", "prev"} and ends with ``\n``. What has no
end yet is still being written, or was torn by a power cut and gets its end when the bus side starts again.
Older parts, if the file was ever put aside, stand beside it as NAME.1, NAME.2 … (the highest is the oldest).
"""

from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING, Any, BinaryIO, NoReturn

import msgspec

from app.canonical import canonical
from app.errors import StorageError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


class JournalLine(msgspec.Struct, frozen=True):
    """One line.

    Attributes:
        hash: SHA-256 of its bytes without the end of line; it holds the hash of the line before, so no two
            lines of a journal are alike.
        text: the line as text, where it cannot be read with marks in place of odd bytes.
        fields: what it says, None if it cannot be read.
    """

    hash: str
    text: str
    fields: dict[str, Any] | None


class Mark(msgspec.Struct, frozen=True):
    """How far a file was read.

    Attributes:
        offset: in bytes.
        size: bytes of the last line that was read, with its end; 0 = none was.
        digest: SHA-256 of that line; if it does not stand there any more, this is another file.
    """

    offset: int = 0
    size: int = 0
    digest: str = ""


class Part(msgspec.Struct, frozen=True):
    """What was read.

    Attributes:
        lines: whole lines, oldest first.
        mark: where to go on.
        waiting: something without an end of line stands at the end.
    """

    lines: list[JournalLine]
    mark: Mark
    waiting: bool


def read_journal(path: Path, mark: Mark | None = None) -> Part:
    """Every whole line after the mark; all of them, older parts first, if the mark does not fit.

    A journal that is not there yet has no lines.

    Raises:
        StorageError: it is there and cannot be read.
    """
    lines: list[JournalLine] = []
    try:
        with path.open("rb") as file:
            if mark is None or not _fits(file, mark):
                mark = Mark()
                for older in _older(path):
                    lines += _lines(older.read_bytes() + b"\n")
            file.seek(mark.offset)
            data = file.read()
    except FileNotFoundError:
        return Part(lines, Mark(), waiting=False)
    except OSError as error:
        raise StorageError(
            f"The journal {path} cannot be read: {error.strerror}. Its entries are missing in the book."
        ) from error
    whole = data[: data.rfind(b"\n") + 1]
    lines += _lines(whole)
    if whole:
        tail = whole[whole.rfind(b"\n", 0, -1) + 1 :]
        mark = Mark(mark.offset + len(whole), len(tail), hashlib.sha256(tail).hexdigest())
    return Part(lines, mark, waiting=len(whole) < len(data))


def _fits(file: BinaryIO, mark: Mark) -> bool:
    if not 0 < mark.size <= mark.offset:
        return False
    file.seek(mark.offset - mark.size)
    return hashlib.sha256(file.read(mark.size)).hexdigest() == mark.digest


def _older(path: Path) -> list[Path]:
    parts = [part for part in path.parent.glob(f"{path.name}.*") if part.suffix[1:].isdecimal()]
    return sorted(parts, key=lambda part: int(part.suffix[1:]), reverse=True)


def _lines(data: bytes) -> Iterator[JournalLine]:
    for raw in data.split(b"\n"):
        if raw:
            digest = hashlib.sha256(raw).hexdigest()
            yield JournalLine(digest, raw.decode(errors="replace"), _fields(raw))


def _fields(raw: bytes) -> dict[str, Any] | None:
    try:
        fields = json.loads(raw, parse_constant=_no_number)
        canonical(fields)
    except (ValueError, RecursionError):
        return None
    if not isinstance(fields, dict) or not isinstance(fields.get("kind"), str):
        return None
    return fields if isinstance(fields.get("body"), dict) else None


def _no_number(name: str) -> NoReturn:
    raise ValueError(f"{name} is no JSON")
