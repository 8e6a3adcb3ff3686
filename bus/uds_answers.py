"""What the answers of a controller say (ISO 14229-1). Pure; what does not add up is nonsense, no guess."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from app.diagnosis import SnapshotLine
from app.errors import ControllerNonsense
from app.faults import is_stored

if TYPE_CHECKING:
    from collections.abc import Mapping

    from bus.uds_form import Extended, Item

MOST_FAULTS = 64
"""Stored codes in one answer; more is no controller of a small craft (our own figure)."""

FILLERS = b"\x00\xff"
PRINTABLE = range(0x20, 0x7F)


class Kept(NamedTuple):
    """What a controller kept of the moment when a fault set.

    Attributes:
        lines: for a person.
        hours: engine hours of that moment; None if not told.
    """

    lines: list[SnapshotLine]
    hours: float | None


NOT_KNOWN = "not known"
"""In place of a value that the controller itself did not know."""


def value_text(raw: bytes, item: Item) -> str | None:
    """A value behind a data identifier as text; None if the bytes cannot be one, or say that there is none.

    Fillers behind an ASCII text are not part of it.
    """
    if item.text:
        text = raw.rstrip(FILLERS).strip()
        return text.decode("ascii") if text and all(byte in PRINTABLE for byte in text) else None
    number = _number(raw, item)
    return None if len(raw) != item.bytes or number is None else f"{number:.{item.decimals}f}"


def _number(raw: bytes, item: Item) -> float | None:
    """A number; None if it is the largest one, all ones, and the family takes that for "not known"."""
    largest = (1 << 8 * len(raw) - item.signed) - 1
    if not item.full_range and int.from_bytes(raw, "big") == largest:
        return None
    return int.from_bytes(raw, "big", signed=item.signed) * item.factor + item.offset


def identity_value(answer: bytes, item: Item) -> str:
    """The value in an answer to service 22.

    Raises:
        ControllerNonsense: it is not coded as the family says.
    """
    text = value_text(answer[3:], item)
    if text is None:
        raise ControllerNonsense(f"{item.label} came in a form that the family data do not know.")
    return text


def stored(answer: bytes) -> dict[int, int]:
    """The stored faults in an answer to 19 02: number to status byte, in the controller's order.

    Bits that the controller says it does not support count as 0.

    Raises:
        ControllerNonsense: cut off, a fault without a number, or more than a controller holds.
    """
    if len(answer) < 3 or (len(answer) - 3) % 4:
        raise ControllerNonsense("Its list of faults is cut off.")
    supported = answer[2]
    faults: dict[int, int] = {}
    for start in range(3, len(answer), 4):
        number, status = int.from_bytes(answer[start : start + 3], "big"), answer[start + 3] & supported
        if not is_stored(status):
            continue
        if number == 0:
            raise ControllerNonsense("Its list holds a fault without a number.")
        faults[number] = faults.get(number, 0) | status
    if len(faults) > MOST_FAULTS:
        raise ControllerNonsense(f"It lists {len(faults)} faults at once.")
    return faults


def kept(answer: bytes, items: Mapping[int, Item]) -> Kept:
    """The snapshot in an answer to 19 04: of several records the first.

    A data identifier that the family does not know has no known length, so nothing behind it can be read.

    Raises:
        ControllerNonsense: cut off.
    """
    lines: list[SnapshotLine] = []
    hours = None
    if len(answer) < 6:
        raise ControllerNonsense("Its snapshot is cut off.")
    if len(answer) == 6:
        return Kept(lines, hours)
    if len(answer) < 8:
        raise ControllerNonsense("Its snapshot is cut off.")
    rest = answer[8:]
    for _ in range(answer[7]):
        item = items.get(int.from_bytes(rest[:2], "big")) if len(rest) >= 2 else None
        if item is None and len(rest) >= 2:
            break
        width = 0 if item is None else item.bytes or 0
        raw, rest = rest[2 : 2 + width], rest[2 + width :]
        if item is None or len(raw) != width:
            raise ControllerNonsense("Its snapshot is cut off.")
        number = _number(raw, item)
        if item.hours:
            hours = number
        text = NOT_KNOWN if number is None else f"{number:.{item.decimals}f}"
        lines.append(SnapshotLine(item.label, text, "" if number is None else item.unit))
    return Kept(lines, hours)


def records(answer: bytes, extended: Extended) -> tuple[int | None, int | None]:
    """Count and age in an answer to 19 06; None for what it does not tell.

    A record that the family does not know has no known length, so nothing behind it can be read.

    Raises:
        ControllerNonsense: cut off.
    """
    if len(answer) < 6:
        raise ControllerNonsense("Its record of a fault is cut off.")
    values: dict[int, int] = {}
    rest = answer[6:]
    while rest and rest[0] in (extended.count, extended.age):
        if len(rest) < 2:
            raise ControllerNonsense("Its record of a fault is cut off.")
        values[rest[0]] = rest[1]
        rest = rest[2:]
    count = values.get(extended.count) if extended.count is not None else None
    age = values.get(extended.age) if extended.age is not None else None
    return count, age
