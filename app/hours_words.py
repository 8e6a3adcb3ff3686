"""Hours by engine speed in words and bars."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from app.fault_rows import age_words
from app.hours import E4_LOAD, bands_of, cycle_shares, load_factor, shares, since
from app.report_age import craft_report, old_line

if TYPE_CHECKING:
    from collections.abc import Sequence

    from app.hours import Band
    from app.moment import Moment

ROUNDING_H = 0.05
"""A controller that counts in steps may tell one less."""

CYCLE = "Grey: marine duty cycle E4 (40 CFR 1045 Appendix II)."


class BandRow(msgspec.Struct, frozen=True):
    """One bar.

    Attributes:
        label: the band.
        text: hours and percent, or that they are not given.
        share: of all hours, 0 to 1; 0 while not known.
        cycle: the same of the duty cycle; 0 while not known.
    """

    label: str
    text: str
    share: float = 0.0
    cycle: float = 0.0


class HoursWords(msgspec.Struct, frozen=True):
    """The page.

    Attributes:
        title: how many hours, or why there are none.
        rows: a bar for each band.
        say: how hard the use was, or what to do.
        note: what stands behind the bars; may be empty.
    """

    title: str
    rows: list[BandRow]
    say: str
    note: str = ""


def hours_words(moment: Moment, before: Sequence[Band] = ()) -> HoursWords:
    """The page as it stands now.

    Args:
        moment: see Moment.
        before: bands of the last visit; empty if there was none.
    """
    report = craft_report(moment)
    bands = bands_of(report)
    if report is None or not bands:
        if report is not None and report.modules:
            return HoursWords("Hours: not told", [], "This craft's family names no hours by engine speed.")
        return HoursWords("Hours: not read yet", [], "“Read faults” on the faults page asks for them too.")
    engine = None if moment.catalogue is None else moment.catalogue.engine
    rated = 0.0 if engine is None else engine.rated_speed
    of, cycle = shares(bands), cycle_shares(bands, rated)
    rows = [
        BandRow(
            f"{band.low} to {band.high}",
            "not given" if band.hours is None else f"{band.hours:.1f} h" + (f" · {of[at]:.0%}" if of else ""),
            of[at] if of else 0.0,
            cycle[at] if of and cycle else 0.0,
        )
        for at, band in enumerate(bands)
    ]
    old = "OLD: " if old_line(moment, report) else ""
    age = age_words(moment.now - report.at)
    total = sum(band.hours for band in bands if band.hours is not None)
    title = f"{total:.1f} h by rev/min, {old}read {age}" if of else f"Hours: not all given, {old}read {age}"
    load = load_factor(bands, rated)
    grown = _grown(since(before, bands))
    if load is None:
        return HoursWords(title, rows, f"How hard it was used cannot be said. {grown}".rstrip())
    say = f"Load {load:.2f}: {load / E4_LOAD:.1f} times the duty cycle's {E4_LOAD:.3f}. {grown}".rstrip()
    return HoursWords(title, rows, say, CYCLE)


def _grown(hours: list[float] | None) -> str:
    """What became of them since the last visit; empty where that is not known."""
    if hours is None:
        return ""
    if min(hours) < -ROUNDING_H:
        return "Fewer than at the last visit: replaced or reset."
    return f"{sum(hours):.1f} h since the last visit."
