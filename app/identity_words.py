"""What the controllers say of themselves: hull number, serials, software, hours, and who answered."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.fault_rows import age_words, sentence, trouble_lines
from app.foreign import WHY
from app.hull_number import hull_number
from app.output_words import Line
from app.report_age import can_read, craft_report, old_line
from app.show import unit_words

if TYPE_CHECKING:
    from app.diagnosis import IdentityLine, Report
    from app.moment import Moment

HULL = "Hull number"
"""The label of the line that is checked; every family calls it so."""

NOT_READ = Line("Nobody has been asked yet.", "“Read faults” on the faults page asks for this too.")


def identity_words(moment: Moment) -> tuple[str, list[Line]]:
    """Title and rows of the page."""
    report = craft_report(moment)
    tells = moment.catalogue is not None and moment.catalogue.tells
    if report is None or not report.modules:
        if moment.heard and not can_read(moment):
            return "Identity", _heard(moment)
        said = [*(trouble_lines(report) if report else []), *(_said(moment) if tells else []), NOT_READ]
        return "Identity: not read yet", said
    old = old_line(moment, report)
    lines = [*([old] if old else []), *(_said(moment) if tells else []), *_lines(report)]
    return f"Identity, {'OLD: ' if old else ''}read {age_words(moment.now - report.at)}", lines


def _lines(report: Report) -> list[Line]:
    """What was told, then every controller; a hull number that is not right first."""
    rows = [_row(line) for line in report.identity if line.band is None and not line.counter]
    states = [
        Line(f"{module.label} was read to the end.", "", "tick")
        if module.read
        else Line(
            f"{module.label} was not read to the end.", module.words and sentence(module.words), "cross"
        )
        for module in report.modules
    ]
    return [*(row for row in rows if row.shape), *(row for row in rows if not row.shape), *states]


def _row(line: IdentityLine) -> Line:
    if not line.value:
        return Line(f"{line.label}:", "not given")
    said = Line(f"{line.label}: {line.value} {unit_words(line.unit)}".strip())
    if line.foreign:
        return Line(said.strong, WHY, "triangle")
    if line.label != HULL:
        return said
    try:
        return Line(said.strong, sentence(hull_number(line.value).words()))
    except ValueError as error:
        return Line(said.strong, f"Not as the rules ask: {error}.", "triangle")


def _heard(moment: Moment) -> list[Line]:
    """Of a craft that nobody can be asked on: what it says by itself."""
    craft = None if moment.snapshot is None else moment.snapshot.craft
    title = "" if craft is None else craft.title
    return [Line(f"{title}.", "The family names no controllers that can be asked."), *_said(moment)]


def _said(moment: Moment) -> list[Line]:
    """What a craft says of itself without being asked."""
    craft = None if moment.snapshot is None else moment.snapshot.craft
    serial = craft.serial if craft is not None and craft.serial else "not told"
    hours = moment.number("hours")
    return [
        Line(f"Serial: {serial}"),
        Line(f"Hours: {'not told' if hours is None else f'{hours:.1f} h'}"),
    ]
