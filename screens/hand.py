"""Which touch may do something: a wet, gloved hand at a screen that may have slept, stalled or lost count.

What is not known of a touch makes it do nothing; a key that stops works all the same (see screens.touch).

How old a touch is: Kivy stamps it when Kivy reads it. A mouse is read once a frame, so its stamp says nothing
of a picture that stood still; then only the frames tell how long it may have waited. A touch panel (mtdev) is
read by a thread of its own, so the stamp is good unless the whole process stood still, and then the frames
tell again. How long the panel itself took is not known.

Whether a finger is still there: of the mouse the window knows; of a touch panel nobody does, because a finger
that lies still sends nothing and a lift that was lost is not told again. A held output then ends by its own
time limit; the glass comes back to life after SILENT_S.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from app.wet import Wet

if TYPE_CHECKING:
    from collections.abc import Callable, Collection

    from screens.touch import Finger

OLD_S = 0.3
"""A touch that has waited for longer was meant for what the glass showed then (our own figure)."""

SETTLE_S = 0.4
"""A touch so soon after a page came by itself was meant for the page before (our own figure)."""

WAKE_S = 1.0
"""The first touch so soon after the window came back was meant to wake it (our own figure)."""

TWIN_S, TWIN_PX = 0.05, 2.0
"""Two touches so near in time and place are one that was delivered twice (our own figures)."""

GONE_LOOKS = 2
"""Frames in a row in which a touch is not listed: its lift may be on the way for one frame."""

SILENT_S = 60.0
"""A touch that has said nothing for so long is not waited for any longer (our own figure)."""

WET = "The screen is wet."
STOOD_STILL = "The picture stood still."


@dataclass
class _Touch:
    """One contact: where and when it came down, when it was heard last, frames in a row not listed."""

    x: float
    y: float
    began: float
    heard: float
    misses: int = 0


class Hand:
    """Stands between the window and the finger.

    Args:
        finger: is told of every touch, and whether it may act.
        disarm: ends what is armed or held; takes the cause.
        clock: seconds on CLOCK_MONOTONIC.
        still: see app.wet.Wet, pixels.
    """

    def __init__(
        self,
        finger: Finger,
        disarm: Callable[[str], None],
        clock: Callable[[], float],
        *,
        still: float,
    ) -> None:
        self._finger, self._disarm, self._clock = finger, disarm, clock
        self._wet = Wet(still)
        self._was_wet = False
        self._there: dict[int, _Touch] = {}
        self._newest: tuple[int, _Touch] | None = None
        self._twins: dict[int, int] = {}
        self._lost: set[int] = set()
        self._looks = (clock(),) * 3
        self._came_at = self._woke_at = float("-inf")
        self._away = False

    @property
    def wet(self) -> bool:
        """Only STOP TEST works."""
        return self._wet.wet

    @property
    def sampled(self) -> float:
        """When it was last known which fingers are there; asked by what runs when a frame begins.

        The window is read after each frame and tells it in the next, so what it said in the frame before this
        one was read before that frame began, and after the one before it had begun.
        """
        return self._looks[0]

    @property
    def ready(self) -> bool:
        """A touch that comes now may do something."""
        return not self.wet and not self._early(self._clock()) and not self._waking(self._clock())

    def let_go(self, cause: str) -> None:
        """Whatever is armed or held ends, and what lies on the glass does nothing any more."""
        self._finger.forget(cause)
        self._disarm(cause)

    def page_came(self) -> None:
        """The page changed by itself."""
        self._came_at = self._clock()

    def out_of_sight(self, cause: str) -> None:
        """The window is hidden, or something is in front of it."""
        self._away = True
        self.let_go(cause)

    def in_sight(self) -> None:
        """It is in front again. A backlight that the system darkens tells the window nothing."""
        if self._away:
            self._away, self._woke_at = False, self._clock()

    def look(self, listed: Collection[int] | None = None) -> None:
        """A frame begins.

        Args:
            listed: numbers of the touches that the window still counts; None = not known.
        """
        now = self._clock()
        if now - self._looks[-1] > OLD_S and self._finger.held is not None:
            self.let_go(STOOD_STILL)  # the finger may have lifted meanwhile
        self._looks = (*self._looks[1:], now)
        for touch in [each for each, seen in self._there.items() if self._is_gone(each, seen, listed, now)]:
            self._lost.add(touch)
            self._end(touch, now)
            self._finger.lose(touch)
        self._judge(now)

    def down(self, touch: int, x: float, y: float, *, age: float = 0.0, acts: bool = True) -> None:
        """A finger comes down.

        Args:
            touch: its number, never used for another.
            x: pixels.
            y: pixels.
            age: seconds since it was stamped, at least.
            acts: False for what is no finger, as another button of a mouse; it is a touch all the same.
        """
        now = self._clock()
        if touch in self._there:
            return
        again = self._again(x, y, now)
        if again is not None and again in self._there:
            self._twins[touch] = again
            return
        old = max(age, now - self._looks[0]) > OLD_S
        acts = acts and not old and again is None and not self._early(now) and not self._waking(now)
        self._away, self._woke_at = False, float("-inf")
        self._there[touch] = _Touch(x, y, now, now)
        self._newest = touch, self._there[touch]
        self._wet.down(touch, x, y, now, counts=not old and again is None)
        self._judge(now)
        self._finger.begin(touch, x, y, acts=acts and not self.wet)

    def move(self, touch: int, x: float, y: float) -> None:
        """A finger moves; one that was given up is a touch again, and does nothing."""
        now = self._clock()
        if touch in self._lost:
            self._lost.discard(touch)
            self.down(touch, x, y, acts=False)
        touch = self._twins.get(touch, touch)
        if touch in self._there:
            self._there[touch].heard = now
            self._wet.move(touch, x, y, now)
            self._judge(now)
            self._finger.move(touch, x, y)

    def up(self, touch: int, x: float, y: float) -> None:
        """A finger lifts."""
        now = self._clock()
        self._lost.discard(touch)
        touch = self._twins.pop(touch, touch)
        if touch in self._there:
            self._end(touch, now)
            self._judge(now)
            self._finger.end(touch, x, y)

    def _end(self, touch: int, now: float) -> None:
        del self._there[touch]
        self._wet.up(touch, now)

    def _judge(self, now: float) -> None:
        was, self._was_wet = self._was_wet, self._wet.look(now, self._finger.held)
        if self._was_wet and not was:
            self.let_go(WET)

    def _again(self, x: float, y: float, now: float) -> int | None:
        """The touch that this one repeats."""
        if self._newest is None:
            return None
        touch, seen = self._newest
        near = max(abs(seen.x - x), abs(seen.y - y)) <= TWIN_PX
        return touch if near and now - seen.began <= TWIN_S else None

    def _is_gone(self, touch: int, seen: _Touch, listed: Collection[int] | None, now: float) -> bool:
        seen.misses = 0 if listed is None or touch in listed else seen.misses + 1
        return seen.misses >= GONE_LOOKS or now - seen.heard > SILENT_S

    def _early(self, now: float) -> bool:
        return now - self._came_at < SETTLE_S

    def _waking(self, now: float) -> bool:
        return self._away or now - self._woke_at < WAKE_S
