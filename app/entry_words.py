"""What an entry of the book says to a person: one line for a list, lines for a page."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import msgspec

from app.diagnosis import Report
from app.entry import Entry, Kind

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import tzinfo

    from app.diagnosis import Fault, ModuleState

_CONFIRMED = {
    "no_smell": "hatch open, no smell of fuel",
    "hands_clear": "hands clear",
    "spark_safe": "every plug in a clamped tester, jet area clear",
    "leak_seen": "a fuel leak",
}
"""What a person confirms by touch, see app.output_messages.Confirm."""


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
    if entry.kind == Kind.JOURNAL_DAMAGED:
        return [f"It reads: {body.get('text', '')}"]
    what = body.get("what")
    if not isinstance(what, dict):
        what = body
    return [f"{_plain(name).capitalize()}: {_value(value)}" for name, value in what.items() if value != ""]


def _report_lines(report: Report) -> list[str]:
    lines = [f"{item.label}: {item.value} {item.unit}".rstrip() for item in report.identity if item.value]
    lines += [f"{module.label}: {_read_words(module)}" for module in report.modules]
    for title, faults in (("Stored before", report.before), ("Stored", report.faults)):
        for fault in faults:
            lines.append(f"{title}: {_fault_words(fault)}")
            lines += [f"  {item.label} {item.value} {item.unit}".rstrip() for item in fault.snapshot]
    lines += [f"Came back after {back.after_s:.0f} s: {back.code} {back.text}" for back in report.came_back]
    return [*lines, report.trouble] if report.trouble else lines


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


def _count(faults: list[Fault]) -> str:
    if not faults:
        return "no faults"
    codes = ", ".join(fault.code for fault in faults)
    return f"{len(faults)} fault{'' if len(faults) == 1 else 's'} ({codes})"


def _scan(body: dict[str, Any]) -> str:
    return f"Read: {_outcome(msgspec.convert(body, Report))}"


def _clear(body: dict[str, Any]) -> str:
    report = msgspec.convert(body, Report)
    return f"Clearing: {_count(report.before)} before, after it {_outcome(report)}"


def _outcome(report: Report) -> str:
    """Faults as read, and what was not read: a module not read never counts as one without faults."""
    unread = [module.label for module in report.modules if not module.read]
    if not report.faults and len(unread) == len(report.modules):
        words = "nothing could be read"
    else:
        words = _count(report.faults)
        if unread:
            words += f"; NOT READ: {', '.join(unread)}"
    return f"{words}. {report.trouble}" if report.trouble else words


def _output_end(body: dict[str, Any]) -> str:
    what = body["what"]
    if what["fired"] is False:
        state = "did not fire"
    else:
        state = "fired, confirmed stopped" if what["confirmed"] is True else "NOT CONFIRMED STOPPED"
    return f"{_output(what)}: {state}. {what.get('cause', '')}".rstrip()


def _output_start(body: dict[str, Any]) -> str:
    what = body["what"]
    fuel = what.get("fuel_cm3")
    charged = f", {fuel:.3g} cm³ of fuel charged to cylinder {what.get('cylinder')}" if fuel else ""
    return f"{_output(what)}: about to fire{charged}"


def _output(what: dict[str, Any]) -> str:
    """An output by its label, or by the family's key where the journal gives no label."""
    return str(what.get("label") or _plain(what["output"]).capitalize())


def _refused(body: dict[str, Any]) -> str:
    what = body["what"]
    return f"{_output(what)} refused: {what['cause']}"


def _begun(body: dict[str, Any]) -> str:
    if not body["aside"]:
        return "This book was begun"
    return f"This book was begun: the one before was damaged, it stands in {body['aside']}"


def _craft(body: dict[str, Any]) -> str:
    hull = f", hull number {body['hull_number']}" if body.get("hull_number") else ""
    return f"Craft seen: {body['family']} {body['serial']}{hull}"


def _confirm(body: dict[str, Any]) -> str:
    what = body["what"]["what"]
    return f"A person confirmed: {_CONFIRMED.get(what, _plain(what))}"


_HEADLINES: dict[str, Callable[[dict[str, Any]], str]] = {
    Kind.BOOK_BEGUN: _begun,
    Kind.CRAFT_SEEN: _craft,
    Kind.SIGN_IN: lambda body: f"Signed in ({body['role']})",
    Kind.SCAN: _scan,
    Kind.CLEAR: _clear,
    Kind.NOTE: lambda body: f"Note: {body['text']}",
    Kind.CORRECTION: lambda body: f"Correction of entry {body['number']}: {body['text']}",
    Kind.OUTPUT_START: _output_start,
    Kind.OUTPUT_END: _output_end,
    Kind.REFUSED: _refused,
    Kind.CONFIRM: _confirm,
    Kind.PROVED: lambda _: "Engine speed seen above 150 rev/min: its reading is proved",
    Kind.PURGE: lambda _: "The engine ran long enough: fuel from tests is burnt",
    Kind.LEAK: lambda _: "A fuel leak was seen: venting begins again",
    Kind.VENTED: lambda body: f"Vented long enough after {body['what']['what']}",
    Kind.LOCKED: lambda body: f"Outputs locked: {body['what']['words']}",
    Kind.SETTLED: lambda _: "The controller was read again and answers: outputs are no longer locked",
    Kind.JOURNAL: lambda body: f"Journal: {_plain(body['journal']['kind'])}",
    Kind.JOURNAL_DAMAGED: lambda _: "A line of the journal could not be read",
}


def _plain(name: str) -> str:
    return name.replace("_", " ")


def _value(value: object) -> str:
    if isinstance(value, list):
        return ", ".join(_plain(str(item)) for item in value) or "none"
    if value is None:
        return "not known"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)
