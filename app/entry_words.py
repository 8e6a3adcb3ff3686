"""What an entry of the book says to a person: one line for a list, lines for a page."""

from __future__ import annotations

import contextlib
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import msgspec

from app.diagnosis import Report
from app.entry import Entry, Kind
from app.heard_words import told_headline, told_lines
from app.journal_words import HEADLINES, count_words, details, plain, saved_faults

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import tzinfo

    from app.diagnosis import Fault, ModuleState


def line(entry: Entry, zone: tzinfo | None = None) -> str:
    """One line: when, which craft, what, who. Times in ``zone``, None = the machine's own."""
    parts = [when(entry, zone), entry.craft, headline(entry), entry.operator]
    return " · ".join(part for part in parts if part)


def page(entry: Entry, zone: tzinfo | None = None) -> list[str]:
    """Lines: what happened, then where it comes from."""
    lines = [headline(entry), *_details(entry), f"When: {when(entry, zone)}"]
    if entry.craft:
        lines.append(f"Craft: {entry.craft}")
    lines.append(f"By: {entry.operator or 'nobody was signed in'}")
    lines.append(f"Entry {entry.number} of handheld {entry.device}, hash {entry.hash}")
    return lines


def when(entry: Entry, zone: tzinfo | None = None) -> str:
    """The wall time of what happened, and whether the clock can be trusted."""
    seconds, trusted = happened(entry)
    if seconds is None:
        return "time not known"
    try:
        text = datetime.fromtimestamp(seconds, UTC).astimezone(zone).strftime("%Y-%m-%d %H:%M")
    except (ValueError, OverflowError, OSError):
        return "time not known"
    return text if trusted else f"{text} (clock not trusted)"


def happened(entry: Entry) -> tuple[float | None, bool]:
    """When it happened, which is before it was written for what comes from the journal or a report.

    Returns:
        Seconds since 1970, None if not known; and whether they can be trusted.
    """
    written = entry.wall_ms / 1000
    source = _source(entry)
    if source is None:
        return written, entry.wall_trusted
    mono, wall = source.get("mono"), source.get("wall")
    if entry.boot and source.get("boot") == entry.boot and isinstance(mono, int | float):
        return written - (entry.mono_ms / 1000 - mono), entry.wall_trusted
    return (wall if isinstance(wall, int | float) else None), False


def headline(entry: Entry) -> str:
    """What happened, in one sentence."""
    words = _HEADLINES.get(entry.kind)
    if words is None:
        return f"Something this version does not know: {entry.kind}"
    try:
        return words(entry.body)
    except (KeyError, TypeError, AttributeError, msgspec.ValidationError):
        return f"Cannot be put in words: {entry.kind}"


def _source(entry: Entry) -> dict[str, Any] | None:
    """Where and when the bus side noted it; None if the entry was made when it happened."""
    if isinstance(entry.body.get("journal"), dict):
        return dict(entry.body["journal"])
    if entry.kind in (Kind.SCAN, Kind.CLEAR):
        return {"boot": entry.boot, "mono": entry.body.get("at"), "wall": entry.body.get("wall")}
    return {} if entry.kind == Kind.JOURNAL_DAMAGED else None


def _details(entry: Entry) -> list[str]:
    body = entry.body
    if entry.kind in (Kind.SCAN, Kind.CLEAR):
        try:
            return _report_lines(msgspec.convert(body, Report))
        except msgspec.ValidationError:
            return []
    if entry.kind in _DETAILS:
        return _DETAILS[entry.kind](body)
    what = body.get("what")
    lines = details(entry.kind, what if isinstance(what, dict) else body)
    if entry.kind == Kind.CLEAR_INTENT:
        with contextlib.suppress(KeyError, TypeError, msgspec.ValidationError):
            lines += _fault_lines("Saved before", saved_faults(body))
    return lines


def _report_lines(report: Report) -> list[str]:
    lines = [f"{item.label}: {item.value} {item.unit}".rstrip() for item in report.identity if item.value]
    lines += [f"{module.label}: {_read_words(module)}" for module in report.modules]
    lines += [*_fault_lines("Stored before", report.before), *_fault_lines("Stored", report.faults)]
    lines += [f"Came back after {back.after_s:.0f} s: {back.code} {back.text}" for back in report.came_back]
    return [*lines, report.trouble] if report.trouble else lines


def _fault_lines(title: str, faults: list[Fault]) -> list[str]:
    lines = []
    for fault in faults:
        lines.append(f"{title}: {_fault_words(fault)}")
        lines += [f"  {item.label} {item.value} {item.unit}".rstrip() for item in fault.snapshot]
    return lines


def _read_words(module: ModuleState) -> str:
    return "read" if module.read else f"NOT READ. {module.words}".rstrip()


def _fault_words(fault: Fault) -> str:
    states = {"failing now": fault.failed_now, "confirmed": fault.confirmed, "pending": fault.pending}
    facts = [word for word, holds in states.items() if holds]
    if fault.count is not None:
        facts.append(f"set {fault.count} times" if fault.count != 1 else "set once")
    if fault.hours is not None:
        facts.append(f"at {fault.hours:g} h")
    name = f"{fault.code} {fault.text or '(no words for this code)'}"
    return f"{name}: {', '.join(facts)}" if facts else name


def _scan(body: dict[str, Any]) -> str:
    return f"Read: {_outcome(msgspec.convert(body, Report))}"


def _journal(body: dict[str, Any]) -> str:
    """A line that was of an unknown kind when it was taken; this version may know it."""
    kind = body["journal"]["kind"]
    words = HEADLINES.get(kind)
    return f"Journal: {plain(kind)}" if words is None else words(body)


def _clear(body: dict[str, Any]) -> str:
    report = msgspec.convert(body, Report)
    if report.before:
        return f"Clearing: {count_words(report.before)} before, after it {_outcome(report)}"
    if not report.faults and not all(module.read for module in report.modules):
        return f"Clearing: what is stored is NOT known. {report.trouble}"
    trouble = report.trouble.removeprefix("Nothing was cleared. ")
    return f"{'Clearing was refused' if report.needs else 'Not cleared'}: {trouble}"


def _outcome(report: Report) -> str:
    """Faults as read, and what was not read: a module not read never counts as one without faults."""
    unread = [module.label for module in report.modules if not module.read]
    if not report.faults and len(unread) == len(report.modules):
        words = "nothing could be read"
    else:
        words = count_words(report.faults)
        if unread:
            words += f"; NOT READ: {', '.join(unread)}"
    return f"{words}. {report.trouble}" if report.trouble else words


def _check(body: dict[str, Any]) -> str:
    """The verdict, and what it comes from if it is not fit."""
    verdict = str(body["verdict"])
    if verdict == "fit":
        return f"Quick check: fit, engine {body['engine']}"
    seen = [str(row["seen"]) for row in body["rows"] if row["verdict"] != "fit"]
    return f"Quick check: {verdict.upper()}. {'; '.join(seen)}".rstrip(". ")


def _check_lines(body: dict[str, Any]) -> list[str]:
    try:
        return [f"{row['verdict']}: {row['seen']}. {row['limit']}".rstrip() for row in body["rows"]]
    except (KeyError, TypeError):
        return []


def _mark(body: dict[str, Any]) -> str:
    where = f", {body['after_s']:.0f} s into {body['recording']}" if "recording" in body else ""
    return f"Mark {body['mark']}{where}"


def _alarm(body: dict[str, Any]) -> str:
    what, event = body["what"], body["event"]
    if event == "raised":
        return f"ALARM {what} {body['worst']}, {body['limit']}"
    words = {"seen": "seen by a person", "over": "is over"}.get(event, str(event))
    return f"Alarm {what}: {words} after {body['lasted_s']:.0f} s, worst {body['worst']}"


def _value_lines(body: dict[str, Any]) -> list[str]:
    try:
        return [f"{label}: {text}" for label, text in body.get("values", [])]
    except (TypeError, ValueError):
        return []


def _begun(body: dict[str, Any]) -> str:
    if not body["aside"]:
        return "This book was begun"
    return f"This book was begun: the one before was damaged, it stands in {body['aside']}"


def _craft(body: dict[str, Any]) -> str:
    hull = f", hull number {body['hull_number']}" if body.get("hull_number") else ""
    return f"Craft seen: {body['family']} {body['serial']}{hull}"


_HEADLINES: dict[str, Callable[[dict[str, Any]], str]] = {
    Kind.BOOK_BEGUN: _begun,
    Kind.CRAFT_SEEN: _craft,
    Kind.SIGN_IN: lambda body: f"Signed in ({body['role']})",
    Kind.SCAN: _scan,
    Kind.CLEAR: _clear,
    Kind.QUICK_CHECK: _check,
    Kind.MARK: _mark,
    Kind.ALARM: _alarm,
    Kind.FAULTS_TOLD: told_headline,
    Kind.NOTE: lambda body: f"Note: {body['text']}",
    Kind.CORRECTION: lambda body: f"Correction of entry {body['number']}: {body['text']}",
    **HEADLINES,
    Kind.JOURNAL: _journal,
    Kind.JOURNAL_DAMAGED: lambda _: "A line of the journal could not be read",
}

_DETAILS: dict[str, Callable[[dict[str, Any]], list[str]]] = {
    Kind.QUICK_CHECK: _check_lines,
    Kind.MARK: _value_lines,
    Kind.ALARM: _value_lines,
    Kind.FAULTS_TOLD: told_lines,
    Kind.JOURNAL_DAMAGED: lambda body: [f"It reads: {body.get('text', '')}"],
}
"""What stands below the headline of an entry of these kinds."""
