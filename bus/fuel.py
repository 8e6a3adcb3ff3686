"""Fuel that tests have put into cylinders, per craft, as the journal tells it. Charged before it is fired."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from app.interlock import FUEL_PER_CYLINDER_CM3, FUEL_PER_VISIT_CM3
from bus.journal import GAP

if TYPE_CHECKING:
    from collections.abc import Iterable

CHARGE = "output_start"
PURGE = "purge"


class FuelBook:
    """Running totals since the last purge, in cm³.

    Where the journal has lost lines, every craft counts as full until its next purge: unknown is unsafe.
    """

    def __init__(self, entries: Iterable[dict[str, Any]] = ()) -> None:
        self._totals: dict[str, dict[int, float]] = {}
        self._lost = False
        self._purged: set[str] = set()
        for entry in entries:
            self.take(entry)

    def take(self, entry: dict[str, Any]) -> None:
        """Count one entry of the journal; entries of other kinds count nothing."""
        body = entry["body"]
        if entry["kind"] == GAP:
            self._lost = True
            self._purged.clear()
        elif entry["kind"] == PURGE:
            self.purge(str(body.get("craft")))
        elif entry["kind"] == CHARGE and body.get("fuel_cm3") != 0:
            self.charge(str(body.get("craft")), body.get("cylinder", 0), body.get("fuel_cm3"))

    def charge(self, craft: str, cylinder: int, cm3: Any) -> None:
        """Add what a test may inject; never taken back, even if it was stopped early.

        An amount that is no sensible number counts as everything that is allowed.
        """
        known = isinstance(cm3, (int, float)) and 0 <= cm3 <= FUEL_PER_VISIT_CM3
        cylinders = self._totals.setdefault(craft, {})
        cylinders[cylinder] = cylinders.get(cylinder, 0.0) + (cm3 if known else FUEL_PER_VISIT_CM3)

    def purge(self, craft: str) -> None:
        """It was burnt off by a run of the engine, or blown out by a crank that a person confirmed."""
        self._totals.pop(craft, None)
        self._purged.add(craft)

    def total(self, craft: str, cylinder: int | None = None) -> float:
        """cm³ in one cylinder, or in the whole craft."""
        lost = FUEL_PER_VISIT_CM3 if self._lost and craft not in self._purged else 0.0
        cylinders = self._totals.get(craft, {})
        return lost + (sum(cylinders.values()) if cylinder is None else cylinders.get(cylinder, 0.0))

    def room(self, craft: str, cylinder: int, cm3: float) -> bool:
        """Whether a further test stays within both ceilings."""
        return (
            self.total(craft, cylinder) + cm3 <= FUEL_PER_CYLINDER_CM3
            and self.total(craft) + cm3 <= FUEL_PER_VISIT_CM3
        )
