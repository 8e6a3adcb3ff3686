"""What the book still knows of a craft from the visit before this one."""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING, TypeVar

import msgspec

from app.diagnosis import Report
from app.entry import Kind

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from app.entry import Entry

Found = TypeVar("Found")


def last_visit(entries: Sequence[Entry], of: Callable[[Report], list[Found]]) -> list[Found]:
    """What was read last on an earlier visit; empty if the book tells nothing of it.

    Args:
        entries: of one craft, newest first.
        of: takes what is wanted out of a report; the newest report that has any counts.
    """
    for entry in entries:
        if entry.kind == Kind.SCAN and entry.visit != entries[0].visit:
            with contextlib.suppress(msgspec.ValidationError):  # written by another version
                found = of(msgspec.convert(entry.body, Report))
                if found:
                    return found
    return []
