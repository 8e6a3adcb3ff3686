"""What the glass says about the faults of the craft: the list, one of them, and a job under way."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from app.clear_words import back_lines, cleared_words
from app.fault_rows import (
    age_words,
    fault_lines,
    how_many,
    sentence,
    trouble_lines,
    unread_lines,
    value_lines,
)
from app.faults import moments
from app.heard_words import heard_lines, heard_of, heard_title, lamp_lines
from app.j1939_words import trouble_code
from app.link_words import link_words
from app.output_words import Line
from app.report_age import can_read, craft_report, old_line

if TYPE_CHECKING:
    from collections.abc import Sequence

    from app.diagnosis import Fault, HeardFaults, JobState, Report
    from app.moment import Moment


class FaultsWords(msgspec.Struct, frozen=True):
    """The list page.

    Attributes:
        title, lines: what stands there.
        name: for the event log.
        read: words of the key that reads; empty while nothing can be read.
        faults: there are faults of this craft to look at.
        done: share of the job that is done, 0 to 1; None while there is none.
    """

    title: str
    lines: list[Line]
    name: str = "check/faults"
    read: str = ""
    faults: bool = False
    done: float | None = None


def faults_words(moment: Moment, gone: Sequence[Fault] = ()) -> FaultsWords:
    """The list page as it stands now.

    Args:
        moment: see Moment.
        gone: faults of the last visit that are stored no more, see app.visits.gone_since.
    """
    if moment.job is not None:
        return _at_work(moment.job)
    report = craft_report(moment)
    can = can_read(moment)
    heard = heard_of(moment)
    tells = moment.catalogue is not None and moment.catalogue.tells
    if moment.live and moment.report is None and moment.snapshot is not None and moment.snapshot.report:
        return FaultsWords("One moment", [Line("The reading is done.", "It is on its way to the glass.")])
    if report is None and heard and (tells or (not can and _nobody_to_ask(moment))):
        lines = heard_lines(moment, heard, cleared=tells)
        read = "Read faults" if can else ""
        return FaultsWords(heard_title(moment, heard), lines, name="check/faults_heard", read=read)
    if report is None:
        lines = [] if moment.report is None else [_other_craft(moment.report)]
        lines += _to_read(moment)
        return FaultsWords("Faults: not read yet", lines, read="Read faults" if can else "")
    if report.kind == "clear" and report.before:
        title, lines = cleared_words(moment, report)
    elif report.kind == "clear":
        title, lines = _not_cleared(moment, report)
    else:
        title, lines = _read(moment, report)
    if tells:
        lines += lamp_lines(moment, heard) + _told_since(heard, report)
    lines = [*lines, *fault_lines(report), *_gone(gone)]
    return FaultsWords(title, lines, read="Read again" if can else "", faults=bool(report.faults))


def in_rows(report: Report | None) -> list[Fault]:
    """The faults in the order in which they stand on the glass."""
    return [] if report is None else [one for group in moments(report.faults) for one in group]


def fault_words(
    moment: Moment, report: Report, faults: list[Fault], place: int, notes: Sequence[Line] = ()
) -> tuple[str, list[Line]]:
    """One of the faults with every value and what was noted of it: title and rows."""
    one = faults[place]
    number = f"Fault {place + 1} / {len(faults)}" if len(faults) > 1 else "Fault"
    return f"{number}: {one.code}", [*_old(moment, report), *value_lines(report, one), *notes]


def _at_work(job: JobState) -> FaultsWords:
    of = f"{job.done} of {job.steps} steps done." if job.steps else ""
    waits = "Waiting. Leave" if job.waiting else "Leave"
    lines = [Line(sentence(job.words)), Line("", of), Line("", f"{waits} the key on and the plug in.")]
    done = min(1.0, job.done / job.steps) if job.steps else 0.0
    title, name = ("Reading", "check/reading") if job.kind == "scan" else ("Clearing", "check/clearing")
    return FaultsWords(
        f"{title} faults", [line for line in lines if line.strong or line.plain], name, done=done
    )


def _gone(gone: Sequence[Fault]) -> list[Line]:
    """Whoever cleared it did not do so with this tool on this visit."""
    if not gone:
        return []
    names = ", ".join(f"{one.code} {one.text}".rstrip() for one in gone)
    return [
        Line("Stored at the last visit, gone now:", f"{names}. Cleared elsewhere, or forgotten.", "triangle")
    ]


def _told_since(heard: Sequence[HeardFaults], report: Report) -> list[Line]:
    """What an engine tells as active that was not so when it was read."""
    active = [one for sender in heard for one in sender.faults if one.active]
    known = {one.code for one in report.faults if one.failed_now}
    new = [code for one in active if (code := trouble_code(one.spn, one.fmi)) not in known]
    return [Line("Active since it was read:", f"{', '.join(new)}. Read again.", "triangle")] if new else []


def _to_read(moment: Moment) -> list[Line]:
    if not moment.heard or moment.catalogue is None:
        said = link_words(moment)
        return [Line(sentence(said.title), " ".join(filter(None, (said.meaning, said.todo))), "cross")]
    if _nobody_to_ask(moment):
        return [Line("Nobody to ask.", "The family of this craft names no controllers that can be asked.")]
    asked = ", ".join(moment.catalogue.modules)
    return [
        Line("Touch “Read faults”.", f"It asks: {asked}."),
        Line("Key on, plug in until it is done.", "Reading changes nothing on the craft."),
    ]


def _nobody_to_ask(moment: Moment) -> bool:
    return moment.catalogue is not None and not moment.catalogue.modules


def _other_craft(report: Report) -> Line:
    return Line("Another craft is plugged in.", f"The last reading was of {report.craft}.", "triangle")


def _old(moment: Moment, report: Report) -> list[Line]:
    old = old_line(moment, report) if report.modules else None
    return [old] if old else []


def _read(moment: Moment, report: Report) -> tuple[str, list[Line]]:
    """After a reading, or after one that brought nothing while an older one stays."""
    age = age_words(moment.now - report.at)
    trouble, unread, old = trouble_lines(report), unread_lines(report), _old(moment, report)
    count = how_many(len(report.faults)) if report.faults else ""
    lines = [*trouble, *old, *unread]
    if report.came_back:
        lines += [Line("There again since clearing:"), *back_lines(report.came_back)]
    if not report.modules:
        return f"Faults: NOT read, {age}", lines
    if unread:
        parts = (count, "OLD" if old else "", "NOT fully read", age)
        return ", ".join(part for part in parts if part), lines
    if trouble:
        return "Not read again", [
            *trouble,
            *old,
            Line("Before that:", f"{count or 'none stored'}, read {age}."),
        ]
    if not report.faults:
        read = ", ".join(module.label for module in report.modules)
        lines.append(Line("Every controller was read to the end:", f"{read}.", "tick"))
    return f"{count or 'No faults stored'}, {'OLD: ' if old else ''}read {age}", lines


def _not_cleared(moment: Moment, report: Report) -> tuple[str, list[Line]]:
    """Nothing was sent that could clear: what was read before stands there still."""
    age = age_words(moment.now - report.at)
    trouble, unread, old = trouble_lines(report), unread_lines(report), _old(moment, report)
    if unread and not report.faults:
        return "What is stored is NOT known", [*trouble, *old, *unread]
    title = "Clearing was refused" if report.needs else "Not cleared"
    if not report.modules:
        return title, trouble
    count = how_many(len(report.faults)) if report.faults else "none stored"
    return title, [*trouble, Line("Before that:", f"{count}, read {age}."), *old, *unread]
