"""The whole picture: strip, body, lanes; and the one place that decides which page is open."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, Any

import msgspec
from kivy.properties import BooleanProperty
from kivy.uix.floatlayout import FloatLayout

from app.bench import Bench, Stage
from app.board import Board
from app.book_words import craft_of
from app.entry import Kind
from app.link_words import shows_values
from app.messages import Mark
from app.output_messages import SignIn
from app.ride_words import alarm_body, mark_body, ride_strip
from app.riding import Riding
from app.settings import Place, SettingsFile
from app.strip import strip
from app.trailer import State, Trailer, Water
from app.trailer_words import note_text
from screens import layouts, theme
from screens.actions import Actions
from screens.colours import SKINS
from screens.event_log import box
from screens.hand import Hand
from screens.pages import FIRST, make
from screens.touch import Finger
from screens.widgets.banner import Banner
from screens.widgets.lanes import Lanes
from screens.widgets.strip_line import StripLine, box_width

if TYPE_CHECKING:
    from collections.abc import Callable, Collection

    from kivy.input.motionevent import MotionEvent

    from app.alarms import Alarm
    from app.choices import Choices
    from app.keeper import BookKeeper
    from app.operators import Operator
    from app.ports import CraftLink
    from app.settings import Settings
    from app.strip import Strip
    from screens.event_log import EventLog
    from screens.page import Page
    from screens.widgets.key import Key

layouts.load(__file__)

__all__ = ["Banner", "Glass", "StripLine"]

TICKS_PER_S = 20
"""How often the craft link is asked; snapshots come no faster."""

TEXT_EVERY = 4
"""Ticks: a text that changes more often than five times a second cannot be read."""

WIPE = "Screen is wet: wipe it"

STILL_MM = 5
"""A touch that goes less far has not moved (our own figure)."""

OVER_ALL = {
    Stage.ARMED: "hold",
    Stage.HELD: "hold",
    Stage.LATCHED: "latched",
    Stage.UNCONFIRMED: "unconfirmed",
}
"""Pages that stand over whatever is open."""

OF_AN_OUTPUT = ("output", *OVER_ALL.values())
"""Pages that are about the output a person has chosen; with any other it is chosen no more."""


class Glass(FloatLayout):
    """Root widget.

    Args:
        link: where everything comes from.
        log: told of every page and touch.
        clock: seconds on CLOCK_MONOTONIC.
        keeper: of the craft book; None keeps none.
        choices: what people chose to see; None keeps none beyond this process.
        settings: units and colours a person chose; None keeps none beyond this process.
        adapters: every adapter that is plugged in, in its own words.
        listed: tells the touches that the window still counts; None = nobody knows.
    """

    full = BooleanProperty(False)

    def __init__(
        self,
        link: CraftLink,
        log: EventLog,
        clock: Callable[[], float],
        *,
        keeper: BookKeeper | None = None,
        choices: Choices | None = None,
        settings: SettingsFile | None = None,
        adapters: Callable[[], list[str]] = list,
        listed: Callable[[], Collection[int]] | None = None,
        **kwargs,
    ):
        super().__init__(**kwargs)
        self._link, self._log, self._clock, self._keeper = link, log, clock, keeper
        self._settings = SettingsFile(None) if settings is None else settings
        self._board = Board(clock(), choices, self._settings.now)
        theme.paints.wear(SKINS[self._settings.now.skin])
        self._bench = Bench(link.ask)
        self._riding = Riding()
        self._trailer = Trailer()
        self._craft = ""
        self._actions = Actions(
            self.turn,
            link.set_bit_rate,
            self.open,
            link.ask,
            self._sign_in,
            self._bench,
            clock,
            self._settings,
            self._wear,
            self._riding,
            self._mark,
            self._seen,
            self._trailer,
            adapters,
            keeper,
        )
        self._listed = listed
        finger = Finger(self.touchable, self._touched)
        self._hand = Hand(finger, self._bench.disarm, clock, still=theme.mm(STILL_MM))
        self._finger = finger
        self._lanes = Lanes(self.go, gap=theme.mm(3))
        self.ids.lanes.add_widget(self._lanes)
        self._pages: dict[str, Page] = {}
        self._page: Page | None = None
        self._name = ""
        self._lane = "Ride"
        self._number = 1
        self._open = ""
        self._wet = False
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
        lanes = () if self.full else self._lanes.shown
        return [*(self._page.touchable() if self._page else ()), *lanes]

    def sample(self, _dt: float = 0.0) -> None:
        """A frame begins."""
        self._hand.look(None if self._listed is None else self._listed())

    def let_go(self, cause: str) -> None:
        """Whatever is armed or held ends, and an inhibit that holds by itself is given back."""
        self._hand.let_go(cause)
        self._bench.stop(cause)

    def out_of_sight(self, cause: str) -> None:
        """The window is not in front any more; whatever is armed or held ends, as for ``let_go``."""
        self._hand.out_of_sight(cause)
        self._bench.stop(cause)

    def in_sight(self) -> None:
        """It is again; the touch that woke it does nothing else."""
        self._hand.in_sight()

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
        self._bench.take(self._board.moment, now, self._hand.sampled)
        if self._bench.stage is Stage.LATCHED:
            self._lane, self._open = "Bench", "output"  # whatever was open: there its result will stand
        self._ride(now)
        page = self._choose()
        self._ticks += 1
        if page is not self._page or self._hand.wet != self._wet or self._ticks % TEXT_EVERY == 0:
            before, topic = self._page, page.topic
            self._refresh()
            if before is not None and (self._page is not before or page.topic != topic):
                self._hand.page_came()
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
            "words": [*([WIPE] if self._wet else ()), *(self._page.words() if self._page else ())],
            "settled": self._hand.ready,
        }

    def _over(self) -> str:
        """What stands over whatever is open; an output before an alarm, which then waits."""
        if self._bench.stage in OVER_ALL:
            return OVER_ALL[self._bench.stage]
        if self._board.raised.unseen:
            return "alarm"
        if self._trailer.water is Water.NONE:
            late = self._trailer.state in (State.OVER, State.UNKNOWN)  # whatever is open
            if late or (self._trailer.state is State.RUNS and self._open == "trailer"):
                return "dry"
        return "riding" if self._riding.on else ""

    def _choose(self) -> Page:
        over = self._over()
        if over:
            return self._made(over)
        if self._lane != "Ride":
            return self._made(self._open or FIRST[self._lane])
        if not shows_values(self._board.moment):
            return self._made("link")
        if self._open:
            return self._made(self._open)
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

    def _ride(self, now: float) -> None:
        """Lock the glass for who rides, unlock it again; alarms go into the book."""
        was, speed = self._riding.on, self._board.moment.number("engine_speed")
        afloat = self._trailer.water is None  # nobody rides a craft on its trailer
        mounted = afloat and self._settings.now.place is Place.HANDLEBAR
        self._riding.take(speed, now, mounted=mounted)
        if self._riding.on or was:
            self._lane, self._open, self._number = "Ride", "", 1
        craft = craft_of(self._board.moment)
        if craft and craft != self._craft:
            self._craft = craft
            self._trailer.clear()
        engine = None if self._board.moment.catalogue is None else self._board.moment.catalogue.engine
        if engine is not None:
            self._trailer.limit(engine.dry_run)
        self._trailer.take(self._board.moment.turning, now)
        if self._trailer.ended is not None and self._trailer.water is not None:
            self._note(
                Kind.NOTE,
                {"text": note_text(self._trailer.water, self._trailer.ended, self._trailer.allowed_s)},
            )
        self._trailer.ended = None
        events, self._board.raised.events = self._board.raised.events, []
        for event, alarm in events:
            self._note(Kind.ALARM, alarm_body(event, alarm, self._board))

    def _mark(self, at: float) -> None:
        number = self._riding.mark()
        self._link.ask(Mark(number, at))
        self._note(Kind.MARK, mark_body(number, self._board, at))

    def _seen(self, alarm: Alarm) -> None:
        self._board.raised.see(alarm)

    def _note(self, kind: Kind, body: dict[str, Any]) -> None:
        if self._keeper is not None:
            self._keeper.noted(kind, craft_of(self._board.moment), body)

    def _wear(self, settings: Settings) -> None:
        self._settings.keep(settings)
        self._board.wear(settings)
        theme.paints.wear(SKINS[settings.skin])

    def _refresh(self) -> None:
        page = self._choose()
        if page is not self._page:
            page.came()
        if page.name != self._name:
            self._board.thaw()  # what was stopped on a page is live on every other
        page.show(self._board)
        self._head(self._strip(page))
        known = self._board.moment.catalogue is not None
        self._lanes.mark(self._lane, tests=bool(self._bench.outputs) or not known)
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

    def _strip(self, page: Page) -> Strip:
        """The strip of a page; while the glass is locked it says so."""
        moment, locked = self._board.moment, page.name == "ride/locked"
        told = page.name in ("ride/locked", "ride/alarm")
        alone = page.name in ("ride/1", "ride/locked") and self._board.shows_speed
        said = strip(moment, with_speed=not alone, alarms=() if told else self._board.raised.standing)
        return msgspec.structs.replace(said, engine=ride_strip(moment, self._riding)) if locked else said

    def _head(self, said: Strip) -> None:
        """The strip; while the screen is wet a banner lies over all that may be missed for so long."""
        self._wet = self._hand.wet
        line, banner = self.ids.strip, self.ids.wet
        if self._wet:
            said = msgspec.structs.replace(said, engine="", boxes=tuple(b for b in said.boxes if not b.rank))
        line.show(said)
        banner.width = line.width - line.craft_width - sum(map(box_width, line.shown))
        banner.text = WIPE if self._wet else ""

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
            age = time.time() - touch.time_start  # Kivy stamps with the wall clock
            acts = getattr(touch, "button", "left") == "left"
            self._hand.down(touch.uid, *touch.pos, age=age, acts=acts)
        return True

    def on_touch_move(self, touch: MotionEvent) -> bool:
        """See screens.touch."""
        self._hand.move(touch.uid, *touch.pos)
        return True

    def on_touch_up(self, touch: MotionEvent) -> bool:
        """See screens.touch."""
        self._hand.up(touch.uid, *touch.pos)
        self._refresh()  # whatever it did is seen with the next frame
        return True


def _line(text: str) -> str:
    return text.replace("\n", " ")
