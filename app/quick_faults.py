"""Stored faults as one row of the quick check: what a reading since it began has brought."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.fault_rows import age_words, sentence, unread_lines
from app.faults import NO_STATUS, in_order
from app.heard_words import RED, heard_of, is_old, lamp_means
from app.j1939_words import trouble_code, trouble_words
from app.quick_row import Seen, State, Verdict
from app.report_age import can_read, craft_report, old_line

if TYPE_CHECKING:
    from app.diagnosis import Fault, Report
    from app.moment import Moment

ASKED_S = 3.0
"""A reading that was asked for has begun by then, or it does not begin (our own figure)."""

CODES = 3
"""So many codes have room in a row."""


def being_read(moment: Moment, began: float) -> bool:
    """Whether there is a reading to wait for."""
    if not can_read(moment):
        return False
    if moment.job is not None:
        return True
    on_its_way = moment.report is None and moment.snapshot is not None and moment.snapshot.report != 0
    return on_its_way or (_report(moment, began) is None and moment.now - began < ASKED_S)


def faults_seen(moment: Moment, began: float) -> list[Seen]:
    """What is known of the stored faults; empty where there is nobody to ask and nobody tells."""
    if moment.catalogue is None:
        return []
    if not moment.catalogue.modules:
        return _told(moment)
    return _asked(moment, began) + (_lit(moment) if moment.catalogue.tells else [])


def _asked(moment: Moment, began: float) -> list[Seen]:
    if being_read(moment, began):
        return [_seen(State.READING, "being read")]
    if not moment.heard:
        return [_seen(State.NOT_READ, "not read", "The craft is not heard.")]
    report = _report(moment, began)
    if report is None:
        return [_seen(State.NOT_READ, "not read", "No reading has come.")]
    seen = []
    old, unread = old_line(moment, report), unread_lines(report)
    if old is not None:
        seen.append(_seen(State.NOT_READ, "not known", old.strong))
    elif unread:
        more = unread[0].plain.partition(". ")[0]
        seen.append(_seen(State.NOT_READ, unread[0].strong.rstrip("."), sentence(more) if more else ""))
    elif report.trouble or not report.modules:
        seen.append(_seen(State.NOT_READ, "not read", sentence(report.trouble or "Nobody was asked")))
    if report.faults:
        seen.insert(0, _stored(in_order(report.faults)))
    if not seen:
        read = ", ".join(module.label for module in report.modules)
        age = age_words(moment.now - report.at)
        more = f"{read}: read {age}."
        seen.append(Seen("faults", "Faults", State.FINE, Verdict.FIT, "none stored", more=more))
    return seen


def _told(moment: Moment) -> list[Seen]:
    """By engines that tell their faults without being asked: what lights the red lamp keeps it ashore."""
    heard = heard_of(moment)
    if any(is_old(moment, one) for one in heard):
        return [_seen(State.NOT_READ, "not known", "The engine tells them no more.")]
    codes = [trouble_code(one.spn, one.fmi) for sender in heard for one in sender.faults if one.active]
    lamps = {lamp for sender in heard for lamp in sender.lamps}
    if not heard:
        return []
    if not codes and not lamps:
        return [Seen("faults", "Faults", State.FINE, Verdict.FIT, "none active", more="Told by the engine.")]
    words = next(
        (trouble_words(one.spn, one.fmi) for sender in heard for one in sender.faults if one.active), ""
    )
    more = f"Lamps: {', '.join(sorted(lamps))}." if lamps else sentence(words) if words else ""
    text = _few(codes) if codes else "a lamp is lit"
    return [Seen("faults", "Active now", State.STORED, _bad_as(lamps), text, more=more)]


def _lit(moment: Moment) -> list[Seen]:
    """Lamps that an engine lights now, whatever was read: they say how bad it is."""
    lamps = {lamp for one in heard_of(moment) if not is_old(moment, one) for lamp in one.lamps}
    if not lamps:
        return []
    text = ", ".join(sorted(lamps))
    return [Seen("faults", "Lamps lit", State.STORED, _bad_as(lamps), text, more=lamp_means(lamps))]


def _bad_as(lamps: set[str]) -> Verdict:
    """How bad the lamps say it is."""
    return Verdict.ASHORE if RED in lamps else Verdict.LOOK


def _few(codes: list[str]) -> str:
    return ", ".join(codes[:CODES]) + (f" and {len(codes) - CODES} more" if len(codes) > CODES else "")


def _report(moment: Moment, began: float) -> Report | None:
    """Of this craft, and read since the check began."""
    report = craft_report(moment)
    return report if report is not None and report.at >= began else None


def _seen(state: State, text: str, more: str = "") -> Seen:
    return Seen("faults", "Faults", state, Verdict.LOOK, text, more=more)


def _stored(faults: list[Fault]) -> Seen:
    """What fails now, or asks for the warning lamp, keeps it ashore; what is only kept wants a look.

    That is our own rule: codes of a craft are not standardised further than their status (ISO 14229-1). Of a
    code of SAE J1939 the lamps say how bad it is, see _lit.
    """
    failing = any((one.failed_now and one.status != NO_STATUS) or one.warning for one in faults)
    codes = [one.code for one in faults]
    text = _few(codes)
    words = sentence(faults[0].text) if faults[0].text else "Not in this family's list."
    verdict = Verdict.ASHORE if failing else Verdict.LOOK
    what = "Failing now" if any(one.failed_now for one in faults) else "Stored"
    return Seen("faults", what, State.STORED, verdict, text, more=words)
