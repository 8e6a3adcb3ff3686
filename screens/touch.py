"""One finger at a time: which key it is on, and when that counts as a touch.

A key acts when the finger lifts inside it. A finger that drifts off, a second finger, or a page that changes
under the finger make the touch do nothing: drops and wet hands make all three. A key that acts while it is
held is told when that ends, and why.
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
        self._touching: set[int] = set()
        self._void = False
        self._key: Key | None = None

    def begin(self, touch: int, x: float, y: float, *, acts: bool = True) -> None:
        """A finger comes down; one that does not act (another button of a mouse) is a touch all the same."""
        self._touching.add(touch)
        self._void = self._void or not acts
        if len(self._touching) > 1:
            self.forget(SECOND)
        if self._void:
            return
        for key in self._keys():
            if key.collide_point(x, y):
                self._key = key
                key.down = True
                key.begin()
                return

    def move(self, touch: int, x: float, y: float) -> None:
        """A finger moves; off its key it is forgotten for good."""
        if touch in self._touching and self._key is not None and not self._key.collide_point(x, y):
            self._drop(DRIFTED)

    def end(self, touch: int, x: float, y: float) -> None:
        """A finger lifts; its key acts if it is still on it."""
        if touch not in self._touching:
            return
        self.move(touch, x, y)
        self._touching.discard(touch)
        key = self._key
        self._drop(LIFTED)
        if not self._touching:
            self._void = False
        self._told(x, y, key)
        if key is not None:
            key.act()

    def forget(self, cause: str = CHANGED) -> None:
        """What lies on the glass now does nothing any more, until every finger has lifted."""
        self._drop(cause)
        self._void = bool(self._touching)

    def _drop(self, cause: str) -> None:
        key, self._key = self._key, None
        if key is not None:
            key.down = False
            key.end(cause)
