"""The chain of hashes that shows a missing or changed entry, and where."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

import msgspec

from app.canonical import Spelled, canonical
from app.clocks import Clocks, stamp
from app.entry import SCHEMA, Draft, Entry

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator


class Head(msgspec.Struct, frozen=True):
    """Where a book stands.

    Attributes:
        number, hash: of the newest entry of this device; 0 and empty before the first.
        hlc: the newest logical time of any device.
    """

    number: int
    hash: str
    hlc: str


class Broken(msgspec.Struct, frozen=True):
    """Something in the book that is not as it was written.

    Attributes:
        device, number: which entry; of a run of missing ones the first.
        what: in words.
    """

    device: str
    number: int
    what: str


def entry_hash(entry: Entry, body: str | None = None) -> str:
    """SHA-256, in hexadecimal, of the canonical form of every field but ``hash``.

    Args:
        entry: to be hashed.
        body: its body in canonical form, where that is known already.

    Raises:
        ValueError: the body holds something that has no canonical form.
    """
    fields = msgspec.structs.asdict(entry)
    del fields["hash"]
    if body is not None:
        fields["body"] = Spelled(body)
    return hashlib.sha256(canonical(fields).encode()).hexdigest()


def seal(draft: Draft, head: Head, device: str, clocks: Clocks) -> tuple[Entry, str]:
    """The entry that follows ``head``, and its body in canonical form.

    Raises:
        ValueError: the body holds something that has no canonical form.
    """
    body = canonical(draft.body)
    time = stamp(head.hlc, int(clocks.wall() * 1000))
    entry = Entry(
        device=device,
        number=head.number + 1,
        id=draft.id,
        craft=draft.craft,
        visit=draft.visit,
        hlc=time.hlc,
        wall_ms=time.wall_ms,
        wall_trusted=time.wall_trusted,
        boot=clocks.boot,
        mono_ms=int(clocks.mono() * 1000),
        operator=draft.operator,
        kind=draft.kind.value,
        schema=SCHEMA,
        body=draft.body,
        previous=head.hash,
        hash="",
    )
    return msgspec.structs.replace(entry, hash=entry_hash(entry, body)), body


def is_sound(entry: Entry, text: str) -> bool:
    """Whether an entry is what its hash says; ``text`` is its body as it is stored."""
    try:
        return canonical(entry.body) == text and entry_hash(entry, text) == entry.hash
    except ValueError:
        return False


def check(entries: Iterable[tuple[Entry, str]]) -> Iterator[Broken]:
    """Everything that is wrong in a book.

    The very last entries of a device can be cut off without a trace here; another copy of the book shows it.

    Args:
        entries: with their bodies as stored, by device and number.
    """
    last: Entry | None = None
    for entry, text in entries:
        if last is not None and last.device != entry.device:
            last = None
        number = 0 if last is None else last.number
        if entry.number > number + 1:
            yield Broken(entry.device, number + 1, _missing(number + 1, entry.number - 1))
        elif last is not None and entry.previous != last.hash:
            yield Broken(entry.device, last.number, "was exchanged: the entry after it follows another one")
        elif last is None and entry.previous:
            yield Broken(entry.device, entry.number, "is not the first one it claims to be")
        if last is not None and entry.hlc <= last.hlc:
            yield Broken(entry.device, entry.number, "has a logical time that does not rise")
        if not is_sound(entry, text):
            yield Broken(entry.device, entry.number, "was changed after it was written")
        last = entry


def _missing(first: int, last: int) -> str:
    return "is missing" if first == last else f"and all up to number {last} are missing"
