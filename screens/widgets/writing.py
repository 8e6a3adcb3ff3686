"""A line of text that stands on a baseline, and a paragraph."""

from __future__ import annotations

from kivy.properties import NumericProperty, OptionProperty
from kivy.uix.label import Label

from screens import theme


class Writing(Label):
    """One line, as large as its text; ``left``, middle or right edge at ``at``, letters on ``baseline``."""

    at = NumericProperty(0)
    baseline = NumericProperty(0)
    anchor = OptionProperty("left", options=("left", "middle", "right"))

    def __init__(self, **kwargs):
        super().__init__(font_name=theme.face.name, size_hint=(None, None), **kwargs)
        for name in ("at", "baseline", "anchor", "font_size"):
            self.fbind(name, self._place)
        self.fbind("texture_size", self._take_size)

    def _take_size(self, *_args) -> None:
        self.size = self.texture_size
        self._place()

    def _place(self, *_args) -> None:
        share = {"left": 0.0, "middle": 0.5, "right": 1.0}[self.anchor]
        below = theme.face.descent * self.font_size
        self.pos = round(self.at - share * self.width), round(self.baseline - below)


class Paragraph(Label):
    """Lines already broken; the upper left corner stands at ``at``, ``from_top``."""

    at = NumericProperty(0)
    from_top = NumericProperty(0)

    def __init__(self, **kwargs):
        super().__init__(font_name=theme.face.name, size_hint=(None, None), line_height=1.06, **kwargs)
        for name in ("at", "from_top"):
            self.fbind(name, self._place)
        self.fbind("texture_size", self._take_size)

    def _take_size(self, *_args) -> None:
        self.size = self.texture_size if self.text else (0, 0)
        self._place()

    def _place(self, *_args) -> None:
        self.pos = round(self.at), round(self.from_top - self.height)
