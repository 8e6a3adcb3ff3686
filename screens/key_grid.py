"""A page of keys: a heading, one line below it, and two rows of four."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kivy.properties import NumericProperty, StringProperty
from kivy.uix.widget import Widget

from screens import layouts, theme
from screens.page import Page
from screens.widgets.grid import Grid
from screens.widgets.writing import Writing

if TYPE_CHECKING:
    from collections.abc import Sequence

layouts.load(__file__)

__all__ = ["CELLS", "Grid", "KeyGrid", "Writing"]

CELLS = 8
"""Places for keys."""


class KeyGrid(Page):
    """Fill its places with ``put``.

    Attributes:
        title: the heading.
        note: one line below it.
    """

    title = StringProperty("")
    note = StringProperty("")
    note_shown = StringProperty("")
    note_size = NumericProperty(10)

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        for name in ("note", "width"):
            self.fbind(name, self._fit)

    def put(self, cells: Sequence[Widget | None]) -> None:
        """Fill the places row by row; None keeps one empty."""
        grid: Grid = self.ids.grid
        grid.clear_widgets()
        for cell in (*cells, *[None] * CELLS)[:CELLS]:
            grid.add_widget(Widget() if cell is None else cell)

    def words(self) -> list[str]:
        """See Page."""
        return [text for text in (self.title, self.note) if text]

    def _fit(self, *_args) -> None:
        room = self.width - 2 * theme.smm(3)
        sizes = theme.ems("text") + theme.ems("note")
        self.note_size, self.note_shown = theme.fit(self.note, room, sizes, bold=False)
