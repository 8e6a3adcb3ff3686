"""What the window tells besides touches: whether it is in sight, its keys, which touches it still counts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from kivy.base import EventLoop

if TYPE_CHECKING:
    from collections.abc import Collection

    from screens.glass import Glass

OUT_OF_SIGHT = "The window is not in front any more."
STOP_KEY = "The stop key was pressed."


def watch(window: Any, glass: Glass, stop_keys: Collection[int]) -> None:
    """Tell the glass; ``stop_keys`` are the numbers of the keys that end whatever is armed or held.

    A key reaches the window only while it has the focus; losing it ends whatever is armed or held too.
    """

    def away(*_args: object) -> None:
        glass.out_of_sight(OUT_OF_SIGHT)

    def back(*_args: object) -> None:
        glass.in_sight()

    def key_down(_window: object, key: int, *_args: object) -> bool:
        if key not in stop_keys:
            return False
        glass.let_go(STOP_KEY)
        return True

    window.bind(
        on_hide=away,
        on_minimize=away,
        on_show=back,
        on_restore=back,
        focus=lambda _window, focus: back() if focus else away(),
        on_key_down=key_down,
    )


def listed() -> set[int]:
    """Numbers of the touches that Kivy still counts.

    Kivy keeps the touch of a mouse for ever if another button came elsewhere while the first was down, so
    none of a mouse is counted while no button is down. Of a touch panel Kivy knows no more than it was told.
    """
    pressed = getattr(EventLoop.window, "_mouse_buttons_down", True)
    return {touch.uid for touch in EventLoop.touches if pressed or touch.device != "mouse"}
