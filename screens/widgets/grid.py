"""Cells in rows and columns whose edges fall on whole pixels."""

from __future__ import annotations

from itertools import pairwise

from kivy.graphics import Color, InstructionGroup, Rectangle
from kivy.properties import BooleanProperty, ListProperty, NumericProperty
from kivy.uix.layout import Layout

from screens.theme import paints
from screens.widgets.edges import edges


class Grid(Layout):
    """Children fill the cells from the top left, row by row.

    ``foot`` > 0 fixes the height of the last row in pixels whatever the height of the others, so that keys
    standing in it stay where they are. ``inset`` is kept free all round. ``ruled`` draws a rule in every gap.
    """

    columns = ListProperty([1])
    rows = ListProperty([1])
    gap = NumericProperty(0)
    inset = NumericProperty(0)
    ruled = BooleanProperty(False)
    foot = NumericProperty(0)

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        self._rules = InstructionGroup()
        self.canvas.before.add(self._rules)
        trigger = self._trigger_layout
        paints.fbind("ink", trigger)
        for name in ("pos", "size", "children", "columns", "rows", "gap", "foot", "inset", "ruled"):
            self.fbind(name, trigger)

    def do_layout(self, *_args) -> None:
        """Place every child."""
        if not self.columns or not self.rows:
            return
        inset = self.inset
        columns = edges(self.x + inset, self.width - 2 * inset, self.columns, self.gap)
        if self.foot and len(self.rows) > 1:
            upper = edges(0, self.height - self.foot - self.gap, self.rows[:-1], self.gap)
            rows = [*upper, (round(self.height - self.foot), round(self.foot))]
        else:
            rows = edges(inset, self.height - 2 * inset, self.rows, self.gap)
        self._rule(columns, rows)
        for number, child in enumerate(reversed(self.children)):
            row, column = divmod(number, len(columns))
            if row >= len(rows):
                return
            left, width = columns[column]
            down, height = rows[row]
            child.size = width, height
            child.pos = left, round(self.top) - down - height

    def _rule(self, columns: list[tuple[int, int]], rows: list[tuple[int, int]]) -> None:
        self._rules.clear()
        if not self.ruled:
            return
        self._rules.add(Color(*paints.ink))
        for (left, width), (following, _) in pairwise(columns):
            size = following - left - width, self.height
            self._rules.add(Rectangle(pos=(left + width, self.y), size=size))
        for (down, height), (following, _) in pairwise(rows):
            size = self.width, following - down - height
            self._rules.add(Rectangle(pos=(self.x, round(self.top) - following), size=size))
