"""What a person says by touch about the craft: whether it counts, and what follows from it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from bus.output_facts import role_fact
from bus.output_past import CRANKED, FUEL

if TYPE_CHECKING:
    from app.output_messages import Confirm
    from bus.facts import FactTable
    from bus.output_past import OutputPast

LEAK_SEEN = "leak_seen"
PURGED_BY_CRANKING = "purged_by_cranking"


def take_word(request: Confirm, table: FactTable, past: OutputPast, who: tuple[str, str], now: float) -> str:
    """Count a word, and put it into the journal if it counts.

    Args:
        request: what was said, and when it was touched.
        table: what the gate heard of the craft.
        past: what earlier tests left in it.
        who: the operator who is signed in, and the role.
        now: seconds, the gate's clock.

    Returns:
        Why whatever is live must end, in words; empty if nothing must.
    """
    craft = table.serial
    operator, role = who
    if request.what == LEAK_SEEN:
        table.doubt("no_smell")
        table.doubt("no_leak")
        past.tell("leak", craft=craft, operator=operator)
        return "A leak was seen."
    if request.what == PURGED_BY_CRANKING:
        if craft is None or not role_fact(operator, role).holds or not table.takes_word(request.at, now):
            return ""
        if _blown_out(craft, table, past, now):
            past.tell("purge", craft=craft, how=CRANKED, operator=operator)
            table.spend_crank(now)
            table.doubt("no_smell")
        return ""
    if request.what == "no_smell" and past.since(FUEL, craft or "", now) is not None:
        return ""  # only a nose that came after the venting counts
    if table.confirm(request.what, request.at, now):
        past.tell("confirm", what=request.what, operator=operator, craft=craft)
    return ""


def _blown_out(craft: str, table: FactTable, past: OutputPast, now: float) -> bool:
    """Plugs out, coils unpowered, cranked: only with a crank that the gate heard itself, after the last fuel.

    While an output may still be live nobody knows what is in the cylinders.
    """
    return table.cranked_ago(now) is not None and not past.locked(craft) and past.fuel.total(craft) > 0
