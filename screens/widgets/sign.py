"""The four drawn shapes: triangle = watch, square = alarm, cross = a need not met, tick = one that is."""

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
}  # fmt: skip
"""Corners in a unit square, y upward; each is drawn as a fan round its ``_HUBS`` point."""

_HUBS = {"triangle": (0.5, 0.36), "square": (0.5, 0.5), "cross": (0.5, 0.5), "tick": (0.37, 0.22)}


class Sign(Widget):
    """One shape that fills the widget; "" draws nothing."""

    shape = OptionProperty("", options=("", *OUTLINES))
    ink = ColorProperty("000000")

    def __init__(self, **kwargs):
        super().__init__(size_hint=(None, None), **kwargs)
        with self.canvas:
            self._colour = Color(*self.ink)
            self._mesh = Mesh(mode="triangle_fan")
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
        outline = OUTLINES[self.shape]
        vertices: list[float] = []
        for x, y in (_HUBS[self.shape], *outline, outline[0]):
            vertices += (self.x + x * self.width, self.y + y * self.height, 0, 0)
        self._mesh.vertices = vertices
        self._mesh.indices = list(range(len(outline) + 2))
