"""What the book still knows of a craft from the visit before this one."""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING, TypeVar

import msgspec

from app.diagnosis import Report
from app.entry import Kind

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from app.diagnosis import Fault
    from app.entry import Entry

Found = TypeVar("Found")


def gone_since(entries: Sequence[Entry], report: Report | None) -> list[Fault]:
    """Faults that were confirmed when they were read on an earlier visit, and are stored no more.

    Nothing is said where this tool has cleared on this visit, and of a module that was not read to the end.

    Args:
        entries: of one craft, newest first.
        report: what was read now.
    """
    if not entries or report is None:
        return []
    this = entries[0].visit
    if any(entry.kind == Kind.CLEAR and entry.visit == this for entry in entries):
        return []
    then = next(_earlier(entries, (Kind.SCAN, Kind.CLEAR)), None)
    return [] if then is None else _gone(then, report)


def _gone(then: Report, now: Report) -> list[Fault]:
    read = {module.key for module in now.modules if module.read}
    stored = {(one.module, one.number) for one in now.faults}
    return [
        one
        for one in then.faults
        if one.confirmed and one.module in read and (one.module, one.number) not in stored
    ]


def last_visit(entries: Sequence[Entry], of: Callable[[Report], list[Found]]) -> list[Found]:
    """What was read last on an earlier visit; empty if the book tells nothing of it.

    Args:
        entries: of one craft, newest first.
        of: takes what is wanted out of a report; the newest report that has any counts.
    """
    return next((found for then in _earlier(entries, (Kind.SCAN,)) if (found := of(then))), [])


def _earlier(entries: Sequence[Entry], kinds: tuple[Kind, ...]) -> Iterator[Report]:
    """Reports of these kinds from visits before this one, newest first."""
    for entry in entries:
        if entry.kind in kinds and entry.visit != entries[0].visit:
            with contextlib.suppress(msgspec.ValidationError):  # written by another version
                yield msgspec.convert(entry.body, Report)
