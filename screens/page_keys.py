"""The cell with the keys that turn pages: always at the lower right."""

from __future__ import annotations

from typing import TYPE_CHECKING

from screens import theme
from screens.widgets.grid import Grid
from screens.widgets.key import Key

if TYPE_CHECKING:
    from collections.abc import Callable

INSET_MM = 0.6
"""Between a key and the rules round its cell."""

CELL_MM = 21.6
"""Height the cell needs at least: a key of 20 mm and its insets, each rounded up to whole pixels."""


class PageKeys(Grid):
    """On the first page one key over the whole cell, later Back beside it; none if there is one page."""

    def __init__(self, turn: Callable[[int], None], **kwargs):
        super().__init__(rows=[1], gap=theme.mm(3), inset=theme.mm(INSET_MM), **kwargs)
        self._back = Key(text="Back", action=lambda: turn(-1))
        self._next = Key(action=lambda: turn(1))

    def show(self, number: int, total: int) -> None:
        """Stand on page ``number`` (from 1) of ``total``."""
        wanted = [] if total < 2 else [self._next] if number == 1 else [self._back, self._next]
        if list(reversed(self.children)) != wanted:
            self.clear_widgets()
            for key in wanted:
                self.add_widget(key)
            self.columns = [1] * max(1, len(wanted))
        self._next.text = f"Page {number} / {total}" if number == 1 else f"Page\n{number} / {total}"
