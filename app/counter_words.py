"""What a controller counts (starts, over-speed, overheat …) in words, and what came since the last visit."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from app.fault_rows import age_words
from app.output_words import Line
from app.report_age import craft_report, old_line

if TYPE_CHECKING:
    from collections.abc import Sequence

    from app.diagnosis import Report
    from app.moment import Moment


class Counter(NamedTuple):
    """How often something happened; None if the controller does not tell it."""

    module: str
    label: str
    times: int | None


def counters_of(report: Report | None) -> list[Counter]:
    """The counters that were read, in their order; empty if none were asked for."""
    lines = [] if report is None else report.identity
    return [Counter(line.module, line.label, _whole(line.value)) for line in lines if line.counter]


def counter_words(moment: Moment, before: Sequence[Counter] = ()) -> tuple[str, list[Line]]:
    """Title and rows of the page.

    Args:
        moment: see Moment.
        before: counters of the last visit; empty if there was none.
    """
    report = craft_report(moment)
    counters = counters_of(report)
    if report is None or not report.modules:
        return "Counters: not read yet", [
            Line("Nobody has been asked yet.", "“Read faults” asks for them too.")
        ]
    if not counters:
        return "Counters: not told", [Line("This craft's family names no counters.", "")]
    was = {(each.module, each.label): each.times for each in before}
    old = old_line(moment, report)
    rows = [_row(each, was.get((each.module, each.label))) for each in counters]
    title = f"Counters, {'OLD: ' if old else ''}read {age_words(moment.now - report.at)}"
    return title, [*([old] if old else []), *rows]


def _row(each: Counter, before: int | None) -> Line:
    if each.times is None:
        return Line(f"{each.label}:", "not given")
    strong = f"{each.label}: {each.times}"
    if before is None:
        return Line(strong)
    if each.times < before:
        return Line(strong, f"{before} at the last visit: replaced or reset.", "triangle")
    return Line(strong, f"{each.times - before} more than at the last visit")


def _whole(text: str) -> int | None:
    return int(text) if text.isdigit() else None
