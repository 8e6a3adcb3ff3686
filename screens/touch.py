"""One finger at a time: which key it is on, and when that counts as a touch.

A key acts when the finger lifts inside it. A finger that drifts off, a second finger, or a page that changes
under the finger make the touch do nothing: drops and wet hands make all three. A key that acts while it is
held is told when that ends, and why. A key that stops is told of every finger that comes down on it, whatever
else is the matter.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from screens.widgets.key import Key

LIFTED = "The finger was lifted."
DRIFTED = "The finger drifted off."
SECOND = "A second touch came."
CHANGED = "The page changed."
LOST = "The touch was lost."


class Finger:
    """Follows touches over the keys that are on the glass.

    Args:
        keys: what can be touched at this moment.
        told: called at the end of every touch with its last place and the key that acted, if any.
    """

    def __init__(
        self, keys: Callable[[], Iterable[Key]], told: Callable[[float, float, Key | None], None]
    ) -> None:
        self._keys = keys
        self._told = told
        self._touching: dict[int, tuple[float, float]] = {}
        self._void = False
        self._key: Key | None = None
        self._by: int | None = None

    @property
    def held(self) -> int | None:
        """The touch that lies on a key which counts while it is held; None = there is none."""
        return self._by if self._key is not None and self._key.holds else None

    def begin(self, touch: int, x: float, y: float, *, acts: bool = True) -> None:
        """A finger comes down; one that does not act (another button of a mouse) is a touch all the same."""
        if touch in self._touching:
            return
        self._touching[touch] = (x, y)
        self._void = self._void or not acts
        if len(self._touching) > 1:
            self.forget(SECOND)
        key = next((key for key in self._keys() if key.collide_point(x, y)), None)
        if key is not None and (key.stops or not self._void):
            self._key, self._by = key, touch
            key.down = True
            key.begin()

    def move(self, touch: int, x: float, y: float) -> None:
        """A finger moves; off its key it is forgotten for good."""
        if touch not in self._touching:
            return
        self._touching[touch] = (x, y)
        if touch == self._by and self._key is not None and not self._key.collide_point(x, y):
            self._drop(DRIFTED)

    def end(self, touch: int, x: float, y: float) -> None:
        """A finger lifts; its key acts if it is still on it."""
        if touch not in self._touching:
            return
        self.move(touch, x, y)
        key = self._gone(touch, LIFTED)
        self._told(x, y, key)
        if key is not None:
            key.act()

    def lose(self, touch: int) -> None:
        """A finger is not there any more although nobody saw it lift; its key does nothing."""
        place = self._touching.get(touch)
        if place is not None:
            self._gone(touch, LOST)
            self._told(*place, None)

    def forget(self, cause: str = CHANGED) -> None:
        """What lies on the glass now does nothing any more, until every finger has lifted."""
        self._drop(cause)
        self._void = bool(self._touching)

    def _gone(self, touch: int, cause: str) -> Key | None:
        """The key it was on."""
        key = self._key if touch == self._by else None
        if key is not None:
            self._drop(cause)
        del self._touching[touch]
        self._void = self._void and bool(self._touching)
        return key

    def _drop(self, cause: str) -> None:
        key, self._key, self._by = self._key, None, None
        if key is not None:
            key.down = False
            key.end(cause)
