"""Keys of a keyboard, or buttons that the system maps to one, that end whatever is armed or held.

A physical key is strongly advised: water on the glass may hide the touch on STOP TEST. On a handheld it is a
button on a pin, told to the kernel as a key (``gpio-keys``); 57 there is space, 28 enter, 1 escape
(linux/input-event-codes.h). Not 116, power: the system acts on that one itself.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Iterable

STOP_KEYS: dict[str, tuple[int, ...]] = {
    "space": (32,),
    "enter": (13, 271),
    "escape": (27,),
    "pause": (19, 296),
    **{f"f{number}": (281 + number,) for number in range(1, 13)},
}
"""Names and the numbers that the window tells (Kivy's; pause comes as 296 under X11, measured)."""

DEFAULT = ("space", "enter", "escape", "pause", "f1")
"""Those without another use here, among them what a button with one key usually sends."""


def numbers(names: Iterable[str]) -> frozenset[int]:
    """The key numbers of some names.

    Raises:
        UsageError: there is no key of this name.
    """
    wanted = [name.lower() for name in names]
    for name in wanted:
        if name not in STOP_KEYS:
            raise UsageError(f"No stop key is called {name}. Choose of: {', '.join(STOP_KEYS)}.")
    return frozenset(number for name in wanted for number in STOP_KEYS[name])
