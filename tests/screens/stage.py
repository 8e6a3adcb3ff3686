"""A stage for the glass: a window at one panel, scenes played to it, a hand, and a measure.

``python tests/screens/stage.py 7-800x480 DIR [VIEW …]`` leaves a picture of every view in DIR, for people
to look at. A view is a scene and, after a colon, the keys to touch: ``good:Page+Page`` is the third page of
a good ride; ``wet`` instead of a key makes the screen wet, ``arm``, ``hold`` and ``lift`` fire an output,
``wait`` lets time pass, ``scene=NAME`` plays another scene, ``seen`` waits for its alarms and touches that
they were seen.
With ``--serve`` it takes one JSON request a line, ``[what, arguments…]``, and answers each with one line: a
process of its own for every panel, because Kivy takes the density of a panel once.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import time
from pathlib import Path

from fake_bench import BENCH_SCENES
from fake_book import FakeKeeper
from fake_craft import SCENES, FakeLink
from fake_heard import HEARD_SCENES, HEARD_VIEWS
from fake_inhibits import INHIBIT_SCENES, INHIBIT_VIEWS
from fake_outputs import OUTPUT_SCENES, OUTPUT_VIEWS
from fake_quick import QUICK_SCENES, QUICK_VIEWS
from fake_reports import FAULT_VIEWS
from fake_ride import RIDE_VIEWS
from fake_values import PAGES, VALUE_VIEWS
from key_edges import edge_colours
from msgspec import to_builtins

from app.choices import Choices
from app.settings import Settings
from screens import panel as panels
from screens.colours import DAY, NIGHT

LANES = ("Check", "Bench", "Book")
ALL = [
    *SCENES,
    *(
        f"{scene}:{'+'.join(['Page'] * turns)}"
        for scene in ("good", "qualities")
        for turns in range(1, PAGES)
    ),
    *(f"{scene}:Page+Page" for scene in ("lost", "no_bus", "hung")),
    *(f"{scene}:{lane}" for scene in ("good", "starting", "trouble") for lane in LANES),
    *(f"good:Book+{taps}" for taps in ("Older", "All craft", "All craft+Older", "Sign in")),
    *(f"{scene}:Check" for scene in ("stopped", "lost", "unknown_craft")),
    *(f"{scene}:Check+Connection" for scene in ("good", "starting", "lost", "unknown_craft")),
    "unknown_craft:Check+Connection+Raw frames",
    "unknown_craft:Check+Connection+Raw frames+More",
    "good:More+Settings",
    *FAULT_VIEWS,
    *VALUE_VIEWS,
    *QUICK_VIEWS,
    *HEARD_VIEWS,
    *OUTPUT_VIEWS,
    *INHIBIT_VIEWS,
    *RIDE_VIEWS,
    *(f"cautions:Bench+{taps}" for taps in ("Ignition coil 1", "Page+Fuel pump", "Page+Bilge pump")),
    *(f"{view}wet" for view in ("good:", "starting:", "qualities:", "lost:Page+Page+", "good:Bench+")),
]
SCENES.update(
    BENCH_SCENES | OUTPUT_SCENES | INHIBIT_SCENES | QUICK_SCENES | HEARD_SCENES
)  # no views by themselves: what they show depends on what was asked

QUICK = 0.1
"""A tick so long where only its end counts: four write every text; with a longer one a touch that comes two
frames later would be too old."""

TAP_S = 0.2
"""From one tap to the next: a hand that is quicker is taken for water."""


class FakeClock:
    """Time that passes only when told to."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


class Stage:
    """A window with the glass in it. Every public method may be asked for by name."""

    def __init__(self, panel: str, *, samples: int) -> None:
        self._panel = panels.find(panel)
        panels.prepare(self._panel, fullscreen=False)
        from kivy.config import Config

        Config.set("graphics", "maxfps", 0)
        Config.set("graphics", "multisamples", samples)
        from kivy.base import EventLoop, runTouchApp
        from kivy.clock import Clock
        from kivy.core.window import Window

        from app import stop_key
        from screens import theme, window

        theme.use(self._panel)
        from kivy.uix.label import Label

        from screens.event_log import EventLog
        from screens.glass import Glass

        self._kivy_clock = Clock
        self._loop, self._window, self._theme, self._label = EventLoop, Window, theme, Label
        self._clock = FakeClock()
        self._link = FakeLink("starting", self._clock)
        Window.clearcolor = theme.paints.paper
        self._keeper = FakeKeeper(self._link)
        self._fingers: dict[int, tuple[float, float]] = {}
        log = EventLog(None, self._clock)
        self._glass = Glass(
            self._link,
            log,
            self._clock,
            keeper=self._keeper,
            adapters=lambda: ["socketcan on can0", "slcan on /dev/serial/by-id/usb-Some_adapter_0123"],
            listed=lambda: window.listed() | {-finger for finger in self._fingers},
        )
        window.watch(Window, self._glass, stop_key.numbers(stop_key.DEFAULT))
        self._glass.tick()
        runTouchApp(self._glass, embedded=True)
        self._flips = 0
        Window.bind(on_flip=self._flipped)

    def _flipped(self, *_args) -> None:
        self._flips += 1

    def facts(self) -> dict:
        """What does not change: pixels per inch, cap height as a share of the em, every view, modules."""
        return {
            "dpi": self._panel.dpi,
            "cap": self._theme.face.cap,
            "descent": self._theme.face.descent,
            "views": ALL,
            "modules": sorted({name.split(".")[0] for name in sys.modules}),
        }

    def pass_time(self, seconds: float, step: float = 0.05, *, drawn: bool = True) -> dict:
        """Tick by tick, a frame after each, drawn or only laid out.

        Returns how often something was drawn and said anew.
        """
        flips, said, swept = self._flips, set(), set()
        changes = 0
        before = None
        for _ in range(round(seconds / step)):
            self._clock.now += step
            self._glass.sample()
            self._glass.tick()
            self._loop.idle() if drawn else self._lay_out()
            texts = [(widget.tile.signal, widget.main) for widget in self._glass._page.tiles()]
            changes += texts != before
            before = texts
            said.update(texts)
            arc = self._glass._page.ids.get("arc")
            swept.add(arc._drawn_to if arc else None)
        return {"flips": self._flips - flips, "changes": changes, "swept": len(swept)}

    def _lay_out(self) -> None:
        """A frame as Kivy makes it, without its picture."""
        self._kivy_clock.tick()
        self._kivy_clock.tick_draw()

    def _wait(self, seconds: float) -> None:
        """Let time pass with few frames; the last ones as usual, or a touch after them would count as old."""
        self.pass_time(seconds, QUICK, drawn=False)
        self.pass_time(0.15)

    def scene(self, name: str) -> None:
        """Play another scene from now on, without waiting."""
        self._link.scene = name

    def open(self, view: str) -> None:
        """Play a scene from the first page of the Ride lane, and touch the keys that lead to a page.

        A key with a question mark behind it is touched only where there is one: a large panel needs no parts.
        """
        for finger, place in list(self._fingers.items()):
            self.up(*place, finger)
        self._wait(0.6)  # dry again
        self._glass._bench.leave()
        if self._glass._settings.now != Settings():
            self._glass._wear(Settings())
        self._glass._board.choices = Choices()
        self._glass._riding.on = False
        self._glass._trailer.clear()
        self._glass._board._craft = None  # found anew: nothing is remembered of the view before
        scene, _, taps = view.partition(":")
        self._link.scene = scene
        self._glass._lane, self._glass._number, self._glass._open = "Ride", 1, ""
        self._wait(0.6)  # a page that came by itself takes no touch at first
        if scene == "hung":
            self._wait(0.9)
        for tap in filter(None, taps.split("+")):
            if tap.startswith("scene="):
                self.scene(tap.removeprefix("scene="))
                self.pass_time(0.2)
            elif tap in ("seen", "wet", "arm", "hold", "lift", "wait", "minute", "alarm"):
                getattr(self, tap)()
            elif not tap.endswith("?") or self._keys(tap[:-1]):
                self.tap(tap.removesuffix("?"))
        self.pass_time(0.2)

    def tap(self, text: str) -> None:
        """Touch a key whose words begin so, and lift."""
        key = self._key(text)
        self.down(*key.center)
        self.up(*key.center)
        self.pass_time(TAP_S, drawn=False)

    def down(self, x: float, y: float, finger: int = 1, age: float = 0.0) -> None:
        """A finger comes down; ``age`` is how many seconds ago Kivy read it."""
        self._fingers[finger] = (x, y)
        self._glass.on_touch_down(Touch(x, y, finger, age))

    def move(self, x: float, y: float, finger: int = 1) -> None:
        """A finger moves."""
        self._fingers[finger] = (x, y)
        self._glass.on_touch_move(Touch(x, y, finger))

    def up(self, x: float, y: float, finger: int = 1) -> None:
        """A finger lifts."""
        self._fingers.pop(finger, None)
        self._glass.on_touch_up(Touch(x, y, finger))

    def vanish(self, finger: int = 1) -> None:
        """The window counts a finger no more, and never said that it lifted."""
        del self._fingers[finger]

    def wet(self) -> None:
        """Two drops fall on the strip, where no key is, and stay."""
        for finger, x in ((8, 30), (9, 90)):
            self.down(x, self._window.height - 4, finger)
        self.pass_time(0.3)

    def arm(self) -> None:
        """Hold the arming key for as long as it takes, and lift."""
        self.press("Hold 1 s")
        self._wait(1.35)
        self.lift()
        self._wait(0.6)

    def hold(self) -> None:
        """A finger comes down on the hold target and stays."""
        self.press("Hold here")
        self.pass_time(0.3)

    def wait(self) -> None:
        """Longer than a page settles, and than a snapshot is fresh."""
        self._wait(2.0)

    def minute(self) -> None:
        """A minute and a little more, of which nothing is drawn but its end."""
        for _ in range(244):
            self._clock.now += 0.25
            self._glass.sample()
            self._glass.tick()
        self._wait(0.6)

    def alarm(self) -> None:
        """Things get worse."""
        self._link.scene = "alarm"
        self.pass_time(0.3)

    def seen(self) -> None:
        """Every alarm of the scene has come, and somebody touches that they saw it."""
        self._wait(4.0)
        while self._keys("Seen"):
            self.tap("Seen")
            self._wait(0.6)

    def lift(self) -> None:
        """It lifts."""
        for finger, place in list(self._fingers.items()):
            self.up(*place, finger)

    def press(self, text: str) -> None:
        """A finger comes down on the key whose words begin so, and stays."""
        self.down(*self._key(text).center)

    def say(self, event: str, *arguments) -> None:
        """The window says something, as ``on_key_down``."""
        self._window.dispatch(event, *arguments)

    def lose_focus(self) -> None:
        """Another window has it."""
        self._window._focus = False

    def get_focus(self) -> None:
        """The window has it again."""
        self._window._focus = True

    def mouse(self, what: str, x: float, y: float, button: str) -> None:
        """A button of the mouse, "down" or "up", through Kivy's own provider; y from the top."""
        buttons = self._window._mouse_buttons_down
        (buttons.add if what == "down" else buttons.discard)(button)
        self._window.dispatch(f"on_mouse_{what}", x, y, button, [])
        self._loop.idle()

    def stand_still(self, seconds: float) -> None:
        """Time passes without a frame; then one is drawn."""
        self._clock.now += seconds
        self._glass.sample()
        self._glass.tick()
        self._loop.idle()

    def kivy_keys(self) -> dict[str, int]:
        """Kivy's own table of keys."""
        from kivy.core.window import Keyboard

        return Keyboard.keycodes

    def delivered(self) -> list[int]:
        """Numbers of the touches that Kivy itself counts."""
        return [touch.uid for touch in self._loop.touches if touch.is_touch]

    def frame(self) -> None:
        """Draw one frame without a tick."""
        self._loop.idle()

    def rates(self) -> list:
        """Every bit rate that was told to the craft link."""
        return self._link.rates

    def book(self, what: str, *arguments) -> object:
        """Ask the keeper of the book, see fake_book.FakeKeeper."""
        return getattr(self._keeper, what)(*arguments)

    def now(self) -> float:
        """What the clock of the glass says."""
        return self._clock.now

    def asked(self) -> list:
        """Every request to the craft link: its name and what it carries."""
        return [[type(each).__name__, to_builtins(each)] for each in self._link.asked]

    def empty_cell(self) -> list:
        """Ground of a cell made now that shows nothing."""
        from screens.widgets.value_tile import ValueTile

        return list(ValueTile().ground)

    def inked(self) -> list[int]:
        """Of 60 upright cuts through each strip of the chart, how many meet a line."""
        picture, high = self._grab().convert("L"), self._window.height
        counts = []
        for strip in self._glass._page._strips:
            x, y, width, height = strip._plot()
            cuts = [int(x + width * (number + 0.5) / 60) for number in range(60)]
            rows = range(int(high - y - height), int(high - y) - 1)
            counts.append(sum(any(picture.getpixel((cut, row)) < 60 for row in rows) for cut in cuts))
        return counts

    def astray(self) -> int:
        """Corners of the lines of the chart that stand outside their strip."""
        count = 0
        for strip in self._glass._page._strips:
            left, bottom, width, height = strip._plot()
            places = strip._mesh.vertices
            for x, y in zip(places[0::4], places[1::4], strict=True):
                inside = left - 2 <= x <= left + width + 2 and bottom - 4 <= y <= bottom + height + 4
                count += not inside
        return count

    def pixel(self, x: float, y: float) -> list[int]:
        """Colour drawn at a place."""
        return list(self._grab().getpixel((int(x), self._window.height - 1 - int(y))))

    def wear(self, which: str) -> None:
        """Day or night."""
        self._theme.paints.wear({"day": DAY, "night": NIGHT}[which])
        self._window.clearcolor = self._theme.paints.paper

    def picture(self, path: str) -> None:
        """Save what is on the window."""
        self._grab().save(path)

    def pixels(self) -> dict:
        """What the picture says: letters with their colours, grounds of tiles, bars of hatched ones."""
        picture = self._grab()
        paper = [round(255 * part) for part in self._theme.paints.paper[:3]]
        hatched = [tile for tile in self._glass._page.tiles() if tile.tile is not None and tile.hatched]
        letters = [
            {"text": widget.text, "em": widget.font_size, "colours": self._colours(picture, widget)}
            for widget in self._glass.walk(restrict=True)
            if isinstance(widget, self._label) and widget.text and widget.texture_size[0]
        ]
        tiles = [
            {"look": widget.tile.look.value, "ground": self._at(picture, widget.right - 3, widget.y + 3)}
            for widget in self._glass._page.tiles()
            if widget.tile is not None and not widget.hatched
        ]
        return {
            "letters": letters,
            "tiles": tiles,
            "paper": paper,
            "keys": [
                {
                    "text": key.text.replace("\n", " "),
                    "sides": edge_colours(picture, (*key.pos, *key.size), self._theme.mm(1)),
                }
                for key in self._glass.touchable()
            ],
            "bars": [
                next(colour for _, colour in self._colours(picture, tile) if colour != paper)
                for tile in hatched
            ],
        }

    def _colours(self, picture, widget) -> list:
        """Colours in the box of a label with their shares, the most frequent first."""
        high = self._window.height
        box = (int(widget.x), int(high - widget.top), int(widget.right) + 1, int(high - widget.y) + 1)
        box = (max(0, box[0]), max(0, box[1]), min(picture.width, box[2]), min(picture.height, box[3]))
        if box[2] <= box[0] or box[3] <= box[1]:
            return []
        found = picture.crop(box).getcolors(1 << 16) or []
        total = sum(count for count, _ in found)
        return [[count / total, list(colour)] for count, colour in sorted(found, reverse=True)]

    def _at(self, picture, x: float, y: float) -> list[int]:
        return list(picture.getpixel((int(x), self._window.height - 1 - int(y))))

    def _grab(self):
        from kivy.graphics.opengl import GL_RGB, GL_UNSIGNED_BYTE, glReadPixels
        from PIL import Image

        self._window.canvas.ask_update()
        self._loop.idle()
        width, height = self._window.size
        pixels = glReadPixels(0, 0, width, height, GL_RGB, GL_UNSIGNED_BYTE)
        return Image.frombytes("RGB", (width, height), pixels).transpose(Image.Transpose.FLIP_TOP_BOTTOM)

    def _key(self, text: str):
        return self._keys(text)[0]

    def _keys(self, text: str) -> list:
        return [key for key in self._glass.touchable() if key.text.replace("\n", " ").startswith(text)]

    def measure(self) -> dict:
        """Every key, tile and text now on the glass, in pixels from the lower left."""
        from kivy.uix.label import Label

        glass = self._glass
        return {
            "name": glass._name,
            "page": next(name for name, page in glass._pages.items() if page is glass._page),
            "scrolls": [type(each).__name__ for each in glass.walk() if hasattr(each, "do_scroll_y")],
            "window": list(self._window.size),
            "labels": [
                {
                    "text": widget.text,
                    "box": [*widget.pos, *widget.size],
                    "texture": list(widget.texture_size),
                    "em": widget.font_size,
                    "owner": type(widget.parent).__name__,
                    "owner_box": [*widget.parent.pos, *widget.parent.size],
                }
                for widget in glass.walk(restrict=True)
                if isinstance(widget, Label) and widget.text
            ],
            "keys": [
                {
                    "text": key.text.replace("\n", " "),
                    "box": [*key.pos, *key.size],
                    "here": key.here,
                    "down": key.down,
                    "filled": key.filled,
                }
                for key in glass.touchable()
            ],
            "tiles": [
                {
                    "signal": widget.tile.signal,
                    "look": widget.tile.look.value,
                    "label": widget.label,
                    "drawn": widget.main,
                    "unit": widget.unit,
                    "note": widget.note,
                    "hatched": widget.hatched,
                    "shape": widget.shape,
                    "ground": list(widget.ground),
                    "ink": list(widget.ink),
                    "box": [*widget.pos, *widget.size],
                }
                for widget in glass._page.tiles()
            ],
            **{part: glass.content()[part] for part in ("strip", "words")},
        }


class Touch:
    """As much of a touch as the glass looks at."""

    is_mouse_scrolling = False
    button = "left"

    def __init__(self, x: float, y: float, uid: int, age: float = 0.0) -> None:
        self.pos, self.uid = (x, y), -uid  # Kivy's own numbers are above zero
        self.time_start = time.time() - age


def serve(stage: Stage) -> None:
    """Answer requests until the other side hangs up; nothing but answers goes to standard output."""
    answers = os.fdopen(os.dup(1), "w")
    os.dup2(2, 1)
    for line in sys.stdin:
        what, *arguments = json.loads(line)
        answers.write(json.dumps(getattr(stage, what)(*arguments)) + "\n")
        answers.flush()


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("panel")
    parser.add_argument("folder", nargs="?", type=Path)
    parser.add_argument("views", nargs="*")
    parser.add_argument("--serve", action="store_true")
    parser.add_argument("--night", action="store_true")
    options = parser.parse_args()
    stage = Stage(options.panel, samples=0 if options.serve else 4)
    if options.night:
        stage.wear("night")
    if options.serve:
        serve(stage)
        return 0
    options.folder.mkdir(parents=True, exist_ok=True)
    for view in options.views or ALL:
        stage.open(view)
        name = view.replace(":", "-").replace("Page+", "P").replace("Page", "P")
        stage.picture(str(options.folder / f"{options.panel}-{name}.png"))
    return 0


if __name__ == "__main__":
    sys.exit(main())
