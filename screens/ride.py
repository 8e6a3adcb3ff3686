"""The first page of the Ride lane: six big values."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kivy.properties import NumericProperty

from app.foreign import foreign_lines
from app.link_words import banner
from app.reading import Quality
from app.show import Look, figure, whose
from screens import layouts
from screens.page import Page
from screens.page_keys import PageKeys
from screens.widgets.arc import Arc
from screens.widgets.banner import Banner
from screens.widgets.grid import Grid
from screens.widgets.value_tile import ValueTile

if TYPE_CHECKING:
    from app.board import Board
    from app.messages import Limit, SignalInfo
    from app.show import Tile
    from screens.actions import Actions

layouts.load(__file__)

__all__ = ["Arc", "Banner", "Grid", "PageKeys", "RidePage", "ValueTile"]


class RidePage(Page):
    """The arc and five tiles."""

    foot = NumericProperty(0)

    def __init__(self, actions: Actions, **kwargs):
        super().__init__(**kwargs)
        self.name = "ride/1"
        self._cells = [ValueTile() for _ in range(5)]
        self._turning = PageKeys(actions.turn, more=lambda: actions.open("more"))
        for widget in (*self._cells, self._turning):
            self.ids.cells.add_widget(widget)

    def show(self, board: Board) -> None:
        """See Page."""
        first = board.pages[0].signals
        arc: Arc = self.ids.arc
        info = board.moment.info(first[0]) if first else None
        if info is not None:
            alarm = alarm_above(info)
            arc.scale(info.low, info.high, None if alarm is None else alarm.value)
            tile = board.tile(info.name)
            arc.show(tile, *_below(board, info, alarm, tile))
        for number, cell in enumerate(self._cells, 1):
            cell.show(board.tile(first[number]) if number < len(first) else None)
        self._turning.show(1, len(board.pages))
        self.ids.banner.text = banner(board.moment)

    def sweep(self, board: Board) -> None:
        """See Page."""
        signal = next(iter(board.pages[0].signals), "")
        value, good = board.moment.value(signal), board.moment.quality(signal) is Quality.GOOD
        number = value.value if good and value is not None and isinstance(value.value, int | float) else None
        self.ids.arc.sweep(number)

    def words(self) -> list[str]:
        """See Page."""
        arc: Arc = self.ids.arc
        return [text for text in (self.ids.banner.text, arc.foot, arc.note) if text]


def alarm_above(info: SignalInfo) -> Limit | None:
    """Where a signal's red band begins; None where there is no such limit."""
    above = [limit for limit in info.limits if limit.severity == "alarm" and limit.side == "above"]
    return min(above, key=lambda limit: limit.value, default=None)


def _below(board: Board, info: SignalInfo, alarm: Limit | None, tile: Tile) -> tuple[str, str]:
    """The two lines below the figure: the most seen and the limit, then whose limit it is."""
    parts = []
    if board.most is not None and info.name == board.moment.role("engine_speed"):
        parts.append(f"most {figure(board.most, info.decimals)}")
    if alarm is not None:
        parts.append(f"limit {figure(alarm.value, info.decimals)}")
    if tile.look in (Look.WATCH, Look.ALARM):
        note = tile.note
    elif alarm is None and foreign_lines(board.moment):
        note = "family limits do not apply"
    else:
        note = f"limit from {whose(alarm)}" if alarm is not None else ""
    return " · ".join(parts), note
