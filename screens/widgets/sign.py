"""The drawn shapes: triangle = watch, square = alarm, cross = not met, tick = met, bars = frozen."""

from __future__ import annotations

from kivy.graphics import Color, Mesh
from kivy.properties import ColorProperty, OptionProperty
from kivy.uix.widget import Widget

_T = 0.13  # half the stroke of cross and tick, as a share of the side

OUTLINES: dict[str, tuple[tuple[float, float], ...]] = {
    "triangle": ((0.5, 0.96), (1.0, 0.06), (0.0, 0.06)),
    "square": ((0.06, 0.94), (0.94, 0.94), (0.94, 0.06), (0.06, 0.06)),
    "cross": (
        (0.1 + _T, 0.9), (0.5, 0.5 + _T), (0.9 - _T, 0.9), (0.9, 0.9 - _T), (0.5 + _T, 0.5), (0.9, 0.1 + _T),
        (0.9 - _T, 0.1), (0.5, 0.5 - _T), (0.1 + _T, 0.1), (0.1, 0.1 + _T), (0.5 - _T, 0.5), (0.1, 0.9 - _T),
    ),
    "tick": ((0.04, 0.42), (0.2, 0.56), (0.36, 0.36), (0.8, 0.94), (0.96, 0.82), (0.38, 0.06)),
    "bars": (
        (0.12, 0.92), (0.4, 0.92), (0.4, 0.08), (0.12, 0.08),
        (0.6, 0.92), (0.88, 0.92), (0.88, 0.08), (0.6, 0.08),
    ),
}  # fmt: skip
"""Corners in a unit square, y upward; each is a fan round its ``_HUBS`` point, without one quads."""

_HUBS = {"triangle": (0.5, 0.36), "square": (0.5, 0.5), "cross": (0.5, 0.5), "tick": (0.37, 0.22)}


class Sign(Widget):
    """One shape that fills the widget; "" draws nothing."""

    shape = OptionProperty("", options=("", *OUTLINES))
    ink = ColorProperty("000000")

    def __init__(self, **kwargs):
        super().__init__(size_hint=(None, None), **kwargs)
        with self.canvas:
            self._colour = Color(*self.ink)
            self._mesh = Mesh(mode="triangles")
        for name in ("shape", "pos", "size"):
            self.fbind(name, self._draw)
        self.fbind("ink", self._paint)

    def _paint(self, *_args) -> None:
        self._colour.rgba = self.ink

    def _draw(self, *_args) -> None:
        if not self.shape:
            self._mesh.indices = []
            self._mesh.vertices = []
            return
        outline, hub = OUTLINES[self.shape], _HUBS.get(self.shape)
        points = outline if hub is None else (hub, *outline, outline[0])
        vertices: list[float] = []
        for x, y in points:
            vertices += (self.x + x * self.width, self.y + y * self.height, 0, 0)
        self._mesh.vertices = vertices
        if hub is None:
            starts = range(0, len(points), 4)
            self._mesh.indices = [first + corner for first in starts for corner in (0, 1, 2, 0, 2, 3)]
        else:
            self._mesh.indices = [
                corner for number in range(1, len(points) - 1) for corner in (0, number, number + 1)
            ]
