"""One CAN frame as the tool carries it."""

from __future__ import annotations

from typing import NamedTuple

EXTENDED = 0x8000_0000
"""Set in ``Frame.ident`` for a 29-bit identifier, as SocketCAN and the DBC format do."""


class Frame(NamedTuple):
    """A received data frame.

    Attributes:
        at: seconds on CLOCK_MONOTONIC when it was read (a recording's own seconds when read from a file;
            NaN where the file has none).
        ident: identifier; bit 31 (EXTENDED) set for 29-bit identifiers.
        data: 0 to 8 bytes.
    """

    at: float
    ident: int
    data: bytes


def digits(ident: int) -> str:
    """An identifier as candump writes it: 3 hexadecimal digits of an 11-bit one, 8 of a 29-bit one."""
    return f"{ident & ~EXTENDED:08X}" if ident & EXTENDED else f"{ident:03X}"
