"""Fault codes: their bytes and text, what their status says, which set together, which came back.

Text by SAE J2012 / ISO 15031-6 (two letters-and-digits bytes, then a failure type), status by ISO 14229-1.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from app.diagnosis import CameBack, Fault

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

LETTERS = "PCBU"
"""Powertrain, chassis, body, network: bits 23 and 22 of the number."""

TEST_FAILED, FAILED_THIS_CYCLE, PENDING, CONFIRMED = 0x01, 0x02, 0x04, 0x08
FAILED_SINCE_CLEAR, WARNING = 0x20, 0x80
"""Bits of the status byte. The other two only say that a test has not been run yet."""

STORED = TEST_FAILED | FAILED_THIS_CYCLE | PENDING | CONFIRMED | FAILED_SINCE_CLEAR | WARNING

NO_STATUS = 0
"""In place of a status byte: a code of SAE J1939, which has none and is known by its words SPN and FMI."""

SAME_MOMENT_H = 0.1
"""Faults whose engine hours differ by no more than this set at one moment (six minutes; our own figure)."""

_CODE = re.compile(r"([PCBU])([0-3])([0-9A-F]{3})(?:-([0-9A-F]{2}))?")
_ROUNDING_H = 1e-6


def code_text(number: int) -> str:
    """Text of a code: 0x011700 is P0117, 0xC07304 is U0073-04.

    Args:
        number: the three bytes as one number.

    Raises:
        ValueError: more than three bytes.
    """
    if not 0 <= number <= 0xFFFFFF:
        raise ValueError(f"{number} is no fault code of three bytes")
    failure = number & 0xFF
    text = f"{LETTERS[number >> 22]}{number >> 20 & 3}{number >> 8 & 0xFFF:03X}"
    return f"{text}-{failure:02X}" if failure else text


def code_number(text: str) -> int:
    """The three bytes of a code as one number; the way back from ``code_text``.

    Raises:
        ValueError: this is no code.
    """
    found = _CODE.fullmatch(text)
    if found is None:
        raise ValueError(f"{text} is no fault code such as P0117 or U0073-04")
    letter, digit, rest, failure = found.groups()
    return LETTERS.index(letter) << 22 | int(digit) << 20 | int(rest, 16) << 8 | int(failure or "0", 16)


def is_stored(status: int) -> bool:
    """Whether a status byte speaks of a fault: some test failed or a warning is asked for.

    A controller that is asked for any status also lists codes whose test has merely not been run yet.
    """
    return status & STORED != 0


def fault(module: str, number: int, status: int, words: Mapping[int, str]) -> Fault:
    """A stored fault with what its status byte says.

    Args:
        module: key of the module that holds it.
        number: the three bytes of the code as one number.
        status: the status byte.
        words: the family's words for that module's codes. A code with a failure type that has no words of
            its own gets those of the code; one that the family does not know gets none.
    """
    return Fault(
        module=module,
        number=number,
        code=code_text(number),
        text=words.get(number) or words.get(number & 0xFFFF00, ""),
        status=status,
        failed_now=bool(status & TEST_FAILED),
        pending=bool(status & PENDING),
        confirmed=bool(status & CONFIRMED),
        warning=bool(status & WARNING),
    )


def in_order(faults: Iterable[Fault]) -> list[Fault]:
    """What matters now first: failing now, confirmed, pending; among equals the latest, then by code."""
    return sorted(faults, key=_rank)


def _rank(one: Fault) -> tuple[bool, bool, bool, float, str, int]:
    hours = -one.hours if one.hours is not None else 0.0
    return not one.failed_now, not one.confirmed, not one.pending, hours, one.module, one.number


def moments(faults: Iterable[Fault]) -> list[list[Fault]]:
    """Faults that set at one moment stand together, the latest moment first.

    The first fault of a moment decides how far it reaches. A fault whose hours are not known stands alone.
    """
    faults = list(faults)
    known = [one for one in faults if one.hours is not None]
    groups: list[list[Fault]] = []
    latest = 0.0
    for one in sorted(known, key=lambda one: (-(one.hours or 0.0), *_rank(one))):
        hours = one.hours or 0.0
        if groups and latest - hours <= SAME_MOMENT_H + _ROUNDING_H:
            groups[-1].append(one)
        else:
            groups.append([one])
            latest = hours
    groups = [in_order(group) for group in groups]
    return groups + [[one] for one in in_order(one for one in faults if one.hours is None)]


def came_back(before: Iterable[Fault], now: Iterable[Fault], after_s: float) -> list[CameBack]:
    """Which faults of before stand there again.

    Args:
        before: as saved before clearing.
        now: as read afterwards.
        after_s: seconds from the clear to that reading.
    """
    old = {(one.module, one.number) for one in before}
    return [
        CameBack(one.module, one.code, one.text, after_s) for one in now if (one.module, one.number) in old
    ]


def new_since(seen: Iterable[Fault], now: Iterable[Fault]) -> list[Fault]:
    """Faults that a person who saw ``seen`` does not know of."""
    old = {(one.module, one.number) for one in seen}
    return [one for one in now if (one.module, one.number) not in old]
