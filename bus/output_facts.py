"""Facts that depend on which output asks: who works, what else is live, fuel, venting."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.interlock import (
    CONFIRM_PURGE,
    FUEL_PER_CYLINDER_CM3,
    FUEL_PER_VISIT_CM3,
    RULES,
    VENT_S,
    Fact,
    Need,
)
from app.operators import MAY, Deed, Role
from bus.output_past import FUEL, SPARK

if TYPE_CHECKING:
    from collections.abc import Mapping

    from bus.output_past import OutputPast
    from bus.outputs import OutputPlan


PURGE_BY = "Run the engine 30 s; or plugs out, coils unpowered, crank 5 s, confirm"
"""The two ways to get test fuel out of the cylinders; there is no third."""


def role_fact(operator: str, role: str) -> Fact:
    """Whether the person signed in may fire and write."""
    may = role in list(Role) and Deed.FIRE in MAY[Role(role)]
    return Fact(may, f"Signed in: {operator or 'nobody'}", "Sign in as a technician")


def released_fact(plan: OutputPlan) -> Fact:
    """Whether this version fires outputs of this kind."""
    released = RULES[plan.data.kind].released
    seen = "Offered by this version" if released else "Not released yet"
    return Fact(released, seen, "A later version fires it")


def settled_fact(locked: str) -> Fact:
    """Whether every release was confirmed; ``locked`` says which was not."""
    return Fact(
        not locked, locked or "Every release was confirmed", "Pull the lanyard, battery off, read again"
    )


def free_fact(locked: str, rest_s: float, occupied: str) -> Fact:
    """Whether this output may have the controller for itself.

    Args:
        locked: see settled_fact.
        rest_s: seconds until it may be fired again.
        occupied: what else is under way, in words.
    """
    if locked:
        return settled_fact(locked)
    if occupied:
        return Fact(False, occupied, "Wait until it has ended")
    if rest_s > 0:
        return Fact(False, "It was fired a moment ago", f"Wait {rest_s:.0f} s")
    return Fact(True, "No other output is live")


def past_facts(
    past: OutputPast,
    craft: str | None,
    plan: OutputPlan,
    now: float,
    *,
    charged: bool,
    cranked_ago: float | None,
) -> Mapping[Need, Fact]:
    """What earlier tests left in the craft.

    Args:
        past: the account.
        craft: serial, None while it is not known: then none of these is known.
        plan: of the output that asks.
        now: seconds, the account's clock.
        charged: the fuel of this very press is in the account already.
        cranked_ago: see FactTable.
    """
    if craft is None:
        unknown = Fact(None, "What earlier tests left: craft not known", "Wait until it has said its serial")
        return dict.fromkeys((Need.FUEL_ROOM, Need.PURGED, Need.VENTED, Need.SPARK_AGO), unknown)
    return {
        Need.FUEL_ROOM: _or_by_cranking(_fuel_room(past, craft, plan, charged=charged), cranked_ago),
        Need.PURGED: _or_by_cranking(_purged(past.fuel.total(craft)), cranked_ago),
        Need.VENTED: _ago(past.since(FUEL, craft, now), "Fuel test, leak or purge by cranking", "Vent"),
        Need.SPARK_AGO: _ago(past.since(SPARK, craft, now), "A spark test", "Wait"),
    }


def _fuel_room(past: OutputPast, craft: str, plan: OutputPlan, *, charged: bool) -> Fact:
    cylinder = plan.data.cylinder
    here, whole = past.fuel.total(craft, cylinder), past.fuel.total(craft)
    return Fact(
        past.fuel.room(craft, cylinder, 0.0 if charged else plan.fuel_cm3),
        f"Fuel in cylinder {cylinder}: {here:.1f} of {FUEL_PER_CYLINDER_CM3} cm³, "
        f"craft {whole:.1f} of {FUEL_PER_VISIT_CM3} cm³",
        PURGE_BY,
    )


def _purged(cm3: float) -> Fact:
    return Fact(cm3 == 0, f"Fuel in the cylinders: {cm3:.1f} cm³", PURGE_BY)


def _or_by_cranking(fact: Fact, cranked_ago: float | None) -> Fact:
    """Once a crank was heard that may have blown the fuel out, a person may say so."""
    if fact.holds or cranked_ago is None:
        return fact
    seen = f"{fact.seen}; cranked {cranked_ago:.0f} s ago, if with plugs out and coils unpowered"
    return Fact(False, seen, CONFIRM_PURGE)


def _ago(since_s: float | None, words: str, do: str) -> Fact:
    if since_s is None or since_s >= VENT_S:
        return Fact(True, f"{words}: longer than {VENT_S / 60:.0f} min ago, or none known")
    return Fact(
        False, f"{words}: {since_s:.0f} s ago", f"{do} {VENT_S - since_s:.0f} s more, hatch open, sniff again"
    )
