"""What stands in the craft book."""

from __future__ import annotations

import enum
from typing import Any

import msgspec

SCHEMA = 1
"""Of the bodies written by this version."""


class Kind(enum.StrEnum):
    """What an entry tells of."""

    BOOK_BEGUN = "book_begun"
    CRAFT_SEEN = "craft_seen"
    """Family, serial and hull number of a craft; the newest one of a craft holds."""
    SIGN_IN = "sign_in"
    SCAN = "scan"
    """Identity and faults as read."""
    CLEAR = "clear"
    """Faults saved, cleared, read again."""
    QUICK_CHECK = "quick_check"
    """The verdict of a check before hire, with every row of it."""
    MARK = "mark"
    """A moment that somebody marked under way, with every value that was known."""
    ALARM = "alarm"
    """A value beyond its alarm limit for long enough: raised, seen by somebody, over."""
    FAULTS_TOLD = "faults_told"
    """Faults that an engine told by itself have become others: which are active now, and the lamps."""
    NOTE = "note"
    CORRECTION = "correction"
    """What is to be read in place of an earlier entry, which stays."""
    OUTPUT_START = "output_start"
    """Allowed and charged; from here on fuel counts, whether it was fired or not."""
    OUTPUT_END = "output_end"
    INHIBIT_HELD = "inhibit_held"
    """Fuel or spark was read back as held off: a person may crank."""
    INHIBIT_ENDING = "inhibit_ending"
    """It is to be given back as soon as the engine stands still, and why."""
    REFUSED = "refused"
    CONFIRM = "confirm"
    PROVED = "proved"
    PURGE = "purge"
    LEAK = "leak"
    VENTED = "vented"
    LOCKED = "locked"
    SETTLED = "settled"
    CLEAR_INTENT = "clear_intent"
    """About to clear, with the faults that stood there."""
    CLEAR_END = "clear_end"
    ASKED = "asked"
    """A request to a controller that was let out, and what came of it."""
    SENT = "sent"
    """The frames of one press of an output."""
    BLOCKED = "blocked"
    """A frame that was handed over and not let out."""
    JOURNAL = "journal"
    """A line of the bus side's journal of a kind this version does not know."""
    JOURNAL_DAMAGED = "journal_damaged"
    """A line of the journal that could not be read."""


FROM_JOURNAL = frozenset(
    {
        Kind.OUTPUT_START,
        Kind.OUTPUT_END,
        Kind.INHIBIT_HELD,
        Kind.INHIBIT_ENDING,
        Kind.REFUSED,
        Kind.CONFIRM,
        Kind.PROVED,
        Kind.PURGE,
        Kind.LEAK,
        Kind.VENTED,
        Kind.LOCKED,
        Kind.SETTLED,
        Kind.CLEAR_INTENT,
        Kind.CLEAR_END,
        Kind.ASKED,
        Kind.SENT,
        Kind.BLOCKED,
    }
)
"""Kinds that the journal names with the same word."""

AUDIT = frozenset({Kind.ASKED, Kind.SENT, Kind.BLOCKED})
"""What left the tool and what did not: kept for whoever asks, in the way of everybody else."""


class Draft(msgspec.Struct, frozen=True):
    """What somebody wants to be in the book.

    Attributes:
        id: UUID of the entry.
        craft: family and serial in words, as the bus side says it ("auk 1042"); empty = of no craft.
        visit: id of the entry "craft seen" that began the visit; empty = of none.
        operator: name of who did it; empty = nobody was signed in.
        kind: see Kind.
        body: what happened; JSON values only.
        once: add it only if no entry has this id yet.
    """

    id: str
    craft: str
    visit: str
    operator: str
    kind: Kind
    body: dict[str, Any]
    once: bool = False


class Entry(msgspec.Struct, frozen=True):
    """One entry. It never changes.

    Attributes:
        device: the handheld's book that made it.
        number: 1, 2, 3 … per device, without a gap.
        id, craft, visit, operator, body: see Draft.
        kind: see Kind; text, because another handheld may be newer.
        hlc, wall_ms, wall_trusted: see app.clocks.Stamp.
        boot, mono_ms: id of the machine's start, and milliseconds on CLOCK_MONOTONIC.
        schema: version of the body's form.
        previous: hash of the entry before it of this device; empty for the first.
        hash: SHA-256 of all the other fields, see app.chain.
    """

    device: str
    number: int
    id: str
    craft: str
    visit: str
    hlc: str
    wall_ms: int
    wall_trusted: bool
    boot: str
    mono_ms: int
    operator: str
    kind: str
    schema: int
    body: dict[str, Any]
    previous: str
    hash: str
