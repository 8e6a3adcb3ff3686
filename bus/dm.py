"""Decodes DM1 (active) and DM2 (previously active) of SAE J1939-73: lamps and trouble codes.

Bytes 1 and 2: four lamps and how they flash, two bits each, from low to high protect, amber, red stop, MIL.
Then four bytes for each code: SPN (19 bits, the top three above the FMI), FMI, conversion method, count.
Source of the layout: shared/reference/standards.md 5.4 (the PyPI package can-j1939).
"""

from __future__ import annotations

from typing import NamedTuple

DM1, DM2 = 65_226, 65_227

LAMPS = ("protect", "amber warning", "red stop", "malfunction")
"""In the order of their bits, from low to high."""

NO_SPN, NO_FMI = 0x7FFFF, 31
"""With each other: filling, no code."""
NO_COUNT = 127
"""The sender does not count (from memory)."""

_LENGTH = 8
"""Of one frame: lamps, one code and two bytes of filling."""
_HEAD, _EACH = 2, 4


class Trouble(NamedTuple):
    """One trouble code.

    Attributes:
        spn: which part or quantity.
        fmi: what is wrong with it, 0 to 31.
        times: how often it became active; None if the sender does not tell.
        old: the conversion bit is set: an older way of writing the SPN, of which there were several, so that
            the number is not certain.
    """

    spn: int
    fmi: int
    times: int | None
    old: bool


class Lamp(NamedTuple):
    """One lamp.

    Attributes:
        lit: None if the sender does not tell.
        flash: "", "slow" or "fast"; empty too where the sender does not tell.
    """

    lit: bool | None
    flash: str = ""


class Message(NamedTuple):
    """A whole DM1 or DM2.

    Attributes:
        lamps: in the order of LAMPS.
        troubles: each code once, in the order of the message.
    """

    lamps: tuple[Lamp, Lamp, Lamp, Lamp]
    troubles: tuple[Trouble, ...]

    def words(self) -> str:
        """The lamps that are lit, as a person reads them; empty if none is."""
        lit = [
            f"{name}, {lamp.flash} flash" if lamp.flash else name
            for name, lamp in zip(LAMPS, self.lamps, strict=True)
            if lamp.lit
        ]
        return "; ".join(lit)


def decode(data: bytes) -> Message | None:
    """Decode the bytes of a DM1 or DM2.

    Args:
        data: of one frame, or of a whole broadcast.

    Returns:
        None if they cannot be one: a length that no number of codes gives. Never "no faults" for nonsense.
    """
    size = len(data)
    if size < _LENGTH or (size > _LENGTH and (size - _HEAD) % _EACH):
        return None
    lamps = tuple(_lamp(data[0] >> shift & 3, data[1] >> shift & 3) for shift in (0, 2, 4, 6))
    troubles: dict[tuple[int, int], Trouble] = {}
    for start in range(_HEAD, size - _EACH + 1, _EACH):
        trouble = _trouble(data[start : start + _EACH])
        if trouble is not None:
            troubles.setdefault((trouble.spn, trouble.fmi), trouble)
    return Message((lamps[0], lamps[1], lamps[2], lamps[3]), tuple(troubles.values()))


def _lamp(state: int, flash: int) -> Lamp:
    lit = {0: False, 1: True}.get(state)
    return Lamp(lit, {0: "slow", 1: "fast"}.get(flash, "") if lit else "")


def _trouble(code: bytes) -> Trouble | None:
    """One code; None for filling and for "no fault"."""
    spn, fmi = code[0] | code[1] << 8 | code[2] >> 5 << 16, code[2] & 0x1F
    if (spn, fmi) in {(0, 0), (NO_SPN, NO_FMI)}:
        return None
    count = code[3] & 0x7F
    return Trouble(spn, fmi, None if count == NO_COUNT else count, bool(code[3] & 0x80))
