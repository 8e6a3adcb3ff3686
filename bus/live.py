"""The newest value of every signal, with its age."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.messages import Value
from app.reading import Quality, Reading, plain

if TYPE_CHECKING:
    from app.messages import Catalogue


class LiveTable:
    """Newest reading of each signal of one catalogue.

    Two senders of the same signal, or two engines of one sender, do not take turns on the glass: the first
    keeps the place until its value is older than the signal's maximum age.
    """

    def __init__(self, catalogue: Catalogue) -> None:
        self.catalogue = catalogue
        self._index = {info.name: number for number, info in enumerate(catalogue.signals)}
        self._max_age = [info.max_age for info in catalogue.signals]
        self._newest: dict[int, Reading] = {}
        self._times: dict[int, float] = {}
        self._owners: dict[int, tuple[int, float | str | None]] = {}

    def put(self, reading: Reading, at: float, instance: float | str | None = None) -> None:
        """Take a reading; a signal outside the catalogue is passed over.

        Args:
            reading: the value.
            at: when it was received (CLOCK_MONOTONIC).
            instance: which of several of one sender it belongs to, None where there is only one.
        """
        index = self._index.get(reading.signal)
        if index is None:
            return
        owner = (reading.source, instance)
        if self._owners.get(index, owner) != owner and at - self._times[index] <= self._max_age[index]:
            return
        self._owners[index] = owner
        self._newest[index] = reading
        self._times[index] = at

    def newest(self, signal: str) -> Reading | None:
        """The newest reading of a signal, None if it never came."""
        index = self._index.get(signal)
        return None if index is None else self._newest.get(index)

    def text(self, signal: str) -> str | None:
        """The newest good value as text, whole numbers without a fraction; None where there is none."""
        reading = self.newest(signal)
        if reading is None or reading.quality is not Quality.GOOD or reading.value is None:
            return None
        return plain(reading.value)

    def values(self, now: float, *, all_stale: bool) -> list[Value]:
        """Every value ever heard, good ones turned stale once too old (all of them with ``all_stale``)."""
        result = []
        for index, reading in self._newest.items():
            at = self._times[index]
            quality = reading.quality
            if all_stale or now - at > self._max_age[index]:
                quality = Quality.STALE
            result.append(Value(index, reading.value, at, quality, reading.source))
        return result
