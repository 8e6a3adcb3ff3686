"""Bars of shares, one below the other, each with a grey one behind it to compare with."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kivy.graphics import Color, InstructionGroup, Rectangle
from kivy.uix.widget import Widget

from screens import theme
from screens.widgets.writing import Writing

if TYPE_CHECKING:
    from collections.abc import Sequence

    from app.hours_words import BandRow


class BandBars(Widget):
    """Shows rows: words at the left, the bars, figures at the right; the longest bar fills its room."""

    def __init__(self, **kwargs):
        self._rows: tuple[BandRow, ...] = ()
        super().__init__(**kwargs)
        self._drawn = InstructionGroup()
        self.canvas.before.add(self._drawn)
        for name in ("pos", "size"):
            self.fbind(name, self._lay)
        theme.paints.bind(paper=self._lay)

    def show(self, rows: Sequence[BandRow]) -> None:
        """Show these."""
        if tuple(rows) != self._rows:
            self._rows = tuple(rows)
            self._lay()

    def _lay(self, *_args) -> None:
        self.clear_widgets()
        self._drawn.clear()
        if not self._rows:
            return
        high = self.height / len(self._rows)
        sizes = theme.ems("text") + theme.ems("note")
        size = next((size for size in sizes if theme.LINE * size <= high), sizes[-1])
        left = max(theme.width_of(row.label, size, False) for row in self._rows) + theme.smm(2)
        right = max(theme.width_of(row.text, size, True) for row in self._rows) + theme.smm(2)
        room = max(0.0, self.width - left - right)
        most = max((max(row.share, row.cycle) for row in self._rows), default=0.0) or 1.0
        for number, row in enumerate(self._rows):
            bottom = self.top - (number + 1) * high
            for share, paint, part in (
                (row.cycle, theme.paints.hatch, 0.86),
                (row.share, theme.paints.ink, 0.42),
            ):
                tall = round(high * part)
                self._drawn.add(Color(*paint))
                self._drawn.add(
                    Rectangle(
                        pos=(round(self.x + left), round(bottom + (high - tall) / 2)),
                        size=(room * share / most, tall),
                    )
                )
            baseline = round(bottom + (high - theme.face.cap * size) / 2)
            self._write(row.label, self.x, baseline, size, "left", bold=False)
            self._write(row.text, self.right, baseline, size, "right", bold=True)

    def _write(self, text: str, at: float, baseline: int, size: int, anchor: str, *, bold: bool) -> None:
        self.add_widget(
            Writing(
                text=text,
                at=at,
                baseline=baseline,
                anchor=anchor,
                font_size=size,
                bold=bold,
                color=theme.paints.ink,
            )
        )
