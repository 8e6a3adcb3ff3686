"""Plain facts in rows: what at the left, its value at the right of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kivy.properties import NumericProperty, StringProperty
from kivy.uix.widget import Widget

from screens import layouts, theme
from screens.widgets.edges import edges
from screens.widgets.writing import Writing

if TYPE_CHECKING:
    from collections.abc import Sequence

    from app.facts import Fact

layouts.load(__file__)

__all__ = ["FactRow", "Rows", "Writing"]


LABEL_SHARE = 0.4
"""Of half the width, for the words at the left of a row; wide rows begin their text at the same place."""


class FactRow(Widget):
    """One fact over a thin rule."""

    label = StringProperty("")
    fact = StringProperty("")
    fact_text = StringProperty("")
    label_width = NumericProperty(0)
    label_size = NumericProperty(10)
    fact_size = NumericProperty(10)

    def __init__(self, **kwargs):
        super().__init__(size_hint=(None, None), **kwargs)
        for name in ("label", "fact", "width", "height", "label_width"):
            self.fbind(name, self._fit)

    def _fit(self, *_args) -> None:
        gap = theme.smm(1.5)
        every = theme.ems("text") + theme.ems("note")
        sizes = [size for size in every if theme.LINE * size <= self.height] or every[-1:]
        self.label_size, _ = theme.fit(self.label, self.label_width - gap, sizes, bold=False)
        self.fact_size, self.fact_text = theme.fit(self.fact, self.width - self.label_width, sizes, bold=True)


class Rows(Widget):
    """Narrow facts in two columns, read downwards; wide ones below them over the whole width."""

    def __init__(self, **kwargs):
        self._facts: tuple[Fact, ...] = ()
        super().__init__(**kwargs)
        for name in ("pos", "size"):
            self.fbind(name, self._lay)

    def show(self, facts: Sequence[Fact]) -> None:
        """Show these; the number of rows may change only with the layout."""
        self._facts = tuple(facts)
        if len(self.children) != len(facts):
            self.clear_widgets()
            for _ in facts:
                self.add_widget(FactRow())
            self._lay()
        for row, fact in zip(reversed(self.children), facts, strict=True):
            row.label, row.fact = fact.label, fact.text

    def _lay(self, *_args) -> None:
        narrow = sum(not fact.wide for fact in self._facts)
        half = (narrow + 1) // 2
        count = half + len(self._facts) - narrow
        if not count:
            return
        columns = edges(self.x, self.width, [1, 1], theme.smm(5))
        lines = edges(0, self.height, [1] * count, 0)
        seen = 0
        for number, (row, fact) in enumerate(zip(reversed(self.children), self._facts, strict=True)):
            if fact.wide:
                line, left, width = half + seen, self.x, self.width
                seen += 1
            else:
                line, (left, width) = number % half, columns[number // half]
            down, height = lines[line]
            row.size = width, height
            row.pos = left, round(self.y + self.height) - down - height
            row.label_width = columns[0][1] * LABEL_SHARE
