"""From a line of the bus side's journal to an entry of the book."""

from __future__ import annotations

import uuid
from typing import TYPE_CHECKING, Any

import msgspec

from app.entry import FROM_JOURNAL, Draft, Kind

if TYPE_CHECKING:
    from collections.abc import Callable

    from app.journal_file import JournalLine

NAMES = uuid.UUID("6f1c2a52-7d0b-4a7e-9a3e-2f5b1f0c8d41")
"""Namespace of the ids that follow from what an entry tells of, so that it is told only once (RFC 9562, 5.5).
Made once for this tool; never to be changed."""

SHOWN = 2000
"""Characters kept of a line that cannot be read."""


class Taken(msgspec.Struct, frozen=True):
    """What came from the journal.

    Attributes:
        added: entries that are new in the book.
        damaged: how many of them are lines that could not be read.
        waiting: a line without an end stands in the journal: it is being written, or was torn by a power cut.
    """

    added: int
    damaged: int
    waiting: bool


class JournalDrafts:
    """Makes drafts from journal lines in their order.

    The end of an output does not name who fired it, and may not name the craft; its start does.

    Args:
        start_of: asked for craft and operator of a start (output, number of the press) that was taken before.
    """

    def __init__(self, start_of: Callable[[str, str], tuple[str, str] | None]) -> None:
        self._start_of = start_of
        self._starts: dict[tuple[str, str], tuple[str, str]] = {}

    def draft(self, line: JournalLine, visit_of: Callable[[str], str]) -> Draft:
        """The entry a line makes; its id follows from the line."""
        own = str(uuid.uuid5(NAMES, line.hash))
        if line.fields is None:
            torn: dict[str, Any] = {"line": line.hash, "text": line.text[:SHOWN]}
            return Draft(own, "", "", "", Kind.JOURNAL_DAMAGED, torn, once=True)
        fields, what = line.fields, line.fields["body"]
        kind = Kind(fields["kind"]) if fields["kind"] in FROM_JOURNAL else Kind.JOURNAL
        craft, operator = _text(what.get("craft")), _text(what.get("operator"))
        press = (_text(what.get("output")), str(what.get("press")))
        if kind is Kind.OUTPUT_START:
            self._starts[press] = (craft, operator)
        elif kind is Kind.OUTPUT_END:
            begun = self._starts.get(press) or self._start_of(*press) or ("", "")
            craft, operator = craft or begun[0], operator or begun[1]
        source: dict[str, Any] = {name: fields.get(name) for name in ("kind", "n", "mono", "wall", "boot")}
        body = {"what": what, "journal": source | {"line": line.hash}}
        return Draft(own, craft, visit_of(craft), operator, kind, body, once=True)


def _text(value: object) -> str:
    return value if isinstance(value, str) else ""
