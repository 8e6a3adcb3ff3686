"""How far a report still speaks of the craft that is plugged in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.messages import LinkState
from app.output_words import Line

if TYPE_CHECKING:
    from app.diagnosis import Report
    from app.moment import Moment


def craft_report(moment: Moment) -> Report | None:
    """The newest report if it is about the craft that is plugged in, as far as that is known."""
    report = moment.report
    craft = None if moment.snapshot is None else moment.snapshot.craft
    if report is None or craft is None or craft.serial is None or not report.craft:
        return report
    return report if report.craft in (craft.family, f"{craft.family} {craft.serial}") else None


def can_read(moment: Moment) -> bool:
    """Whether there is somebody to ask."""
    return moment.heard and moment.catalogue is not None and bool(moment.catalogue.modules)


def old_line(moment: Moment, report: Report) -> Line | None:
    """Why a report tells nothing about now; None if the craft was heard ever since."""
    unknown = "What is stored now is not known."
    if not moment.live or moment.link is None:
        return Line("The part that talks to the craft has stopped since.", unknown, "triangle")
    if moment.link.state is not LinkState.FOUND:
        return Line("Read before the craft was lost.", f"{unknown} Key on? Plug in?", "triangle")
    if moment.link.since > report.at:
        return Line("Read before the craft was lost and found again.", f"{unknown} Read again.", "triangle")
    return None
