"""The last minute of one signal as a line; a gap where no good value was.

Every slot of the trend is one upright quad, as high as the values in it went and at least the thickness of
the line, so that a spike is seen and the number of corners never changes: drawing the next allocates nothing.
"""

from __future__ import annotations

import math
from array import array
from typing import TYPE_CHECKING

from kivy.graphics import Color, InstructionGroup, Mesh, Rectangle
from kivy.properties import NumericProperty, StringProperty
from kivy.uix.widget import Widget

from app.trend import SLOTS
from screens import layouts, theme
from screens.widgets.writing import Writing

if TYPE_CHECKING:
    from app.trend import Track

layouts.load(__file__)

__all__ = ["StripChart", "Writing"]

LINE_MM = 0.6
"""Thickness: seen in the sun at arm's length."""

QUARTERS = 4
"""Of the time shown, parted by thin rules."""


class StripChart(Widget):
    """Draws one app.trend.Track between the ends of a scale.

    Attributes:
        upper, lower: what stands at the ends of the scale.
    """

    upper = StringProperty("")
    lower = StringProperty("")
    ends = NumericProperty(0)
    letters = NumericProperty(10)

    def __init__(self, **kwargs):
        self._corners = [array("f", bytes(4 * 16 * SLOTS)) for _ in range(2)]
        self._scale = (0.0, 1.0)
        self._seen: tuple[object, ...] = ()
        self._shown: tuple[Track | None, int] | None = None
        self._laid = True
        super().__init__(**kwargs)
        self.ends = theme.smm(11)
        self.letters = theme.ems("note")[-1]
        self._still = InstructionGroup()
        self._ink = Color(*theme.paints.ink)
        indices = [4 * slot + corner for slot in range(SLOTS) for corner in (0, 1, 2, 1, 3, 2)]
        self._mesh = Mesh(mode="triangles", vertices=self._corners[0], indices=indices)
        for instruction in (self._still, self._ink, self._mesh):
            self.canvas.add(instruction)
        for name in ("pos", "size"):
            self.fbind(name, self._lay)
        theme.paints.bind(paper=self._lay)

    def scale(self, low: float, high: float, lower: str, upper: str) -> None:
        """Set the ends of the scale and the words there."""
        self._scale = (low, high)
        self.lower, self.upper = lower, upper

    def clear(self) -> None:
        """Draw nothing: no words, no line."""
        self.upper = self.lower = ""
        self.show(None, 0)

    def show(self, track: Track | None, slot: int) -> None:
        """Draw the slots before ``slot``; nothing is drawn anew while the picture stays the same."""
        self._shown = track, slot
        seen = (id(track), slot, self._scale, *self.pos, *self.size)
        if seen == self._seen:
            return
        self._seen = seen
        drawn, fresh = self._corners
        self._fill(fresh, track, slot)
        if self._laid or fresh != drawn:
            self._laid = False
            self._corners.reverse()
            self._mesh.vertices = fresh

    def _plot(self) -> tuple[float, float, float, float]:
        """Left, bottom, width and height of where the line may be, in pixels."""
        air = theme.mm(1.0)
        return self.x + self.ends, self.y + air, self.width - self.ends - air, self.height - 2 * air

    def _fill(self, corners: array[float], track: Track | None, slot: int) -> None:
        """Put every slot at its height; where it stands from left to right is laid out once."""
        _, bottom, _, height = self._plot()
        low_end, high_end = self._scale
        per_unit = height / (high_end - low_end)
        half, top = theme.mm(LINE_MM) / 2, bottom + height
        before_low = before_high = math.nan
        for number in range(SLOTS):
            low = math.nan if track is None else track.low[place := (slot - SLOTS + number) % (SLOTS + 1)]
            down = up = bottom
            if track is None or math.isnan(low):
                before_low = before_high = math.nan
            else:
                low = min(top, max(bottom, bottom + (low - low_end) * per_unit))
                high = min(top, max(bottom, bottom + (track.high[place] - low_end) * per_unit))
                # Meet the line of the slot before; where that is a gap, NaN is never taken.
                down = min(low, before_high) - half
                up = max(high, before_low) + half
                before_low, before_high = low, high
            first = 16 * number + 1
            corners[first] = corners[first + 8] = down
            corners[first + 4] = corners[first + 12] = up

    def _lay(self, *_args) -> None:
        self._seen, self._laid = (), True
        self._ink.rgba = theme.paints.ink
        left, bottom, width, height = self._plot()
        for corners in self._corners:
            for number in range(SLOTS):
                begin, end = (left + width * edge / SLOTS for edge in (number, number + 1))
                corners[16 * number] = corners[16 * number + 4] = begin
                corners[16 * number + 8] = corners[16 * number + 12] = end
        thin = theme.mm(0.25)
        self._still.clear()
        if height <= 0:
            return
        self._still.add(Color(*theme.paints.hatch))
        for number in range(1, QUARTERS):
            at = left + width * number / QUARTERS
            self._still.add(Rectangle(pos=(round(at), bottom), size=(thin, height)))
        self._still.add(Color(*theme.paints.ink))
        self._still.add(Rectangle(pos=(left - thin, bottom - thin), size=(width + thin, thin)))
        self._still.add(Rectangle(pos=(left - thin, bottom - thin), size=(thin, height + thin)))
        if self._shown is not None:  # in the same frame: the line never stands where the widget was before
            self.show(*self._shown)
