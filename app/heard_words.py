"""What the glass says of faults that an engine tells by itself."""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING, Any

from app.fault_rows import age_words, how_many
from app.j1939_words import trouble_code, trouble_words
from app.output_words import Line

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from app.diagnosis import HeardFault, HeardFaults
    from app.moment import Moment

TOLD_S = 5.0
"""Active faults are told once a second (SAE J1939-73, from memory); after this what was told is old."""

RED = "red stop"
"""The lamp that asks for the engine to be stopped."""

LAMP_MEANS = {
    RED: "Stop the engine.",
    "amber warning": "It runs on; have it looked at.",
    "malfunction": "Emissions: have it looked at.",
    "protect": "Not electronics: oil, heat or the like.",
}
"""By the standard's descriptions of the lamps (from memory); the maker's manual goes first."""

ENGINE = 0
"""Address of the first engine (SAE J1939-81, from memory)."""


def lamp_means(lamps: Collection[str]) -> str:
    """What the worst of these lamps asks for."""
    return LAMP_MEANS[min(lamps, key=list(LAMP_MEANS).index)]


def heard_of(moment: Moment) -> list[HeardFaults]:
    """What was told of faults on this bus; also what is old."""
    return [] if moment.snapshot is None else moment.snapshot.heard


def sender_words(source: int) -> str:
    """Who tells it."""
    return "Engine" if source == ENGINE else f"Address {source}"


def is_old(moment: Moment, one: HeardFaults) -> bool:
    """Whether what it told of active faults says nothing about now."""
    return not moment.heard or one.active_at is None or moment.now - one.active_at > TOLD_S


def heard_title(moment: Moment, heard: Sequence[HeardFaults]) -> str:
    """How many faults there are, and whether that is known now."""
    active = sum(fault.active for one in heard for fault in one.faults)
    before = sum(not fault.active for one in heard for fault in one.faults)
    more = sum(one.more for one in heard)
    if any(is_old(moment, one) for one in heard):
        count = how_many(active + before + more) if active + before + more else "none told"
        return f"Faults now NOT known, before: {count}"
    parts = [f"{how_many(active + more)} active" if active else "No active faults"]
    return ", ".join(parts + ([f"{before} earlier"] if before else []))


def heard_lines(moment: Moment, heard: Sequence[HeardFaults], *, cleared: bool = False) -> list[Line]:
    """Rows of every sender: lamps, codes, and what can be done about them here.

    Args:
        moment: see Moment.
        heard: what was told.
        cleared: they can be asked for, and cleared; otherwise one can only listen.
    """
    lines: list[Line] = []
    for one in heard:
        who, old = sender_words(one.source), is_old(moment, one)
        if one.active_at is None:
            lines.append(Line(f"{who} does not say what is active.", "Only what was before.", "cross"))
        elif old:
            age = age_words(moment.now - one.active_at)
            lines.append(Line(f"{who} told them last {age}.", "Key on? Plug in?", "triangle"))
        lines += _lamps(one, old=old)
        lines += [_row(fault, "active then" if old else "active now") for fault in one.faults]
        if one.more:
            lines.append(Line(f"{one.more} more", "are told than have room here."))
    if any(one.faults for one in heard):
        more = "nothing is cleared here." if not cleared else "to clear them, read them first."
        lines.append(Line("Told by the engine itself.", f"What is mended it tells no more; {more}"))
    elif not any(is_old(moment, one) for one in heard):
        lines.append(Line("Told by the engine itself.", "Once a second, without being asked.", "tick"))
    return lines


def lamp_lines(moment: Moment, heard: Sequence[HeardFaults]) -> list[Line]:
    """Rows of the lamps alone."""
    return [line for one in heard for line in _lamps(one, old=is_old(moment, one))]


def _lamps(one: HeardFaults, *, old: bool) -> list[Line]:
    """One row for the lamps that are lit, the worst first; none if none is."""
    lamps = sorted(one.lamps, key=list(LAMP_MEANS).index)
    if not lamps:
        return []
    shape = "square" if RED in lamps else "triangle"
    lit = f"{sender_words(one.source)} {'lit' if old else 'lights'}: {', '.join(lamps)}."
    return [Line(lit, lamp_means(lamps), shape)]


def told_body(heard: Sequence[HeardFaults]) -> dict[str, Any]:
    """What the book keeps of faults that are active: every code, how often, and the lamps."""
    return {
        "active": [
            {"source": one.source, "spn": fault.spn, "fmi": fault.fmi, "times": fault.times}
            for one in heard
            for fault in one.faults
            if fault.active
        ],
        "lamps": sorted({lamp for one in heard for lamp in one.lamps}),
    }


def told_lines(body: dict[str, Any]) -> list[str]:
    """Every code of such an entry in words; one that is not written as it should be is left out."""
    lines = []
    for one in body.get("active", []):
        with contextlib.suppress(KeyError, TypeError):
            spn, fmi, times = one["spn"], one["fmi"], one["times"]
            words = trouble_words(spn, fmi) or "no words for it here"
            often = "" if times is None else f", {times} times" if times != 1 else ", once"
            lines.append(f"{sender_words(one['source'])}: SPN {spn} FMI {fmi}, {words}{often}")
    return lines


def told_headline(body: dict[str, Any]) -> str:
    """The codes in one sentence."""
    codes = [f"SPN {one['spn']} FMI {one['fmi']}" for one in body["active"]]
    lamps = f", lamps: {', '.join(body['lamps'])}" if body["lamps"] else ""
    return f"Active, told by the engine: {', '.join(codes) or 'none any more'}{lamps}"


def _row(fault: HeardFault, now: str) -> Line:
    words = trouble_words(fault.spn, fault.fmi)
    facts = [now if fault.active else "earlier"]
    if fault.times is not None:
        facts.append("once" if fault.times == 1 else f"{fault.times}\u00a0times")
    if not words:
        facts.insert(0, "no words for it here")
    if not fault.certain:
        facts.append("an old way of writing: the part is not certain")
    strong = f"{words}." if words else f"{trouble_code(fault.spn, fault.fmi)}."
    code = f"{trouble_code(fault.spn, fault.fmi)}, " if words else ""
    return Line(strong, code + ", ".join(facts))
