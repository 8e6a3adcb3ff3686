"""Notes on a fault: what somebody did about it, kept in the book beside its code."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from app.entry import Kind
from app.entry_words import when
from app.output_words import Line

if TYPE_CHECKING:
    from collections.abc import Iterable

    from app.diagnosis import Fault
    from app.entry import Entry

CHOICES = {
    "Plug dried, wire repaired": "Plug dried,\nwire repaired",
    "Part replaced": "Part\nreplaced",
    "Looked, not found": "Looked,\nnot found",
}
"""What can be noted with one touch (there is no keyboard on wet hands), and the key for it."""

MOST_SHOWN = 3
"""Newest notes that stand beside a fault; the book has them all."""


def note_body(one: Fault, choice: str) -> dict[str, Any]:
    """What goes into the book."""
    name = f"{one.code} {one.text}".rstrip()
    return {"text": f"{name}: {choice.lower()}", "module": one.module, "code": one.code, "choice": choice}


def note_lines(entries: Iterable[Entry], one: Fault) -> list[Line]:
    """The newest notes on this fault, as the book of its craft has them.

    Args:
        entries: of one craft, newest first.
        one: the fault.
    """
    notes = [
        entry
        for entry in entries
        if entry.kind == Kind.NOTE
        and (entry.body.get("module"), entry.body.get("code")) == (one.module, one.code)
    ]
    return [
        Line(f"Noted: {entry.body.get('choice', entry.body.get('text', ''))}.", _by(entry))
        for entry in notes[:MOST_SHOWN]
    ]


def _by(entry: Entry) -> str:
    return f"{when(entry)}{f', {entry.operator}' if entry.operator else ''}."
