"""The line on top of every screen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kivy.properties import ColorProperty, NumericProperty, StringProperty
from kivy.uix.widget import Widget

from app.show import Look
from app.strip import fit
from screens import layouts, theme
from screens.colours import DAY
from screens.widgets.sign import Sign
from screens.widgets.writing import Writing

if TYPE_CHECKING:
    from app.strip import Box, Strip

layouts.load(__file__)

__all__ = ["Sign", "StripBox", "StripLine", "Writing"]

MOST_BOXES = 7


class StripBox(Widget):
    """One fact with a rule at its left."""

    text = StringProperty("")
    shape = StringProperty("")
    ground = ColorProperty(DAY["paper"])
    ink = ColorProperty(DAY["ink"])

    def show(self, box: Box | None, left: float) -> None:
        """Show a fact from ``left`` on; None hides the box."""
        if box is None:
            self.text = self.shape = ""
            self.width = 0
            return
        look = _look(box)
        self.ground, self.ink = theme.ground_and_ink(look)
        self.text, self.shape = box.text, theme.SKINS[look].shape
        self.x, self.width = left, box_width(box)


def _look(box: Box) -> Look:
    if box.alarm:
        return Look.ALARM
    return Look.WATCH if box.watch else Look.GOOD


def box_width(box: Box) -> int:
    """Pixels that a fact takes, its rule included."""
    shape = theme.em("strip") + theme.smm(0.4) if _look(box) is not Look.GOOD else 0
    return theme.width_of(box.text, theme.em("strip"), True) + 2 * theme.smm(1.9) + theme.mm(0.4) + shape


class StripLine(Widget):
    """Craft, engine, boxes. The boxes that have no room are left out, the least important first."""

    craft = StringProperty("")
    engine = StringProperty("")
    craft_width = NumericProperty(0)
    engine_size = NumericProperty(10)

    def __init__(self, **kwargs):
        self._strip: Strip | None = None
        self.shown: tuple[Box, ...] = ()
        super().__init__(**kwargs)
        self._boxes = [StripBox(size_hint=(None, None)) for _ in range(MOST_BOXES)]
        for box in self._boxes:
            self.add_widget(box)
        for name in ("pos", "size"):
            self.fbind(name, self._fit)
        theme.paints.bind(paper=self._fit)

    def show(self, strip: Strip) -> None:
        """Show this; nothing is assigned when it is shown already."""
        if strip != self._strip:
            self._strip = strip
            self._fit()

    def _fit(self, *_args) -> None:
        strip = self._strip
        if strip is None:
            return
        size = theme.em("strip")
        half = self.width * 0.45
        _, self.craft = theme.fit(strip.craft, half, [size], bold=True)
        self.craft_width = theme.width_of(self.craft, size, True) + 2 * theme.smm(2.1)
        room = self.width - self.craft_width
        words = theme.width_of(strip.engine, size, True) + 2 * theme.smm(2.1)
        self.shown = fit(strip.boxes, box_width, room - words)
        left = self.x + self.width - sum(map(box_width, self.shown))
        free = left - self.x - self.craft_width - 2 * theme.smm(2.1)
        self.engine_size, self.engine = theme.fit(strip.engine, free, theme.ems("strip"), bold=True)
        for number, widget in enumerate(self._boxes):
            box = self.shown[number] if number < len(self.shown) else None
            widget.y, widget.height = self.y, self.height
            widget.show(box, left)
            left += 0 if box is None else box_width(box)
