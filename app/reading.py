"""One value, how old, how good."""

from __future__ import annotations

import enum

import msgspec


class Quality(enum.StrEnum):
    """How far a value may be trusted. Only GOOD is a number to act on."""

    GOOD = "good"
    STALE = "stale"
    """Was good; nothing newer came within the signal's own maximum age."""
    NOT_AVAILABLE = "not_available"
    """The sender says it has no such value (the reserved all-ones code)."""
    ERROR = "error"
    """The sender says its sensor is at fault (the reserved error code)."""
    OUT_OF_RANGE = "out_of_range"
    """A number came that the signal cannot have; shown, never judged."""


class Reading(msgspec.Struct, frozen=True, array_like=True):
    """One decoded value.

    Attributes:
        signal: the name in the family's DBC file.
        value: number in ``unit``, text of an enumerated signal, or None for codes that are not values.
        unit: the DBC's unit; empty where there is none.
        at: seconds on CLOCK_MONOTONIC when the frame was received (the recording's own time when decoding
            a file; None where the file carries no time).
        quality: see Quality.
        source: bus address of the sender (29-bit identifiers) or the identifier itself (11-bit).
    """

    signal: str
    value: float | str | None
    unit: str
    at: float | None
    quality: Quality
    source: int


def plain(value: float | str | None) -> str:
    """A value as text, a whole number without a fraction (a serial of many digits stays one)."""
    return str(int(value)) if isinstance(value, float) and value.is_integer() else str(value)
