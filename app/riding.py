"""Ride mode: when the glass locks itself for somebody who rides, and when it may be opened again.

Pure: engine speed and touches come in. It decides nothing about safety; while the engine turns the bus side
lets no output move, whatever the glass shows.
"""

from __future__ import annotations

RIDE_ABOVE = 2000.0
"""rev/min. Above idle: such engines idle at some 1200 to 1800 (common practice, no source)."""

RIDE_AFTER_S = 2.0
"""So long above idle without a gap, and a mounted glass locks itself (design rule)."""

OPEN_AFTER_S = 5.0
"""So long at idle or below, or without a known engine speed, and it may be opened again (design rule)."""

OPEN_HOLD_S = 1.5
"""For which the key that opens it is held (design rule)."""


def is_under_way(speed: float | None) -> bool:
    """Whether somebody rides, by the engine speed in rev/min; not known = nobody is seen to."""
    return speed is not None and speed > RIDE_ABOVE


class Riding:
    """Follows the engine speed, and the key that opens the glass again.

    Attributes:
        on: the glass is locked.
        may_open: the key that opens it stands there.
        marks: how many moments were marked on this ride.
    """

    def __init__(self) -> None:
        self.on = False
        self.may_open = False
        self.marks = 0
        self._above_since: float | None = None
        self._below_since: float | None = None
        self._held_since: float | None = None

    def take(self, speed: float | None, now: float, *, mounted: bool) -> None:
        """Look at the engine; call it once a tick.

        Args:
            speed: rev/min, None while it is not known.
            now: seconds.
            mounted: the handheld is on the handlebar.
        """
        above = is_under_way(speed)
        self._above_since = (self._above_since if self._above_since is not None else now) if above else None
        self._below_since = None if above else (self._below_since if self._below_since is not None else now)
        if not self.on:
            if mounted and self._above_since is not None and now - self._above_since >= RIDE_AFTER_S:
                self._begin()
            return
        self.may_open = self._below_since is not None and now - self._below_since >= OPEN_AFTER_S
        if not self.may_open:
            self._held_since = None
        elif self._held_since is not None and now - self._held_since >= OPEN_HOLD_S:
            self.on = self.may_open = False
            self._held_since = None

    def enter(self) -> None:
        """Somebody locks it by hand."""
        if not self.on:
            self._below_since = None  # the full time begins now
            self._begin()

    def hold(self, now: float) -> None:
        """A finger comes down on the key that opens."""
        if self.may_open:
            self._held_since = now

    def let_go(self) -> None:
        """It is there no more."""
        self._held_since = None

    def share(self, now: float) -> float:
        """How much of the time the key must be held has passed, 0 to 1."""
        return 0.0 if self._held_since is None else min(1.0, (now - self._held_since) / OPEN_HOLD_S)

    def mark(self) -> int:
        """A moment is marked; returns its number on this ride, from 1."""
        self.marks += 1
        return self.marks

    def _begin(self) -> None:
        self.on, self.may_open, self.marks = True, False, 0
        self._held_since = None
