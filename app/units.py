"""Units people read: a DBC speaks kelvin, pascal and radian where a standard does, the glass does not."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import msgspec

from app.messages import Catalogue, SignalInfo, Snapshot, Value
from app.settings import Pressure, Settings, Speed, Temperature

if TYPE_CHECKING:
    from collections.abc import Sequence

    from app.messages import Limit
    from app.ports import View


class Shown(NamedTuple):
    """How a unit is turned for the glass: shown = value * factor + offset.

    Attributes:
        unit: as shown.
        factor, offset: exact by definition of the units (SI brochure; 1 degC = 1 K, 0 degC = 273.15 K).
        decimals: digits after the point at least, None = as the family says.
    """

    unit: str
    factor: float = 1.0
    offset: float = 0.0
    decimals: int | None = None


TURNED = {
    "K": Shown("degC", 1.0, -273.15, 0),
    "Pa": Shown("kPa", 0.001, 0.0, 0),
    "rad": Shown("deg", 180.0 / math.pi, 0.0, 0),
    "m/s": Shown("km/h", 3.6, 0.0, 1),
    "rpm": Shown("rev/min"),
    "s": Shown("h", 1 / 3600, 0.0, 1),
}
"""DBC unit to what people read. A unit that is not here stands as it is."""

CHOSEN = {
    Temperature.FAHRENHEIT: ("degC", Shown("degF", 1.8, 32.0, 0)),
    Speed.MPH: ("km/h", Shown("mph", 1 / 1.609344, 0.0)),
    Speed.KNOTS: ("km/h", Shown("knots", 1 / 1.852, 0.0)),
    Pressure.PSI: ("kPa", Shown("psi", 1 / 6.894757293168, 0.0, 1)),
    Pressure.BAR: ("kPa", Shown("bar", 0.01, 0.0, 2)),
}
"""Choice to the unit it takes the place of. Factors: exact by definition of the international mile (1609.344
m) and the nautical mile (1852 m); of the pound-force per square inch from NIST SP 811, appendix B."""


def turns_of(settings: Settings) -> dict[str, Shown]:
    """DBC unit to how it is shown, with the units a person chose."""
    turns = dict(TURNED)
    for choice in (settings.temperature, settings.speed, settings.pressure):
        if choice not in CHOSEN:
            continue
        unit, shown = CHOSEN[choice]
        turns[unit] = shown
        for known, before in TURNED.items():
            if before.unit == unit:
                turns[known] = Shown(
                    shown.unit,
                    before.factor * shown.factor,
                    before.offset * shown.factor + shown.offset,
                    before.decimals if shown.decimals is None else shown.decimals,
                )
    return turns


def limits_in(limits: Sequence[Limit], unit: str, wanted: str) -> tuple[Limit, ...] | None:
    """Limits of one unit of the glass in another; None if one cannot be told in the other."""
    if unit == wanted or not limits:
        return tuple(limits)
    for known, shown in CHOSEN.values():
        if (known, shown.unit) == (unit, wanted):
            return tuple(_limit(limit, shown) for limit in limits)
    return None


class GlassUnits:
    """Turns what came over the wall into the units of the glass; the catalogue only once."""

    def __init__(self, settings: Settings | None = None) -> None:
        self._table = turns_of(settings or Settings())
        self._from: Catalogue | None = None
        self._to: Catalogue | None = None
        self._turns: list[Shown | None] = []

    def choose(self, settings: Settings) -> None:
        """Other units from the next view on."""
        self._table = turns_of(settings)
        self._from = None

    def turn(self, view: View) -> View:
        """The same view in the units of the glass."""
        catalogue, snapshot = view.catalogue, view.snapshot
        if catalogue is None or snapshot is None:
            return view
        if catalogue is not self._from:
            self._from = catalogue
            self._turns = [self._table.get(info.unit) for info in catalogue.signals]
            self._to = msgspec.structs.replace(
                catalogue, signals=[_info(info, self._table.get(info.unit)) for info in catalogue.signals]
            )
        if not any(self._turns):
            return view
        return msgspec.structs.replace(view, catalogue=self._to, snapshot=self._snapshot(snapshot))

    def _snapshot(self, snapshot: Snapshot) -> Snapshot:
        values = []
        for value in snapshot.values:
            shown = self._turns[value.signal]
            if shown is not None and isinstance(value.value, (int, float)):
                turned = value.value * shown.factor + shown.offset
                values.append(Value(value.signal, turned, value.at, value.quality, value.source))
            else:
                values.append(value)
        return msgspec.structs.replace(snapshot, values=values)


def _info(info: SignalInfo, shown: Shown | None) -> SignalInfo:
    if shown is None:
        return info

    def turned(number: float | None) -> float | None:
        return None if number is None else round(number * shown.factor + shown.offset, 6)

    return msgspec.structs.replace(
        info,
        unit=shown.unit,
        decimals=info.decimals if shown.decimals is None else shown.decimals,
        low=turned(info.low),
        high=turned(info.high),
        limits=[_limit(limit, shown) for limit in info.limits],
    )


def _limit(limit: Limit, shown: Shown) -> Limit:
    return msgspec.structs.replace(limit, value=round(limit.value * shown.factor + shown.offset, 6))
