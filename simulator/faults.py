"""Planted faults: what the bus says instead of the truth."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

from simulator.codec import ERROR, NOT_AVAILABLE
from simulator.errors import Misunderstood

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from simulator.codec import Field, Message

KINDS = ("not_available", "error", "value", "shift", "stuck", "missing")
"""The two reserved codes, a fixed value, so much beside the truth, the value it had, not sent at all."""


@dataclasses.dataclass(frozen=True)
class Plant:
    """One planted fault.

    Attributes:
        kind: one of KINDS.
        raw: raw code that is sent; None for "missing", "shift", and "stuck" before the first frame.
        by: physical amount of a "shift".
    """

    kind: str
    raw: int | None = None
    by: float = 0.0


class Plants:
    """The faults that are planted now."""

    def __init__(self, messages: Iterable[Message]) -> None:
        self._messages = list(messages)
        self._fields = {field.name: field for message in self._messages for field in message.fields}
        self._planted: dict[str, Plant] = {}

    def __bool__(self) -> bool:
        return bool(self._planted)

    @property
    def signals(self) -> list[str]:
        """Names of all signals and messages that carry a fault."""
        return sorted(self._planted)

    def _field(self, signal: str) -> Field:
        if signal not in self._fields:
            raise Misunderstood(f"This family has no signal {signal!r}.")
        return self._fields[signal]

    def plant(self, signal: str, kind: str, value: float | str | None, raws: Mapping[str, int]) -> None:
        """Plant a fault on a signal, or "missing" on a whole message.

        Args:
            signal: name of a signal, or of a message.
            kind: one of KINDS.
            value: for "value" and "shift".
            raws: raw codes as last sent, for "stuck".

        Raises:
            Misunderstood: there is no such signal or kind, or the value does not fit it.
        """
        if kind not in KINDS:
            raise Misunderstood(f"{kind!r} is no kind of fault; there are {', '.join(KINDS)}.")
        if kind == "missing" and any(message.name == signal for message in self._messages):
            self._planted[signal] = Plant(kind)
            return
        field = self._field(signal)
        if kind in {NOT_AVAILABLE, ERROR}:
            if kind not in field.codes:
                raise Misunderstood(f"{signal} has no code for {kind.replace('_', ' ')}.")
            self._planted[signal] = Plant(kind, field.codes[kind])
        elif kind == "value":
            if value is None:
                raise Misunderstood("A fault of kind 'value' needs a value.")
            self._planted[signal] = Plant(kind, field.exact(value))
        elif kind == "shift":
            if not isinstance(value, int | float) or isinstance(value, bool):
                raise Misunderstood("A fault of kind 'shift' needs a number as its value.")
            self._planted[signal] = Plant(kind, None, float(value))
        else:
            self._planted[signal] = Plant(kind, raws.get(signal) if kind == "stuck" else None)

    def mend(self, signal: str | None) -> None:
        """Take a fault away; None = all of them.

        Raises:
            Misunderstood: nothing is planted there.
        """
        if signal is None:
            self._planted.clear()
        elif self._planted.pop(signal, None) is None:
            raise Misunderstood(f"Nothing is planted on {signal!r}.")

    def silenced(self, message: Message, page: int | None) -> bool:
        """Whether a frame is not sent: its message, or a signal it would show, is missing."""
        if self._is_missing(message.name):
            return True
        return any(self._is_missing(field.name) for field in message.on_page(page))

    def _is_missing(self, name: str) -> bool:
        plant = self._planted.get(name)
        return plant is not None and plant.kind == "missing"

    def raw(self, field: Field, value: float | str | None) -> int:
        """Raw code sent for a signal whose true value is ``value``."""
        plant = self._planted.get(field.name)
        if plant is None or plant.kind == "missing":
            return field.raw(value)
        if plant.kind == "shift" and isinstance(value, int | float):
            return field.raw(value + plant.by)
        if plant.raw is not None:
            return plant.raw
        raw = field.raw(value)
        if plant.kind == "stuck":
            self._planted[field.name] = dataclasses.replace(plant, raw=raw)
        return raw

    def seen(self, signal: str, truth: float) -> float | None:
        """What the controller reads from the sensor behind a signal; None = nothing."""
        plant = self._planted.get(signal)
        if plant is None:
            return truth
        field = self._field(signal)
        if plant.kind == "shift":
            return truth + plant.by
        if plant.raw is None:
            return None if plant.kind == "missing" else truth
        meaning = field.meaning(plant.raw)
        return meaning if isinstance(meaning, float) else None
