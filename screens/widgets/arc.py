"""The engine-speed arc: ticks, a filled sweep, the red band from the alarm limit, and the figure inside."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from kivy.graphics import Color, InstructionGroup, Mesh
from kivy.properties import ListProperty, NumericProperty, StringProperty

from app.show import Look
from screens import layouts, theme
from screens.widgets import ring
from screens.widgets.sign import Sign
from screens.widgets.worn import Worn
from screens.widgets.writing import Writing

if TYPE_CHECKING:
    from app.show import Tile

layouts.load(__file__)

NOTE_COSTS = 0.92
"""The ring may shrink to this share of what the width allows, to make room for whose limit it is."""

__all__ = ["Arc", "Sign", "Writing"]


class Arc(Worn):
    """Shows one signal with a scale. ``show`` takes the words, ``sweep`` the share of the scale.

    Attributes:
        tile: what it shows, None before the first.
    """

    foot = StringProperty("")
    foot_size = NumericProperty(10)
    middle = ListProperty([0, 0])
    radius = NumericProperty(0.0)

    def __init__(self, **kwargs):
        self.tile: Tile | None = None
        self._below = ("", "")
        self._noted = False
        self._scale: tuple[float, float] | None = None
        self._alarm: float | None = None
        self._share = 0.0
        self._drawn_to = -1.0
        super().__init__(**kwargs)
        self._still, self._moving = InstructionGroup(), Mesh(mode="triangle_strip")
        self._ink = Color(*self.ink)
        for instruction in (self._still, self._ink, self._moving):
            self.canvas.add(instruction)
        for name in ("pos", "size"):
            self.fbind(name, self._lay)
        theme.paints.bind(paper=self._paint)

    def show(self, tile: Tile, foot: str, note: str) -> None:
        """Show the words; ``foot`` and ``note`` stand below the figure."""
        if tile == self.tile and (foot, note) == self._below:
            return
        look = None if self.tile is None else self.tile.look
        self.tile, self._below = tile, (foot, note)
        if tile.look is not look:
            self._paint()
        self._fit()

    def scale(self, low: float | None, high: float | None, alarm: float | None) -> None:
        """Set the ends of the scale and where the red band begins; without ends there is no arc."""
        scale = None if low is None or high is None or high <= low else (low, high)
        if (scale, alarm) != (self._scale, self._alarm):
            self._scale, self._alarm = scale, alarm
            self._lay()

    def sweep(self, value: float | None) -> None:
        """Fill the arc up to a value; None empties it. Draws only what moves by half a pixel or more."""
        share = 0.0
        if value is not None and self._scale is not None:
            low, high = self._scale
            share = min(1.0, max(0.0, (value - low) / (high - low)))
        self._share = share
        moved = abs(share - self._drawn_to) * self.radius * math.radians(ring.SWEEP)
        if moved >= 0.5 or (share == 0.0 and self._drawn_to > 0):
            self._fill()

    def _paint(self, *_args) -> None:
        if self.tile is None:
            return
        self.wear(self.tile)
        self._ink.rgba = self.ink
        self._draw_still()

    def _lay(self, *_args) -> None:
        """Place the ring: as large as the width or the height allows, room for the words at its foot."""
        head, foot = theme.smm(8.0), float(theme.smm(6.9))
        note = (theme.face.cap + theme.face.descent) * theme.em("note") + theme.smm(0.5)
        wide = self.width / 2 - theme.smm(3.4)
        high = (self.height - head - foot) / 1.5
        self._noted = high - note / 1.5 >= wide * NOTE_COSTS
        if self._noted:
            foot += note
            high -= note / 1.5
        self.radius = max(10.0, min(wide, high))
        spare = max(0.0, self.height - head - foot - 1.5 * self.radius)
        self.middle = [
            round(self.x + self.width / 2),
            round(self.y + self.height - head - self.radius - spare * 0.3),
        ]
        self._draw_still()
        self._fill()
        self._fit()

    def _fill(self) -> None:
        self._drawn_to = self._share
        vertices, indices = ring.band(self.middle, 0.8 * self.radius, self.radius, 0.0, self._share)
        self._moving.vertices = vertices
        self._moving.indices = indices

    def _draw_still(self) -> None:
        self._still.clear()
        if self._scale is None:
            return
        low, high = self._scale
        red = self.ink if self.tile is not None and self.tile.look is Look.ALARM else theme.paints.alarm
        if self._alarm is not None and low < self._alarm < high:
            begin = (self._alarm - low) / (high - low)
            self._add(red, *ring.band(self.middle, 0.91 * self.radius, self.radius, begin, 1.0))
        line = theme.mm(0.5)
        self._add(self.ink, *ring.band(self.middle, self.radius - line, self.radius, 0.0, 1.0))
        step = tick_step(high - low)
        for number in range(math.floor((high - low) / step + 1e-9) + 1):
            corners = ring.tick(
                self.middle,
                self.radius + theme.mm(0.2),
                self.radius + theme.smm(2.4),
                number * step / (high - low),
                theme.mm(0.6),
            )
            self._add(self.ink, corners, [0, 1, 2, 3])

    def _add(self, colour: list[float], vertices: list[float], indices: list[int]) -> None:
        self._still.add(Color(*colour))
        self._still.add(Mesh(vertices=vertices, indices=indices, mode="triangle_strip"))

    def _fit(self) -> None:
        tile = self.tile
        if tile is None:
            return
        head = f"{tile.label} · {tile.word}" if tile.word else tile.label
        beside = theme.em("label") * 0.8 + theme.smm(0.9) if self.shape else 0
        room = self.width - 2 * theme.smm(2.2)
        self.label_size, self.label = theme.fit(head, room - beside, theme.ems("label"), bold=False)
        figure = tile.figure and tile.note != "out of range"
        sizes = theme.ems("arc" if figure else "words")
        for size in sizes:
            half = size * theme.face.cap / 2
            inside = 2 * math.sqrt(max(1.0, (0.78 * self.radius) ** 2 - half**2)) * 0.96
            self.main_size, self.main = theme.fit(tile.main, inside, [size], bold=True)
            if self.main == tile.main:
                break
        self.unit = tile.unit or ("" if figure else tile.note)
        foot, note = self._below[0], self._below[1] if self._noted else ""
        self.foot_size, self.foot = theme.fit(foot, room, theme.ems("unit") + theme.ems("note"), bold=False)
        self.note_size, self.note = theme.fit(note, room, theme.ems("note"), bold=False)


def tick_step(span: float) -> float:
    """A round step (1, 2 or 5 times a power of ten) that makes at most ten ticks of a span > 0."""
    power = 10.0 ** math.floor(math.log10(span / 10))
    return next(power * factor for factor in (1, 2, 5, 10, 20) if span / (power * factor) <= 10)
