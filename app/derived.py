"""Signals that no controller sends: worked out of those that it does, each by one row of a table.

A derived value is as good as the worst of its inputs and as old as the oldest; nothing is worked out of one
that is not good. A row is offered only where the craft has all of its inputs, in the units it needs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import msgspec

from app.derived_table import ROWS
from app.engine_data import EngineData
from app.messages import SignalInfo, Value
from app.reading import Quality

if TYPE_CHECKING:
    from app.derived_table import Row
    from app.messages import Catalogue
    from app.moment import Moment
    from app.ports import View

WORST = (Quality.ERROR, Quality.NOT_AVAILABLE, Quality.OUT_OF_RANGE, Quality.STALE, Quality.GOOD)
"""From worst to best: a sensor known to be at fault says more than a value that is only old."""

BY_NAME = {row.name: row for row in ROWS}

FACTORS = {
    "kPa": {"kPa": 1.0, "Pa": 0.001},
    "ms": {"ms": 1.0, "s": 1000.0},
    "rev/min": {"rev/min": 1.0, "rpm": 1.0},
}
"""Unit a row counts in: units a DBC may give it in, and what they are multiplied by."""


class _Offer(NamedTuple):
    """A row with the signals of this craft that it needs."""

    row: Row
    inputs: tuple[SignalInfo, ...]


class Derive:
    """Adds what can be worked out to views; what this craft has is found once for each catalogue."""

    def __init__(self) -> None:
        self._from: Catalogue | None = None
        self._to: Catalogue | None = None
        self._offers: list[_Offer] = []

    def add(self, view: View, moment: Moment) -> View:
        """The same view with the derived signals behind its own.

        Args:
            view: in the units of the DBC; what is worked out is turned into those of the glass like the rest.
            moment: made of it.
        """
        catalogue, snapshot = moment.catalogue, view.snapshot
        if catalogue is None or snapshot is None:
            return view
        if catalogue is not self._from:
            self._from = catalogue
            self._offers = offers(catalogue)
            infos = [_info(offer) for offer in self._offers]
            self._to = msgspec.structs.replace(catalogue, signals=[*catalogue.signals, *infos])
        if not self._offers:
            return view
        engine, start = catalogue.engine or EngineData(), len(catalogue.signals)
        worked = (_value(offer, start + number, moment, engine) for number, offer in enumerate(self._offers))
        values = [*snapshot.values, *(value for value in worked if value is not None)]
        snapshot = msgspec.structs.replace(snapshot, values=values)
        return msgspec.structs.replace(view, catalogue=self._to, snapshot=snapshot)


def offers(catalogue: Catalogue) -> list[_Offer]:
    """The rows whose inputs a craft has."""
    engine = catalogue.engine or EngineData()
    infos = {info.name: info for info in catalogue.signals}
    found = []
    for row in ROWS:
        names = [input_signal(catalogue, key) for key in row.inputs]
        inputs = tuple(infos[name] for name in names if name in infos)
        if len(inputs) == len(row.inputs) and row.offered(engine) and _fits(row, inputs):
            found.append(_Offer(row, inputs))
    return found


def input_signal(catalogue: Catalogue, key: str) -> str:
    """Name of the signal that a row calls by this key: a role, or family data of the engine; "" = none."""
    engine = catalogue.engine or EngineData()
    return catalogue.roles.get(key) or str(getattr(engine, key, ""))


def bad_input(row: Row, moment: Moment) -> tuple[str, Quality] | None:
    """Label and quality of the worst input of a row; None if all are good or one never came."""
    if moment.catalogue is None:
        return None
    found: list[tuple[int, str, Quality]] = []
    for key in row.inputs:
        name = input_signal(moment.catalogue, key)
        info, quality = moment.info(name), moment.quality(name)
        if info is None or quality is None:
            return None
        found.append((WORST.index(quality), info.label, quality))
    _, label, quality = min(found, key=lambda each: each[0])
    return None if quality is Quality.GOOD else (label, quality)


def _fits(row: Row, inputs: tuple[SignalInfo, ...]) -> bool:
    """Whether every input comes in a unit that can be turned into the one the row counts in; "" = any."""
    wanted = zip(row.units, inputs, strict=True)
    return all(not info.enumerated and (not unit or info.unit in FACTORS[unit]) for unit, info in wanted)


def _factors(offer: _Offer) -> list[float]:
    pairs = zip(offer.row.units, offer.inputs, strict=True)
    return [FACTORS[unit][info.unit] if unit else 1.0 for unit, info in pairs]


def _info(offer: _Offer) -> SignalInfo:
    row, main = offer.row, offer.inputs[0]
    return SignalInfo(
        name=row.name,
        label=f"= {row.label}",
        unit=row.unit or main.unit,
        group=main.group,
        decimals=row.decimals,
        low=row.low,
        high=row.high,
        max_age=max(info.max_age for info in offer.inputs),
        limits=list(row.limits),
        enumerated=False,
    )


def _value(offer: _Offer, index: int, moment: Moment, engine: EngineData) -> Value | None:
    """One derived value; None while an input has never come."""
    values = [moment.value(info.name) for info in offer.inputs]
    known = [value for value in values if value is not None]
    if len(known) < len(values):
        return None
    at = min(value.at for value in known)
    qualities = [moment.quality(info.name) for info in offer.inputs]
    quality = next(each for each in WORST if each in qualities)
    numbers = [float(value.value) for value in known if isinstance(value.value, int | float)]
    if quality is not Quality.GOOD or len(numbers) < len(known):
        worst = quality if quality is not Quality.GOOD else Quality.OUT_OF_RANGE
        return Value(index, None, at, worst, known[0].source)
    turned = (number * factor for number, factor in zip(numbers, _factors(offer), strict=True))
    result = offer.row.work(engine, *turned)
    quality = Quality.GOOD if result is not None else Quality.NOT_AVAILABLE
    return Value(index, result, at, quality, known[0].source)
