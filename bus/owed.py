"""Which release that an earlier press owes is to be sent now."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.interlock import RULES

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from bus.output_past import Owed

HELD_OFF = frozenset(kind for kind, rule in RULES.items() if rule.latched)
"""Kinds that no release may end while the engine turns, even where the journal does not tell how."""

NAMELESS_S = 1.0
"""A craft that does not say its serial for this long gets an owed release without it."""


def next_owed(
    all_owed: Iterable[Owed], serial: str | None, nameless_s: float, *, at_rest: Callable[[], bool]
) -> Owed | None:
    """The first that can be sent now, marked as sent; None if none can.

    A craft that does not say its serial gets each once, blindly: what it confirms then is worth nothing, and
    the release stays owed until the craft says who it is.

    Args:
        all_owed: in the order to send them.
        serial: of the craft that is heard, None while unknown.
        nameless_s: seconds for which a craft is heard that has not said its serial.
        at_rest: the engine is known to stand still. Until then nothing is released where an inhibit is owed:
            that could start the engine, and so could the default session at the end of any other. The inhibit
            itself is gone on with, so that it is read back and its session does not end under a crank.
    """
    every = list(all_owed)
    waits = any(_may_be_held(owed, serial) for owed in every) and not at_rest()
    for owed in every:
        if serial is None:
            owed.due = True
            owed.blind = owed.blind and nameless_s > 0
        known = owed.due and (owed.heard or (serial is not None and owed.craft in ("", serial)))
        blind = not known and not owed.blind and nameless_s >= NAMELESS_S
        may = known and owed.kind in HELD_OFF if waits else known or blind
        if owed.plan is not None and may:
            owed.due, owed.blind, owed.heard = False, blind, False
            return owed
    return None


def _may_be_held(owed: Owed, serial: str | None) -> bool:
    """An inhibit that this craft may still hold."""
    mine = serial is None or owed.heard or owed.craft in ("", serial)
    return mine and owed.kind in HELD_OFF
