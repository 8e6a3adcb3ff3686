"""Cells in rows and columns whose edges fall on whole pixels."""

from __future__ import annotations

from itertools import accumulate

from kivy.properties import ListProperty, NumericProperty
from kivy.uix.layout import Layout


def edges(start: float, length: float, shares: list[float], gap: float) -> list[tuple[int, int]]:
    """Cut a length into shares with gaps between.

    Returns:
        (where it begins, how long it is) of every share, in whole pixels.
    """
    room = length - gap * (len(shares) - 1)
    ends = [room * part / sum(shares) for part in accumulate(shares)]
    result = []
    begin = 0.0
    for number, end in enumerate(ends):
        low, high = round(start + begin + gap * number), round(start + end + gap * number)
        result.append((low, high - low))
        begin = end
    return result


class Grid(Layout):
    """Children fill the cells from the top left, row by row.

    ``foot`` > 0 fixes the height of the last row in pixels whatever the height of the others, so that keys
    standing in it stay where they are. ``inset`` is kept free all round.
    """

    columns = ListProperty([1])
    rows = ListProperty([1])
    gap = NumericProperty(0)
    inset = NumericProperty(0)
    foot = NumericProperty(0)

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        trigger = self._trigger_layout
        for name in ("pos", "size", "children", "columns", "rows", "gap", "foot", "inset"):
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
        for number, child in enumerate(reversed(self.children)):
            row, column = divmod(number, len(columns))
            if row >= len(rows):
                return
            left, width = columns[column]
            down, height = rows[row]
            child.size = width, height
            child.pos = left, round(self.top) - down - height
