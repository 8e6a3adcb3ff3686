"""Hours by engine speed: shares of the bands, and how hard such use is against a published duty cycle.

A water-jet pump takes power with about the 2.5th power of engine speed; that is how the modes of the marine
duty cycle E4 stand to each other too (80 % speed, 71.6 % torque: 57 % power).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Sequence

    from app.diagnosis import Report

POWER = 2.5

E4 = ((1.0, 1.0, 0.06), (0.8, 0.716, 0.14), (0.6, 0.465, 0.15), (0.4, 0.253, 0.25), (0.0, 0.0, 0.40))
"""40 CFR 1045 Appendix II: share of rated speed (0 = idle), share of torque, weight."""

E4_LOAD = sum(speed * torque * weight for speed, torque, weight in E4)
"""Power-weighted load factor of the cycle: 0.207."""


class Band(NamedTuple):
    """Hours in a band of engine speed.

    Attributes:
        low, high: rev/min.
        hours: None if the controller does not tell them.
    """

    low: int
    high: int
    hours: float | None


def bands_of(report: Report | None) -> list[Band]:
    """The bands that were read, in their order; empty if none were asked for."""
    if report is None:
        return []
    return [Band(*line.band, _number(line.value)) for line in report.identity if line.band is not None]


def shares(bands: Sequence[Band]) -> list[float] | None:
    """Of all hours; None while they are not known of every band, or there are none."""
    known = [band.hours for band in bands if band.hours is not None]
    total = sum(known)
    return [hours / total for hours in known] if len(known) == len(bands) and total > 0 else None


def load_factor(bands: Sequence[Band], rated: float) -> float | None:
    """Mean power as a share of full power, 0 to 1; None if it cannot be worked out.

    Args:
        bands: see Band; each counts at the middle of its speeds, and as full power from ``rated`` on.
        rated: rev/min of full power; 0 = not known.
    """
    of = shares(bands)
    if of is None or rated <= 0:
        return None
    middles = ((band.low + band.high) / 2 for band in bands)
    powers = (math.pow(min(1.0, middle / rated), POWER) for middle in middles)
    return sum(share * power for share, power in zip(of, powers, strict=True))


def since(before: Sequence[Band], now: Sequence[Band]) -> list[float] | None:
    """Hours that each band has grown by; a negative one has shrunk. None where they cannot be compared."""
    if not now or [band[:2] for band in before] != [band[:2] for band in now]:
        return None
    grown = [
        there.hours - was.hours
        for was, there in zip(before, now, strict=True)
        if there.hours is not None and was.hours is not None
    ]
    return grown if len(grown) == len(now) else None


def cycle_shares(bands: Sequence[Band], rated: float) -> list[float] | None:
    """How the time of the duty cycle lies in these bands; None where rated speed is not known.

    A mode on the border of two bands counts half in each, so that full speed is not all above it.
    """
    if rated <= 0 or not bands:
        return None
    found = [0.0] * len(bands)
    for speed, _, weight in E4:
        places = _places(bands, speed * rated)
        for place in places:
            found[place] += weight / len(places)
    return found


def _places(bands: Sequence[Band], speed: float) -> list[int]:
    touched = [number for number, band in enumerate(bands) if band.low <= speed <= band.high]
    return touched or [0 if speed < bands[0].low else len(bands) - 1]


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None
