"""An alarm over the whole glass, until somebody has touched that they saw it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kivy.properties import ColorProperty, NumericProperty, StringProperty

from app.ride_words import alarm_page
from app.show import Look
from screens import layouts, theme
from screens.colours import DAY
from screens.page import Page
from screens.widgets.key import Key
from screens.widgets.sign import Sign
from screens.widgets.value_tile import BigTile
from screens.widgets.writing import Writing

if TYPE_CHECKING:
    from app.alarms import Alarm
    from app.board import Board
    from screens.actions import Actions

layouts.load(__file__)

__all__ = ["AlarmPage", "BigTile", "Key", "Sign", "Writing"]


class AlarmPage(Page):
    """The value, what to do at once, whose limit it is; the lower half is the key."""

    name = "ride/alarm"
    full = True
    foot = NumericProperty(0)
    do = StringProperty("")
    do_size = NumericProperty(10)
    limit = StringProperty("")
    limit_size = NumericProperty(10)
    ground = ColorProperty(DAY["alarm"])
    ink = ColorProperty(DAY["alarm_ink"])

    def __init__(self, actions: Actions, **kwargs):
        self._seen = actions.seen
        self._alarm: Alarm | None = None
        self._said: list[str] = []
        self._look = Look.ALARM
        super().__init__(**kwargs)
        self.ids.seen.action = self._see
        self.fbind("width", self._fit)
        theme.paints.bind(paper=self._paint)

    def show(self, board: Board) -> None:
        """See Page."""
        unseen = board.raised.unseen
        if not unseen:
            return
        self._alarm = unseen[0]
        words = alarm_page(unseen, board)
        self.topic = f"{self._alarm.info.name} {self._alarm.raised_at}"
        self._look = words.tile.look
        self._paint()
        self.ids.value.show(words.tile)
        self.ids.seen.text = words.key
        said = [words.do, words.limit]
        if said != self._said:
            self._said = said
            self._fit()

    def words(self) -> list[str]:
        """See Page."""
        return [text for text in self._said if text]

    def _paint(self, *_args) -> None:
        self.ground, self.ink = theme.ground_and_ink(self._look)

    def _see(self) -> None:
        if self._alarm is not None:
            self._seen(self._alarm)

    def _fit(self, *_args) -> None:
        if not self._said:
            return
        room = self.width - 2 * theme.smm(4)
        do, limit = self._said
        self.do_size, self.do = theme.fit(do, room, theme.ems("ride_words"), bold=True)
        self.limit_size, self.limit = theme.fit(limit, room, theme.ems("say"), bold=False)
