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
    """On the first page the next and, where given, what leads to more; later the next and Back.

    Where there is one page there is nothing to turn.

    Args:
        turn: turns by so many pages.
        more: what the key More on the first page does; None = there is no such key.
    """

    def __init__(self, turn: Callable[[int], None], more: Callable[[], None] | None = None, **kwargs):
        super().__init__(rows=[1], gap=theme.mm(3), inset=theme.mm(INSET_MM), **kwargs)
        self._back = Key(text="Back", action=lambda: turn(-1))
        self._next = Key(action=lambda: turn(1))
        self._more = None if more is None else Key(text="More", action=more)

    def show(self, number: int, total: int) -> None:
        """Stand on page ``number`` (from 1) of ``total``."""
        beside = self._back if number > 1 else self._more
        keys = (beside, self._next) if total > 1 else (self._more,)
        wanted = [key for key in keys if key is not None]
        if list(reversed(self.children)) != wanted:
            self.clear_widgets()
            for key in wanted:
                self.add_widget(key)
            self.columns = [1] * max(1, len(wanted))
        self._next.text = f"Page {number} / {total}" if len(wanted) == 1 else f"Page\n{number} / {total}"
