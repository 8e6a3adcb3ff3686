"""The whole picture: strip, body, lanes; and the one place that decides which page is open."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from kivy.uix.floatlayout import FloatLayout

from app.board import Board
from app.link_words import shows_values
from app.strip import strip
from screens import layouts, theme
from screens.event_log import box
from screens.pages import make
from screens.touch import Finger
from screens.widgets.lanes import Lanes
from screens.widgets.strip_line import StripLine

if TYPE_CHECKING:
    from collections.abc import Callable

    from kivy.input.motionevent import MotionEvent

    from app.ports import CraftLink
    from screens.event_log import EventLog
    from screens.page import Page
    from screens.widgets.key import Key

layouts.load(__file__)

__all__ = ["Glass", "StripLine"]

TICKS_PER_S = 20
"""How often the craft link is asked; snapshots come no faster."""

TEXT_EVERY = 4
"""Ticks: a text that changes more often than five times a second cannot be read."""


class Glass(FloatLayout):
    """Root widget.

    Args:
        link: where everything comes from.
        log: told of every page and touch.
        clock: seconds on CLOCK_MONOTONIC.
    """

    def __init__(self, link: CraftLink, log: EventLog, clock: Callable[[], float], **kwargs):
        super().__init__(**kwargs)
        self._link, self._log, self._clock = link, log, clock
        self._board = Board(clock())
        self._finger = Finger(self.touchable, self._touched)
        self._lanes = Lanes(self.go, gap=theme.mm(3))
        self.ids.lanes.add_widget(self._lanes)
        self._pages: dict[str, Page] = {}
        self._page: Page | None = None
        self._name = ""
        self._lane = "Ride"
        self._number = 1
        self._ticks = 0
        self._say = 0

    def go(self, lane: str) -> None:
        """Open a lane; the one that is open goes back to its first page."""
        if lane == self._lane:
            self._number = 1
        self._lane = lane
        self._refresh()

    def turn(self, by: int) -> None:
        """Turn the pages of the Ride lane; behind the last comes the first."""
        self._number = (self._number - 1 + by) % max(1, len(self._board.pages)) + 1
        self._refresh()

    def touchable(self) -> list[Key]:
        """Everything that can be touched now."""
        return [*(self._page.touchable() if self._page else ()), *self._lanes.keys.values()]

    def tick(self, _dt: float = 0.0) -> None:
        """Ask the craft link and bring the picture up to date."""
        if self._say:
            self._say -= 1
            if not self._say:
                self._log.screen(self._name, self.content())
        self._board.take(self._link.poll(), self._clock())
        page = self._choose()
        self._ticks += 1
        if page is not self._page or self._ticks % TEXT_EVERY == 0:
            self._refresh()
        page.sweep(self._board)

    def say(self) -> None:
        """Write what is on the glass to the event log, two ticks from now: a frame has been drawn by then."""
        self._say = 2

    def content(self) -> dict[str, Any]:
        """What is on the glass, with boxes in pixels from the top left."""
        line: StripLine = self.ids.strip
        return {
            "keys": [{"text": _line(key.text), "box": box(key, self.height)} for key in self.touchable()],
            "tiles": [
                {
                    "signal": tile.signal,
                    "text": tile.text,
                    "state": tile.look.value,
                    "note": tile.note,
                    "box": box(widget, self.height),
                }
                for widget in (self._page.tiles() if self._page else ())
                if (tile := widget.tile) is not None
            ],
            "strip": {
                "craft": line.craft,
                "engine": line.engine,
                "boxes": {shown.kind: shown.text for shown in line.shown},
            },
            "words": self._page.words() if self._page else [],
        }

    def _choose(self) -> Page:
        if self._lane != "Ride":
            return self._made(self._lane)
        if not shows_values(self._board.moment):
            return self._made("link")
        self._number = min(self._number, len(self._board.pages))
        if self._number == 1:
            return self._made("ride")
        page = self._made("signals")
        page.open(self._number)
        return page

    def _made(self, which: str) -> Page:
        if which not in self._pages:
            self._pages[which] = make(which, self.turn, self._link.set_bit_rate)
        return self._pages[which]

    def _refresh(self) -> None:
        page = self._choose()
        page.show(self._board)
        with_speed = page.name != "ride/1"
        self.ids.strip.show(strip(self._board.moment, with_speed=with_speed))
        self._lanes.mark(self._lane)
        if page is not self._page:
            self.ids.body.clear_widgets()
            self.ids.body.add_widget(page)
            self._page = page
            page.sweep(self._board)
        if page.name != self._name:
            self._name = page.name
            self._finger.forget()
            self.say()

    def _touched(self, x: float, y: float, key: Key | None) -> None:
        self._log.touch(x, self.height - y, None if key is None else _line(key.text))

    def on_touch_down(self, touch: MotionEvent) -> bool:
        """See screens.touch."""
        if not touch.is_mouse_scrolling and getattr(touch, "button", "left") == "left":
            self._finger.begin(touch.uid, *touch.pos)
        return True

    def on_touch_move(self, touch: MotionEvent) -> bool:
        """See screens.touch."""
        self._finger.move(touch.uid, *touch.pos)
        return True

    def on_touch_up(self, touch: MotionEvent) -> bool:
        """See screens.touch."""
        self._finger.end(touch.uid, *touch.pos)
        return True


def _line(text: str) -> str:
    return text.replace("\n", " ")
