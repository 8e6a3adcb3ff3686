"""What a person says by touch about the craft: whether it counts, and what follows from it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from bus.output_past import FUEL

if TYPE_CHECKING:
    from app.output_messages import Confirm
    from bus.facts import FactTable
    from bus.output_past import OutputPast

LEAK_SEEN = "leak_seen"


def take_word(request: Confirm, table: FactTable, past: OutputPast, operator: str, now: float) -> str:
    """Count a word, and put it into the journal if it counts.

    Args:
        request: what was said, and when it was touched.
        table: what the gate heard of the craft.
        past: what earlier tests left in it.
        operator: who is signed in.
        now: seconds, the gate's clock.

    Returns:
        Why whatever is live must end, in words; empty if nothing must.
    """
    craft = table.serial
    if request.what == LEAK_SEEN:
        table.doubt("no_smell")
        past.tell("leak", craft=craft, operator=operator)
        return "A leak was seen."
    if request.what == "no_smell" and past.since(FUEL, craft or "", now) is not None:
        return ""  # only a nose that came after the venting counts
    if table.confirm(request.what, request.at, now):
        past.tell("confirm", what=request.what, operator=operator, craft=craft)
    return ""
