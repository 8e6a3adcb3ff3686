"""Fuel that tests have put into cylinders, per craft, as the journal tells it. Charged before it is fired."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from app.interlock import FUEL_PER_CYLINDER_CM3, FUEL_PER_VISIT_CM3

if TYPE_CHECKING:
    from collections.abc import Iterable

CHARGE = "output_start"
PURGE = "purge"


class FuelBook:
    """Running totals since the last purge, in cm³."""

    def __init__(self, entries: Iterable[dict[str, Any]]) -> None:
        self._totals: dict[str, dict[int, float]] = {}
        for entry in entries:
            body = entry.get("body", {})
            if entry["kind"] == CHARGE and body.get("fuel_cm3"):
                self.charge(body["craft"], body["cylinder"], body["fuel_cm3"])
            elif entry["kind"] == PURGE:
                self.purge(body["craft"])

    def charge(self, craft: str, cylinder: int, cm3: float) -> None:
        """Add what a test may inject; never taken back, even if it was stopped early."""
        cylinders = self._totals.setdefault(craft, {})
        cylinders[cylinder] = cylinders.get(cylinder, 0.0) + cm3

    def purge(self, craft: str) -> None:
        """The engine ran long enough to burn it off."""
        self._totals.pop(craft, None)

    def total(self, craft: str, cylinder: int | None = None) -> float:
        """cm³ in one cylinder, or in the whole craft."""
        cylinders = self._totals.get(craft, {})
        return sum(cylinders.values()) if cylinder is None else cylinders.get(cylinder, 0.0)

    def room(self, craft: str, cylinder: int, cm3: float) -> bool:
        """Whether a further test stays within both ceilings."""
        return (
            self.total(craft, cylinder) + cm3 <= FUEL_PER_CYLINDER_CM3
            and self.total(craft) + cm3 <= FUEL_PER_VISIT_CM3
        )
