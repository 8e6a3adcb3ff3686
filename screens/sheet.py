"""A page of plain words: a title, rows, and at its foot at most four keys."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kivy.properties import BooleanProperty, NumericProperty, StringProperty
from kivy.uix.widget import Widget

from screens import layouts, theme
from screens.page import Page
from screens.widgets.grid import Grid
from screens.widgets.key import Key
from screens.widgets.lines import NOW, LineList
from screens.widgets.writing import Writing

if TYPE_CHECKING:
    from collections.abc import Sequence

    from app.output_words import Line

layouts.load(__file__)

KEYS = 4
"""Places for keys at the foot; a key keeps its place whatever the others do."""

__all__ = ["Grid", "LineList", "Sheet", "Writing"]


class Sheet(Page):
    """Fill it with ``fill``. Where not all rows have room, a place becomes the key for the next part.

    Attributes:
        title: the heading.
        loud: the heading stands white on the colour of alarm.
    """

    title = StringProperty("")
    loud = BooleanProperty(False)
    title_shown = StringProperty("")
    title_size = NumericProperty(10)

    def __init__(self, **kwargs):
        self._wanted: tuple[Key | None, ...] = ()
        self._keys: tuple[Key | None, ...] = ()
        self._lines: tuple[Line, ...] = ()
        self._part = 0
        super().__init__(**kwargs)
        self._more = Key(action=self._turn)
        for name in ("title", "width"):
            self.fbind(name, self._fit_title)
        self.ids.lines.fbind("size", self._again)

    def fill(self, title: str, lines: Sequence[Line], keys: Sequence[Key | None]) -> None:
        """Show this.

        Args:
            title: one line.
            lines: rows.
            keys: from the left; None keeps a place empty.
        """
        self.title = title
        lines, keys = tuple(lines), tuple(keys)
        self._wanted = keys
        new = _heads(lines) != _heads(self._lines)
        if new:
            self._part = 0
        self._lines = lines
        self.ids.lines.show(lines, self._part)
        if new and self.ids.lines.part_now is not None:
            self._part = self.ids.lines.part_now
            self.ids.lines.show(lines, self._part)
        if self.ids.lines.parts > 1:
            keys = self._with_more(keys)
            number = self._part % self.ids.lines.parts + 1
            self._more.text = f"More\n{number} / {self.ids.lines.parts}"
        if keys != self._keys:
            self._keys = keys
            self._put(keys)

    def _with_more(self, keys: tuple[Key | None, ...]) -> tuple[Key | None, ...]:
        """The key for the next part takes the last place that is empty, or the last of all."""
        places = (*keys, *[None] * KEYS)[:KEYS]
        at = max((number for number, key in enumerate(places) if key is None), default=KEYS - 1)
        return (*places[:at], self._more, *places[at + 1 :])

    def words(self) -> list[str]:
        """See Page."""
        return [self.title, *self.ids.lines.texts]

    def _turn(self) -> None:
        self._part += 1
        self._again()

    def _again(self, *_args) -> None:
        """The room for rows has changed, so perhaps the number of parts."""
        self.fill(self.title, self._lines, self._wanted)

    def _put(self, keys: tuple[Key | None, ...]) -> None:
        foot: Grid = self.ids.foot
        foot.clear_widgets()
        foot.columns = [1] * KEYS
        for key in (*keys, *[None] * KEYS)[:KEYS]:
            foot.add_widget(Widget() if key is None else key)

    def _fit_title(self, *_args) -> None:
        room = self.width - 2 * theme.smm(3)
        self.title_size, self.title_shown = theme.fit(self.title, room, theme.ems("title"), bold=True)


def _heads(lines: Sequence[Line]) -> list[tuple[str, bool]]:
    """What makes rows others, so that they are read from the first part; plain words and figures do not."""
    return [(line.strong, line.shape == NOW) for line in lines]
