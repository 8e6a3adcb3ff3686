"""What the glass says before faults are cleared, and what clearing did.

What a fault that comes back at once points to is common practice and said as such.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from app.bench_words import signed_in
from app.errors import Refused
from app.fault_rows import age_words, how_many, trouble_lines, unread_lines
from app.j1939_words import of_the_quantity
from app.operators import Deed, require
from app.output_words import Line
from app.report_age import can_read, craft_report, old_line

if TYPE_CHECKING:
    from collections.abc import Iterable

    from app.diagnosis import CameBack, Fault, Report
    from app.moment import Moment

AT_ONCE_S = 2.0
"""A fault that is there again within this, key on and nothing moving, is in its circuit (common practice)."""

HOLDS_S = 60.0
"""The bus side clears nothing that was read longer ago (bus.diagnose.REPORT_HOLDS_S)."""

CODES_IN_A_ROW = 12
"""So that a long list can be turned like other rows."""

_AT_ONCE = ", key on: a hard circuit fault.", "Plug and wires first (common practice)."
_STILL_SO = ", key on: it is still so.", "Measure it before its sensor is doubted (common practice)."
_LATER = ": slow to show, or it comes and goes.", "Engine off, move the loom, read again (common practice)."


class ClearWords(msgspec.Struct, frozen=True):
    """The page that asks before anything is cleared.

    Attributes:
        name: for the event log; another one whenever the keys mean something else.
        title, lines: what stands there.
        clears: how many faults the key clears; 0 = there is no such key.
        sign_in: somebody who may clear has to sign in.
        read: the faults have to be read again first.
    """

    name: str
    title: str
    lines: list[Line]
    clears: int = 0
    sign_in: bool = False
    read: bool = False


def clear_words(moment: Moment, shown: Report | None) -> ClearWords:
    """The page as it stands now.

    Args:
        moment: see Moment.
        shown: the report whose codes have stood on this page since it was opened; only that one is cleared.
    """
    report = craft_report(moment)
    if shown is None or report is None or (report.number, report.at) != (shown.number, shown.at):
        title = "There is no reading now" if report is None else "Another reading has come"
        words = Line("Nothing was cleared.", "Go back and look first, then clear.", "cross")
        return ClearWords("check/clear_other", title, [words])
    faults = to_clear(shown)
    kept = [module for module in shown.modules if not module.read and _holds(shown, module.key)]
    left = [
        Line(f"{module.label} was not read to the end.", "It is not cleared.", "cross") for module in kept
    ]
    if not faults:
        first = [Line("Read again first.", "Only what was read to the end can be cleared.")] if left else []
        return ClearWords(
            "check/clear_none", "Nothing to clear", left + first, read=bool(left) and can_read(moment)
        )
    role = _role(moment)
    again = _read_first(moment, shown)
    needs = [*role, *again, *_busy(moment)]
    who = signed_in(moment)
    lines = [
        *needs,
        *_codes(faults),
        *left,
        Line("Saved first in journal and book.", "Then cleared, then read again."),
        Line(
            "The controller forgets",
            "the values of each moment, counts, ages. Clearing mends nothing.",
            "triangle",
        ),
    ]
    if needs or who is None:
        title = f"Clear {how_many(len(faults))}? Not yet"
        return ClearWords(
            "check/clear_needs", title, lines, sign_in=bool(role), read=bool(again) and can_read(moment)
        )
    lines.append(Line(f"{who.name}, {who.role.value}, clears.", "", "tick"))
    return ClearWords("check/clear", f"Clear {how_many(len(faults))}?", lines, clears=len(faults))


def to_clear(report: Report) -> list[Fault]:
    """The faults of every module that was read to the end; the bus side clears no other module."""
    read = {module.key for module in report.modules if module.read}
    return [one for one in report.faults if one.module in read]


def cleared_words(moment: Moment, report: Report) -> tuple[str, list[Line]]:
    """After clearing: title, and rows of what went, what came back, what is not known.

    Only what could be read afterwards counts as cleared; an acknowledgement alone does not.
    """
    read = {module.key for module in report.modules if module.read}
    now = {(one.module, one.code) for one in report.faults}
    back = {(one.module, one.code) for one in report.came_back}
    gone = stayed = unknown = 0
    for one in report.before:
        key = one.module, one.code
        if key in back:
            gone += 1
        elif key in now:
            stayed += 1
        elif one.module in read:
            gone += 1
        else:
            unknown += 1
    old, unread = old_line(moment, report), unread_lines(report)
    lines = [*trouble_lines(report), *back_lines(report.came_back), *([old] if old else []), *unread]
    if unknown:
        lines += _codes(report.before, "Saved before it: ")
    elif gone and not report.came_back:
        lines.append(Line("Not back yet proves nothing.", "Key off and on, run it as before, read again."))
    if report.faults or not unread:
        stored = how_many(len(report.faults)) if report.faults else "none"
        age = age_words(moment.now - report.at)
        lines.append(Line(f"Stored {'then' if old else 'now'}:", f"{stored}, read {age}."))
    return _cleared_title(gone, stayed, unknown, len(report.came_back)), lines


def _cleared_title(gone: int, stayed: int, unknown: int, back: int) -> str:
    if not gone:
        return "What is stored is NOT known" if unknown else "NOT cleared"
    title = f"Cleared {gone}"
    title += f", {stayed} NOT cleared" if stayed else ""
    title += f", {unknown} NOT known" if unknown else ""
    if back:
        return f"{title}. {back} came back"
    return title if stayed or unknown else f"{title}, none came back"


def back_lines(backs: Iterable[CameBack]) -> list[Line]:
    """Which cleared faults are there again, after how long, and what that points to."""
    lines = []
    for one in backs:
        means, do = _AT_ONCE if one.after_s <= AT_ONCE_S else _LATER
        if means == _AT_ONCE[0] and of_the_quantity(one.code):
            means, do = _STILL_SO
        after = f"{one.after_s:.1f} s" if one.after_s < 60 else f"{one.after_s / 60:.0f} min"
        lines.append(Line(f"{one.code} after {after}{means}", do, "triangle"))
    return lines


def _role(moment: Moment) -> list[Line]:
    try:
        require(signed_in(moment), Deed.CLEAR)
    except Refused as refused:
        seen, dot, do = refused.needs[0].partition(". ")
        return [Line(seen + dot.strip(), do, "cross")]
    return []


def _read_first(moment: Moment, shown: Report) -> list[Line]:
    if not moment.heard:
        return [Line("The craft is not heard.", "Key on, plug in, then read again.", "cross")]
    age = moment.now - shown.at
    if old_line(moment, shown) is None and age <= HOLDS_S:
        return []
    return [Line("The reading is old.", f"It was {age_words(age)}. Read again, then clear.", "cross")]


def _busy(moment: Moment) -> list[Line]:
    return (
        [] if moment.job is None else [Line("The controllers are being asked.", "Wait for the end.", "cross")]
    )


def _codes(faults: list[Fault], before: str = "") -> list[Line]:
    codes = [one.code for one in faults]
    parts = [codes[start : start + CODES_IN_A_ROW] for start in range(0, len(codes), CODES_IN_A_ROW)]
    return [Line(f"{before}{', '.join(part)}.") for part in parts]


def _holds(report: Report, module: str) -> bool:
    return any(one.module == module for one in report.faults)
