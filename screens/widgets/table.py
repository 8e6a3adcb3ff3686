"""Rows of four columns: words, two figures one below the other, and a unit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kivy.graphics import Color, InstructionGroup, Rectangle
from kivy.uix.widget import Widget

from screens import theme
from screens.widgets.edges import edges
from screens.widgets.writing import Writing

if TYPE_CHECKING:
    from collections.abc import Sequence

Row = tuple[str, ...]

COLUMNS = (46, 22, 22, 17)
"""Shares of the width."""

ANCHORS = ("left", "right", "right", "left")


class Table(Widget):
    """A heading and rows, each at its own height whatever the others hold.

    Attributes:
        texts: the rows now shown, the heading first.
    """

    def __init__(self, **kwargs):
        self._rows: list[Row] = []
        self._places = 1
        self.texts: list[str] = []
        super().__init__(**kwargs)
        self._rules = InstructionGroup()
        self.canvas.before.add(self._rules)
        self._cells: list[Writing] = []
        for name in ("pos", "size"):
            self.fbind(name, self._lay)
        theme.paints.bind(paper=self._lay)

    def show(self, head: Row, rows: Sequence[Row], places: int) -> None:
        """Show rows below a heading; there is room for so many ``places``."""
        wanted = [head, *rows]
        if (wanted, places) == (self._rows, self._places):
            return
        same = len(wanted) == len(self._rows) and places == self._places
        self._rows, self._places = wanted, places
        self.texts = [" ".join(filter(None, row)) for row in wanted]
        if same:
            self._write()
        else:
            self._lay()

    def _lay(self, *_args) -> None:
        while len(self._cells) < 4 * len(self._rows):
            self._cells.append(Writing())
            self.add_widget(self._cells[-1])
        for cell in self._cells[4 * len(self._rows) :]:
            cell.text = ""
        self._rules.clear()
        self._rules.add(Color(*theme.paints.ink))
        for number, (down, _height) in enumerate(self._lines()[: len(self._rows)]):
            if number:
                line = theme.mm(0.5 if number == 1 else 0.25)
                self._rules.add(Rectangle(pos=(self.x, round(self.top) - down), size=(self.width, line)))
        self._write()

    def _lines(self) -> list[tuple[int, int]]:
        return edges(0, self.height, [1] * (self._places + 1), 0)

    def _write(self) -> None:
        gap = theme.smm(1.6)
        columns = edges(self.x, self.width, list(COLUMNS), gap)
        lines = self._lines()
        sizes = theme.ems("say")
        cap, descent = theme.face.cap, theme.face.descent
        lowest = min(height for _, height in lines) - theme.mm(0.8)
        fits = [size for size in sizes if size * (cap + descent) <= lowest]
        for number, row in enumerate(self._rows):
            down, height = lines[number]
            for place, text in enumerate(row):
                cell, (left, width) = self._cells[4 * number + place], columns[place]
                bold = number == 0 or 0 < place < 3
                cell.bold, cell.color = bold, theme.paints.ink
                cell.font_size, cell.text = theme.fit(text, width, fits or sizes[-1:], bold=bold)
                cell.anchor = ANCHORS[place]
                cell.at = left + (width if cell.anchor == "right" else 0)
                air = (height - (cap + descent) * cell.font_size) / 2
                cell.baseline = round(self.top) - down - air - cap * cell.font_size
