"""The last minute of up to four values, one strip below the other, each with its own scale."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kivy.properties import BooleanProperty, NumericProperty

from app.choices import FOUR
from app.link_words import banner
from app.show import figure
from screens import layouts, theme
from screens.page import Page
from screens.widgets.banner import Banner
from screens.widgets.edges import edges
from screens.widgets.grid import Grid
from screens.widgets.key import Key
from screens.widgets.strip_chart import StripChart
from screens.widgets.value_tile import ValueTile
from screens.widgets.writing import Writing

if TYPE_CHECKING:
    from app.board import Board
    from screens.actions import Actions

layouts.load(__file__)

__all__ = ["Banner", "ChartPage", "Grid", "Writing"]

TILE_SHARE = 0.36
"""Of the width of a strip, for the value as it is now."""


class ChartPage(Page):
    """Four strips; what is chosen stays in its place whether its values come or not.

    Attributes:
        empty: nothing is chosen.
        keys_wide: pixels at the right that the keys take.
    """

    name = "ride/chart"
    empty = BooleanProperty(False)
    keys_wide = NumericProperty(0)

    def __init__(self, actions: Actions, **kwargs):
        super().__init__(**kwargs)
        self.keys_wide = theme.mm(22.6)
        self._tiles = [ValueTile(size_hint=(None, None)) for _ in range(FOUR)]
        self._strips = [StripChart(size_hint=(None, None)) for _ in range(FOUR)]
        self._count = 0
        for widget in (*self._tiles, *self._strips):
            self.ids.strips.add_widget(widget)
        for text, leads_to in (("Back", "more"), ("Choose", "choose_chart")):
            self.ids.doors.add_widget(Key(text=text, action=lambda to=leads_to: actions.open(to)))
        self.ids.strips.bind(pos=self._lay, size=self._lay)

    def show(self, board: Board) -> None:
        """See Page."""
        names = board.lines()
        self.empty = not names
        if len(names) != self._count:
            self._count = len(names)
            self._lay()
        for number, (tile, strip) in enumerate(zip(self._tiles, self._strips, strict=True)):
            info = board.moment.info(names[number]) if number < len(names) else None
            tile.show(None if info is None else board.tile(info.name))
            if info is None or info.low is None or info.high is None:
                strip.clear()
                continue
            ends = (figure(end, 0).replace("-", "−") for end in (info.low, info.high))
            strip.scale(info.low, info.high, *ends)
            strip.show(board.trend.track(info.name), board.trend.slot)
        self.ids.banner.text = banner(board.moment)

    def words(self) -> list[str]:
        """See Page."""
        return [text for text in (self.ids.banner.text or "60 s ago, now", self.ids.hint.text) if text]

    def _lay(self, *_args) -> None:
        strips = self.ids.strips
        rows = edges(0, strips.height, [1] * max(1, self._count), theme.mm(0.35))
        split = round(strips.width * TILE_SHARE)
        for number, (tile, strip) in enumerate(zip(self._tiles, self._strips, strict=True)):
            down, height = rows[number] if number < self._count else (0, 0)
            bottom = round(strips.top) - down - height
            tile.pos, tile.size = (strips.x, bottom), (split, height)
            strip.pos = (strips.x + split, bottom)
            strip.size = (strips.width - split, height)
