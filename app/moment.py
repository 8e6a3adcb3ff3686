"""One moment as the glass may show it: the newest view, with the glass's own rules of age applied.

The bus process marks old values itself. The glass checks again, because a bus process that has stopped can
mark nothing.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from app.messages import LinkState
from app.reading import Quality

if TYPE_CHECKING:
    from app.diagnosis import JobState, Report
    from app.messages import Catalogue, Link, SignalInfo, Snapshot, Value
    from app.ports import View

OLD_S = 0.5
"""A snapshot older than this (they come at up to 20 Hz) makes every value old."""

SPEEDS = ("engine_speed", "engine_speed_second")
"""Roles of what tells the engine speed, the better source first."""

_AHEAD_S = 0.5
"""Both processes share one clock; what claims to come from the future is not known to be live."""


class Moment:
    """What may be said at ``now``.

    Attributes:
        now: seconds on CLOCK_MONOTONIC.
        waited: seconds since the screen began to ask.
        connected: the bus process answers.
        live: the bus process answers and its newest snapshot is fresh.
        link: state of the way to the craft, None before the first snapshot; of the past when not live.
        report: what was read of the controllers, however long ago; None if nothing was, or it has not come.
        job: what the diagnostic worker does now; None if nothing, or if that is not known.
    """

    def __init__(self, view: View, now: float, *, waited: float = 0.0) -> None:
        self.now = now
        self.waited = waited
        self.snapshot: Snapshot | None = view.snapshot
        self.connected = view.connected
        self.live = (
            view.connected and view.snapshot is not None and -_AHEAD_S <= now - view.snapshot.at <= OLD_S
        )
        self.link: Link | None = None if view.snapshot is None else view.snapshot.link
        report = view.report
        if view.snapshot is None or report is None or report.number != view.snapshot.report:
            report = None
        self.report: Report | None = report
        self.job: JobState | None = view.snapshot.job if self.live and view.snapshot is not None else None
        catalogue = view.catalogue
        if view.snapshot is None or catalogue is None or catalogue.number != view.snapshot.catalogue:
            catalogue = None
        self.catalogue: Catalogue | None = catalogue
        self._infos: dict[str, SignalInfo] = {}
        self._values: dict[str, Value] = {}
        if catalogue is not None and view.snapshot is not None:
            signals = catalogue.signals
            self._infos = {info.name: info for info in signals}
            self._values = {
                signals[value.signal].name: value
                for value in view.snapshot.values
                if 0 <= value.signal < len(signals)
            }

    @property
    def heard(self) -> bool:
        """A craft that is known is heard now."""
        return self.live and self.link is not None and self.link.state is LinkState.FOUND

    @property
    def turning(self) -> float | None:
        """Engine speed by the first source that tells it, rev/min; None if none does."""
        return next((speed for role in SPEEDS if (speed := self.number(role)) is not None), None)

    def info(self, signal: str) -> SignalInfo | None:
        """What is known about a signal, None if this craft does not have it."""
        return self._infos.get(signal)

    def value(self, signal: str) -> Value | None:
        """The newest value whatever its quality, None if none ever came."""
        return self._values.get(signal)

    def quality(self, signal: str) -> Quality | None:
        """How far the value may be trusted now; None if none ever came."""
        value, info = self._values.get(signal), self._infos.get(signal)
        if value is None or info is None:
            return None
        age = self.now - value.at
        if not self.heard:
            return Quality.STALE
        if age > info.max_age or age < -_AHEAD_S:
            return Quality.STALE
        if value.quality is Quality.GOOD and not _is_a_value(value.value):
            return Quality.OUT_OF_RANGE
        return value.quality

    def role(self, role: str) -> str | None:
        """Name of the signal that plays a role (engine_speed, battery …) on this craft."""
        return None if self.catalogue is None else self.catalogue.roles.get(role)

    def number(self, role: str) -> float | None:
        """The number of a role's signal if it is good now, else None."""
        value = self._good(role)
        return float(value) if isinstance(value, int | float) else None

    def text(self, role: str) -> str | None:
        """The text of a role's signal if it is good now, else None."""
        value = self._good(role)
        return value if isinstance(value, str) else None

    def _good(self, role: str) -> float | str | None:
        signal = self.role(role)
        if signal is None or self.quality(signal) is not Quality.GOOD:
            return None
        return self._values[signal].value


def _is_a_value(value: float | str | None) -> bool:
    return isinstance(value, str) or (value is not None and math.isfinite(value))
