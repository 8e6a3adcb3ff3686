"""Where events stand on an axis of time: shares of its length, steps of its marks, which words have room."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

STEPS_S = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14_400, 21_600, 43_200, 86_400)
"""From one mark of the axis to the next; beyond a day whole days are taken."""

MARKS = 6
"""Of the axis, at most."""


class Event(NamedTuple):
    """Something at a time, or from one time to another.

    Attributes:
        at: seconds.
        shape: as drawn: "square" alarm, "triangle" watch, "tick", "cross", "bars"; "" = a plain mark.
        label: a word or two; may be empty.
        until: end of a span in seconds; None = a moment.
    """

    at: float
    shape: str
    label: str = ""
    until: float | None = None


class Placed(NamedTuple):
    """An event on the axis.

    Attributes:
        event: see Event.
        left, right: shares of the axis, 0 to 1; equal for a moment.
        row: of its words, 0 = next to the axis; None = they have no room.
        sign: its shape or mark has room; otherwise only a short mark says when it was.
    """

    event: Event
    left: float
    right: float
    row: int | None
    sign: bool = True


def step_of(seconds: float) -> float:
    """The smallest step with which a length of time has at most MARKS marks."""
    for step in STEPS_S:
        if seconds / step <= MARKS:
            return float(step)
    days = -(-seconds // (MARKS * 86_400))
    return days * 86_400.0


def marks(begin: float, end: float) -> list[float]:
    """Times of the axis's marks: whole steps since ``begin``."""
    if end <= begin:
        return [begin]
    step = step_of(end - begin)
    return [begin + number * step for number in range(int((end - begin) / step + 1e-9) + 1)]


def place(
    events: Sequence[Event],
    begin: float,
    end: float,
    width: Callable[[str], float],
    *,
    rows: int,
    side: float = 0.0,
) -> list[Placed]:
    """Put events on the axis, those outside left out; words that would overlap go to the next row, or go.

    Args:
        events: in any order; alarms get their words and their signs first.
        begin: of the axis, seconds.
        end: of the axis, seconds.
        width: of a label, as a share of the axis.
        rows: of words.
        side: of a sign, as a share of the axis; two signs never stand nearer than that.
    """
    span = max(1e-9, end - begin)
    taken: list[list[tuple[float, float]]] = [[] for _ in range(rows)]
    signs: list[float] = []
    placed: dict[int, Placed] = {}
    for number in sorted(
        range(len(events)), key=lambda number: (events[number].shape != "square", events[number].at)
    ):
        event = events[number]
        last = event.at if event.until is None else max(event.at, event.until)
        if last >= begin and event.at <= end:
            left = (max(begin, event.at) - begin) / span
            row = _row(taken, left, width(event.label)) if event.label else None
            sign = event.until is not None or all(abs(left - other) >= side for other in signs)
            if sign and event.until is None:
                signs.append(left)
            placed[number] = Placed(event, left, (min(end, last) - begin) / span, row, sign)
    return [placed[number] for number in sorted(placed)]


def _row(taken: list[list[tuple[float, float]]], left: float, wide: float) -> int | None:
    """The first row in which words of this width, begun at ``left`` or ended at the axis's end, have room."""
    left = min(left, 1.0 - wide)
    if left < 0:
        return None
    for row, spans in enumerate(taken):
        if all(left >= right or left + wide <= begun for begun, right in spans):
            spans.append((left, left + wide))
            return row
    return None
