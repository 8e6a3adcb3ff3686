"""Opens the glass at one panel, plays scenes to it and prints what stands where, as one JSON object.

``python tests/screens/measure.py 7-800x480 [--pictures DIR] [VIEW …]`` where a view is a scene and, after a
colon, what to touch: ``good:Page+Page`` is the third page of a good ride. A process of its own, because Kivy
takes the density of a panel once.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from fake_craft import SCENES, FakeLink

from screens import panel as panels

PAGES = 9
ALL = [
    *SCENES,
    *(
        f"{scene}:{'+'.join(['Page'] * pages)}"
        for scene in ("good", "alarm", "qualities")
        for pages in range(1, PAGES)
    ),
    "watch:Page+Page+Page",
    *(f"{scene}:Page+Page" for scene in ("lost", "no_bus", "hung")),
    *(
        f"{scene}:{lane}"
        for scene in ("good", "lost", "starting", "trouble")
        for lane in ("Check", "Bench", "Book")
    ),
    "stopped:Check",
    "unknown_craft:Check",
]


class FakeClock:
    """Time that passes only when told to."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


class Stage:
    """A window with the glass in it, and a hand."""

    def __init__(self, panel: str) -> None:
        self.panel = panels.find(panel)
        panels.prepare(self.panel, fullscreen=False)
        from kivy.config import Config

        Config.set("graphics", "maxfps", 0)
        from kivy.base import EventLoop, runTouchApp
        from kivy.core.window import Window

        from screens import theme

        theme.use(self.panel)
        from screens.event_log import EventLog
        from screens.glass import Glass

        self.loop, self.window, self.theme = EventLoop, Window, theme
        self.clock = FakeClock()
        self.link = FakeLink("starting", self.clock)
        Window.clearcolor = theme.paints.paper
        self.glass = Glass(self.link, EventLog(None, self.clock), self.clock)
        self.glass.tick()
        runTouchApp(self.glass, embedded=True)
        self.flips = 0
        Window.bind(on_flip=self._flipped)

    def _flipped(self, *_args) -> None:
        self.flips += 1

    def pass_time(self, seconds: float) -> None:
        """Tick by tick, a frame drawn after each."""
        for _ in range(round(seconds * 20)):
            self.clock.now += 0.05
            self.glass.tick()
            self.loop.idle()

    def key(self, text: str):
        """The first key whose words begin so."""
        return next(key for key in self.glass.touchable() if key.text.replace("\n", " ").startswith(text))

    def tap(self, text: str) -> None:
        """Touch a key and lift."""
        self.drag(self.key(text).center, self.key(text).center)

    def drag(self, start, end) -> None:
        """A finger comes down at one place and lifts at another."""
        self.glass._finger.begin(1, *start)
        self.glass._finger.move(1, *end)
        self.glass._finger.end(1, *end)
        self.pass_time(0.1)

    def open(self, view: str) -> None:
        """Set the scene and touch the keys that lead to a page."""
        scene, _, taps = view.partition(":")
        self.link.scene = scene
        self.glass._lane, self.glass._number = "Ride", 1
        self.pass_time(0.4)
        if scene == "hung":
            self.pass_time(0.8)
        for tap in filter(None, taps.split("+")):
            self.tap(tap)
        self.pass_time(0.2)

    def picture(self, path: Path) -> None:
        """Save what is on the window."""
        from kivy.graphics.opengl import GL_RGB, GL_UNSIGNED_BYTE, glReadPixels
        from PIL import Image

        self.window.canvas.ask_update()
        self.loop.idle()
        width, height = self.window.size
        pixels = glReadPixels(0, 0, width, height, GL_RGB, GL_UNSIGNED_BYTE)
        Image.frombytes("RGB", (width, height), pixels).transpose(Image.Transpose.FLIP_TOP_BOTTOM).save(path)

    def measure(self) -> dict:
        """Every key, tile and text now on the glass, in pixels from the lower left."""
        from kivy.uix.label import Label

        glass = self.glass
        labels = [
            {
                "text": widget.text,
                "box": [*widget.pos, *widget.size],
                "texture": list(widget.texture_size),
                "em": widget.font_size,
                "lines": widget.text.count("\n") + 1,
                "owner": type(widget.parent).__name__,
                "owner_box": [*widget.parent.pos, *widget.parent.size],
            }
            for widget in glass.walk(restrict=True)
            if isinstance(widget, Label) and widget.text
        ]
        keys = [{"text": key.text, "box": [*key.pos, *key.size]} for key in glass.touchable()]
        tiles = [
            {
                "signal": widget.tile.signal,
                "look": widget.tile.look.value,
                "main": widget.tile.main,
                "drawn": widget.main,
                "unit": widget.unit,
                "note": widget.tile.note,
                "hatched": widget.hatched,
                "shape": widget.shape,
                "ground": widget.ground,
                "ink": widget.ink,
                "box": [*widget.pos, *widget.size],
            }
            for widget in glass._page.tiles()
        ]
        return {
            "name": glass._name,
            "window": list(self.window.size),
            "labels": labels,
            "keys": keys,
            "tiles": tiles,
            "content": glass.content(),
        }


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("panel")
    parser.add_argument("views", nargs="*")
    parser.add_argument("--pictures", type=Path)
    options = parser.parse_args()
    stage = Stage(options.panel)
    result = {}
    for view in options.views or ALL:
        stage.open(view)
        result[view] = stage.measure()
        if options.pictures:
            options.pictures.mkdir(parents=True, exist_ok=True)
            name = view.replace(":", "-").replace("Page+", "P").replace("Page", "P")
            stage.picture(options.pictures / f"{options.panel}-{name}.png")
    print(json.dumps({"dpi": stage.panel.dpi, "cap": stage.theme.face.cap, "views": result}))
    return 0


if __name__ == "__main__":
    sys.exit(main())
