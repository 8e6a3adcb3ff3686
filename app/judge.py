"""Whether a good value is inside its limits."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from app.messages import Limit

DEADBAND = 0.01
"""Share of a signal's scale by which a value must come back before a passed limit is dropped.

A value that trembles at its limit must not blink. 1 % is the usual start value for temperatures in alarm
practice (from memory).
"""

_RANK = {"watch": 1, "alarm": 2}


def judge(
    value: float,
    limits: Iterable[Limit],
    engine_speed: float | None,
    *,
    held: Limit | None = None,
    deadband: float = 0.0,
) -> Limit | None:
    """Find the worst limit a value has passed.

    Args:
        value: a GOOD value in the signal's unit; nothing else may be judged.
        limits: of this signal.
        engine_speed: rev/min, known good, or None. Limits that hold only above some engine speed are not
            judged while it is unknown.
        held: what the last call returned; it is kept until the value has come back by ``deadband``.
        deadband: in the signal's unit, 0 or more.

    Returns:
        The passed limit of the highest severity, None when the value is inside all that can be judged.
    """
    worst: Limit | None = None
    for limit in limits:
        if not _applies(limit, engine_speed):
            continue
        back = deadband if limit == held else 0.0
        if _passed(value, limit, back) and (worst is None or _RANK[limit.severity] > _RANK[worst.severity]):
            worst = limit
    return worst


def _applies(limit: Limit, engine_speed: float | None) -> bool:
    if limit.engine_above is None:
        return True
    return engine_speed is not None and engine_speed > limit.engine_above


def _passed(value: float, limit: Limit, back: float) -> bool:
    if limit.side == "above":
        return value > limit.value - back
    return value < limit.value + back
