"""Rows of words about stored faults, and the small words they are made of.

Codes by SAE J2012 / ISO 15031-6, status by ISO 14229-1. What several faults of one moment point to is common
practice and said as such.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.faults import NO_STATUS, moments
from app.output_words import Line
from app.show import unit_words

if TYPE_CHECKING:
    from app.diagnosis import Fault, ModuleState, Report, SnapshotLine

STATUS_BITS = (
    "failing now",
    "failed in this operation cycle",
    "pending",
    "confirmed",
    "not tested since it was cleared",
    "failed since it was cleared",
    "not tested in this operation cycle",
    "asks for the warning lamp",
)
"""Bits 0 to 7 of the status byte (ISO 14229-1), in plain words; its operation cycle is one of the key."""

MOST_COUNTED = 255
"""Count and age are one byte each: the largest value may stand for more."""


def fault_lines(report: Report) -> list[Line]:
    """A row for every fault; before those of one moment a row that says so."""
    lines = []
    for group in moments(report.faults):
        hours = max((one.hours for one in group if one.hours is not None), default=None)
        if len(group) > 1 and hours is not None:
            means = "Supply, ground, plug first (common practice)."
            lines.append(Line(f"{len(group)} set together at {hours:.1f} h.", means))
        lines += [_row(report, one) for one in group]
    return lines


def value_lines(report: Report, one: Fault) -> list[Line]:
    """Every value of one fault."""
    bits = [words for bit, words in enumerate(STATUS_BITS) if one.status >> bit & 1]
    status = f"Status {one.status:02X}: {', '.join(bits)}." if one.status != NO_STATUS else ""
    number = sentence(_where(report, one))
    count = "How often it set is not told" if one.count is None else f"Set {_times(one.count)}"
    hours = "" if one.hours is None else f", at {one.hours:.1f} h"
    return [
        Line(f"{one.text}." if one.text else sentence(_unlisted(one)), number),
        Line(sentence(state_words(one)), status),
        Line(f"{count}{hours}.", sentence(_age(one))),
        _kept(one),
    ]


def trouble_lines(report: Report) -> list[Line]:
    """What went wrong, then every need in the order to mend it: what was seen, what to do."""
    joined = "; ".join(report.needs)
    before, _, after = report.trouble.partition(joined) if joined else (report.trouble, "", "")
    lines = [sentence(part) for part in (before.rstrip(" :;"), after.lstrip(" .;")) if part.strip()]
    rows = [Line(words, "", "cross") for words in lines]
    for need in report.needs:
        seen, dot, do = sentence(need).partition(". ")
        rows.append(Line(seen + dot.strip(), do, "cross"))
    return rows


def unread_lines(report: Report) -> list[Line]:
    """Every module that was not read to the end, and why; a reason that stands there already is left out."""
    return [_unread(module, report) for module in report.modules if not module.read]


def state_words(one: Fault) -> str:
    """The most urgent that its status says."""
    if one.failed_now:
        return "failing now"
    if one.confirmed:
        return "confirmed"
    return "pending" if one.pending else "stored"


def age_words(seconds: float) -> str:
    """How long ago: coarse, so that it can be read while it changes."""
    if seconds < 10:
        return "just now"
    if seconds < 60:
        return f"{seconds // 10 * 10:.0f} s ago"
    minutes = int(seconds // 60)
    return f"{minutes} min ago" if minutes < 60 else f"{minutes // 60} h {minutes % 60} min ago"


def how_many(count: int) -> str:
    """So many faults."""
    return f"{count} fault{'' if count == 1 else 's'}"


def module_label(report: Report, key: str) -> str:
    """Words for a module."""
    return next((module.label for module in report.modules if module.key == key), key)


def sentence(text: str) -> str:
    """With a capital and a full stop."""
    text = text.strip()
    text = text[:1].upper() + text[1:]
    return text if text.endswith((".", "!", "?")) else f"{text}."


def _row(report: Report, one: Fault) -> Line:
    facts = [state_words(one)]
    if not one.text:
        facts.insert(0, f"{_where(report, one)}: {_unlisted(one)}")
    if one.hours is not None:
        facts.append(f"set at\u00a0{one.hours:.1f}\u00a0h")
    if one.count is not None:
        facts.append(_times(one.count))
    if one.age is not None:
        facts.append(_age(one))
    return Line(f"{one.code} {one.text}".strip(), ", ".join(facts))


def _where(report: Report, one: Fault) -> str:
    """Who holds it, and its number where the code does not say it."""
    where = module_label(report, one.module)
    return where if one.status == NO_STATUS else f"{where}, number {one.number:06X}"


def _unlisted(one: Fault) -> str:
    return "no words for it here" if one.status == NO_STATUS else "not in this family's list"


def _times(count: int) -> str:
    if count == 1:
        return "once"
    return f"{count}\u00a0{'or more ' if count == MOST_COUNTED else ''}times"


def _age(one: Fault) -> str:
    """Cycles in which the engine warmed up since the fault was last seen."""
    if one.age is None:
        return "when it was last seen is not told"
    if one.age == 0:
        return "seen this warm-up"
    more = " or more" if one.age == MOST_COUNTED else ""
    return f"last seen {one.age}{more} warm-up{'' if one.age == 1 else 's'}\u00a0ago"


def _kept(one: Fault) -> Line:
    if one.snapshot:
        return Line("When it set:", ", ".join(_value(line) for line in one.snapshot) + ".")
    if not one.text:
        return Line("No values of that moment.", "None are asked for of a code that is not in the list.")
    return Line("No values of that moment.", "The controller gave none.")


def _value(line: SnapshotLine) -> str:
    value = line.value.replace("-", "−")
    return f"{line.label} {value} {unit_words(line.unit)}".strip().replace(" ", "\u00a0")


def _unread(module: ModuleState, report: Report) -> Line:
    words = "" if module.words and module.words in report.trouble else module.words
    words = words.removeprefix(f"{module.label}: ").removeprefix(f"{module.label} ")
    listed = any(one.module == module.key for one in report.faults)
    what = f"{module.label} was not read{' to the end' if listed else ''}."
    return Line(what, sentence(words) if words else "", "cross")
