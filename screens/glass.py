"""The whole picture: strip, body, lanes; and the one place that decides which page is open."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from kivy.properties import BooleanProperty
from kivy.uix.floatlayout import FloatLayout

from app.bench import Bench, Stage
from app.board import Board
from app.link_words import shows_values
from app.output_messages import SignIn
from app.strip import strip
from screens import layouts, theme
from screens.actions import Actions
from screens.event_log import box
from screens.pages import FIRST, make
from screens.touch import Finger
from screens.widgets.lanes import Lanes
from screens.widgets.strip_line import StripLine

if TYPE_CHECKING:
    from collections.abc import Callable

    from kivy.input.motionevent import MotionEvent

    from app.keeper import BookKeeper
    from app.operators import Operator
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


SETTLE_S = 0.4
"""A touch so soon after a page came by itself was meant for the page before (our own figure)."""

OF_AN_OUTPUT = ("output", "hold", "unconfirmed")
"""Pages that are about the output a person has chosen; with any other it is chosen no more."""


class Glass(FloatLayout):
    """Root widget.

    Args:
        link: where everything comes from.
        log: told of every page and touch.
        clock: seconds on CLOCK_MONOTONIC.
        keeper: of the craft book; None keeps none.
    """

    full = BooleanProperty(False)

    def __init__(
        self,
        link: CraftLink,
        log: EventLog,
        clock: Callable[[], float],
        *,
        keeper: BookKeeper | None = None,
        **kwargs,
    ):
        super().__init__(**kwargs)
        self._link, self._log, self._clock, self._keeper = link, log, clock, keeper
        self._board = Board(clock())
        self._bench = Bench(link.ask)
        self._actions = Actions(
            self.turn, link.set_bit_rate, self.open, link.ask, self._sign_in, self._bench, clock, keeper
        )
        self._finger = Finger(self.touchable, self._touched)
        self._lanes = Lanes(self.go, gap=theme.mm(3))
        self.ids.lanes.add_widget(self._lanes)
        self._pages: dict[str, Page] = {}
        self._page: Page | None = None
        self._name = ""
        self._lane = "Ride"
        self._number = 1
        self._open = ""
        self._frames = (clock(), clock())
        self._came_at = float("-inf")
        self._ticks = 0
        self._say = 0

    def go(self, lane: str) -> None:
        """Open a lane; the one that is open goes back to its first page."""
        if lane == self._lane:
            self._number = 1
        self._lane, self._open = lane, ""
        if lane != "Ride":
            self._made(FIRST[lane]).open(1)
        self._refresh()

    def open(self, which: str) -> None:
        """Open a page of this lane; "" = its first."""
        self._open = which
        self._refresh()

    def turn(self, by: int) -> None:
        """Turn the pages of the Ride lane; behind the last comes the first."""
        self._number = (self._number - 1 + by) % max(1, len(self._board.pages)) + 1
        self._refresh()

    def touchable(self) -> list[Key]:
        """Everything that can be touched now."""
        lanes = () if self.full else self._lanes.keys.values()
        return [*(self._page.touchable() if self._page else ()), *lanes]

    def sample(self, _dt: float = 0.0) -> None:
        """A frame begins. What fingers did before the frame before it has reached us by now, not more."""
        self._frames = self._frames[1], self._clock()

    def let_go(self, cause: str) -> None:
        """Whatever a finger holds counts no more; for a window that is not in front."""
        self._finger.forget(cause)
        self._bench.disarm(cause)

    def tick(self, _dt: float = 0.0) -> None:
        """Ask the craft link and bring the picture up to date."""
        if self._say:
            self._say -= 1
            if not self._say:
                self._log.screen(self._name, self.content())
        now = self._clock()
        view = self._link.poll()
        if self._keeper is not None:
            self._keeper.saw(view)
        self._board.take(view, now)
        self._bench.take(self._board.moment, now, self._frames[0])
        page = self._choose()
        self._ticks += 1
        if page is not self._page or self._ticks % TEXT_EVERY == 0:
            before = self._page
            self._refresh()
            if before is not None and self._page is not before:
                self._came_at = now
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
            "settled": self._settled,
        }

    def _choose(self) -> Page:
        if self._bench.stage is Stage.UNCONFIRMED:
            return self._made("unconfirmed")
        if self._bench.busy:
            return self._made("hold")
        if self._lane != "Ride":
            return self._made(self._open or FIRST[self._lane])
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
            self._pages[which] = make(which, self._actions)
        return self._pages[which]

    def _sign_in(self, operator: Operator | None) -> None:
        self._link.ask(SignIn("", "") if operator is None else SignIn(operator.name, operator.role.value))
        if self._keeper is not None:
            self._keeper.signed_in(operator)

    def _refresh(self) -> None:
        page = self._choose()
        page.show(self._board)
        with_speed = page.name != "ride/1"
        self.ids.strip.show(strip(self._board.moment, with_speed=with_speed))
        self._lanes.mark(self._lane)
        if page is not self._page:
            if page not in (self._pages.get(which) for which in OF_AN_OUTPUT):
                self._bench.leave()
            self._give_way(full=page.full)
            self.ids.body.clear_widgets()
            self.ids.body.add_widget(page)
            self._page = page
            page.sweep(self._board)
        if page.name != self._name:
            self._name = page.name
            self._finger.forget()
            self.say()

    @property
    def _settled(self) -> bool:
        """The page is there for long enough for a touch to be meant for it."""
        return self._clock() - self._came_at >= SETTLE_S

    def _give_way(self, *, full: bool) -> None:
        """The lanes go while an output is armed or live, and come back afterwards."""
        if full != self.full:
            self.full = full
            self.ids.lanes.clear_widgets()
            if not full:
                self.ids.lanes.add_widget(self._lanes)

    def _touched(self, x: float, y: float, key: Key | None) -> None:
        self._log.touch(x, self.height - y, None if key is None else _line(key.text))

    def on_touch_down(self, touch: MotionEvent) -> bool:
        """See screens.touch."""
        if not touch.is_mouse_scrolling:
            acts = getattr(touch, "button", "left") == "left" and self._settled
            self._finger.begin(touch.uid, *touch.pos, acts=acts)
        return True

    def on_touch_move(self, touch: MotionEvent) -> bool:
        """See screens.touch."""
        self._finger.move(touch.uid, *touch.pos)
        return True

    def on_touch_up(self, touch: MotionEvent) -> bool:
        """See screens.touch."""
        self._finger.end(touch.uid, *touch.pos)
        self._refresh()  # whatever it did is seen with the next frame
        return True


def _line(text: str) -> str:
    return text.replace("\n", " ")
