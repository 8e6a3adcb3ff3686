"""Whether the screen is wet: drops touch a screen in ways that a hand does not.

Pure: touches and the time come in. A drop on a capacitive screen is a touch; salt water joins places that are
apart, and a drop that is wiped off touches many times (T. Gray, "Water Immunity", Springer 2018, chapter 18).
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

MANY_S = 0.15
"""More than one touch at once for so long (our own figure): one hand works with one finger."""

DOWNS = 6
"""No hand touches more often than this within DOWNS_S (our own figure)."""

DOWNS_S = 1.0

LIES_S = 8.0
"""A touch that stays in one place for longer lies there (our own figure)."""

DRY_S = 0.5
"""After the last contact (our own figure); also what the wiping cloth does is past then."""


@dataclass
class _Contact:
    x: float
    y: float
    since: float


class Wet:
    """Follows every contact, whether or not anything comes of it.

    Attributes:
        wet: as it was when something was told last.

    Args:
        still: a contact that goes less far than this has not moved; same unit as the places that are told.
    """

    def __init__(self, still: float) -> None:
        self._still = still
        self._there: dict[int, _Contact] = {}
        self._downs: deque[float] = deque(maxlen=DOWNS + 1)
        self._many_since: float | None = None
        self._last = float("-inf")
        self.wet = False

    def down(self, touch: int, x: float, y: float, now: float, *, counts: bool = True) -> None:
        """A contact begins.

        Args:
            touch: its number.
            x: its place.
            y: its place.
            now: seconds on a clock that never goes back.
            counts: it tells how often the screen is touched; False for what waited in a queue, because then
                nobody knows when it was.
        """
        self.look(now)
        self._there[touch] = _Contact(x, y, now)
        if counts:
            self._downs.append(now)
        if len(self._downs) > DOWNS and now - self._downs[0] <= DOWNS_S:
            self._downs.clear()
            self.wet = True
        self.look(now)

    def move(self, touch: int, x: float, y: float, now: float) -> None:
        """It moves; far enough, it does not lie there."""
        contact = self._there.get(touch)
        self.look(now)
        if contact is not None and (contact.x - x) ** 2 + (contact.y - y) ** 2 >= self._still**2:
            contact.x, contact.y, contact.since = x, y, now

    def up(self, touch: int, now: float) -> None:
        """It ends."""
        self.look(now)
        if self._there.pop(touch, None) is not None:
            self._last = now
        self.look(now)

    def look(self, now: float, held: int | None = None) -> bool:
        """Judge what is there now; call it often.

        Args:
            now: see ``down``.
            held: the touch that is meant to stay where it is, on a key that counts while it is held.

        Returns:
            Whether the screen is wet.
        """
        if held is not None and held in self._there:
            self._there[held].since = now
        if len(self._there) < 2:
            self._many_since = None
        elif self._many_since is None:
            self._many_since = now
        if self._signs(now):
            self.wet = True
        elif not self._there and now - self._last >= DRY_S:
            self.wet = False
        return self.wet

    def _signs(self, now: float) -> bool:
        if self._many_since is not None and now - self._many_since >= MANY_S:
            return True
        return any(now - contact.since > LIES_S for contact in self._there.values())
