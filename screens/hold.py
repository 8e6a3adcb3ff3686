"""The page of an output that is armed or live: where the finger stays, and STOP TEST. The lanes give way."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kivy.properties import NumericProperty, StringProperty

from app import inhibit_words
from app.bench import Stage
from app.output_messages import Phase
from app.output_words import live_title, size_words
from screens import layouts, theme
from screens.page import Page
from screens.widgets.bar import Bar
from screens.widgets.hold import HoldTarget, StopKey
from screens.widgets.writing import Writing

if TYPE_CHECKING:
    from app.board import Board
    from screens.actions import Actions

layouts.load(__file__)

__all__ = ["Bar", "HoldPage", "HoldTarget", "StopKey", "Writing"]

STOPPED = "STOP TEST was touched."


class HoldPage(Page):
    """Full height."""

    name = "bench/hold"
    full = True
    title = StringProperty("")
    title_shown = StringProperty("")
    title_size = NumericProperty(10)
    size_text = StringProperty("")
    then = StringProperty("")

    def __init__(self, actions: Actions, **kwargs):
        self._actions = actions
        self._bench = actions.bench
        super().__init__(**kwargs)
        for name in ("title", "width"):
            self.fbind(name, self._fit)
        hold: HoldTarget = self.ids.hold
        hold.began = lambda: self._bench.pressed(actions.clock())
        hold.ended = self._bench.lifted
        self.ids.stop.began = lambda: self._bench.stop(STOPPED)

    def show(self, board: Board) -> None:
        """See Page."""
        del board
        bench, info = self._bench, self._bench.info
        if info is None:
            return
        armed = bench.stage is Stage.ARMED
        self.title = f"{info.label} is armed" if armed else live_title(info, bench.state)
        self.size_text = size_words(info)
        self.then = "Hold at the lower left. It ends when the finger lifts." if armed else ""
        inhibit = inhibit_words.is_inhibit(info)
        self.ids.bar.opacity = 0 if inhibit else 1  # of cranking nobody knows how far it has come
        if inhibit and armed:
            self.then = inhibit_words.ARMED
        elif inhibit:
            self.title, self.size_text = inhibit_words.asking(info, bench.state)
        self.ids.hold.text = "Hold here" if armed else "Keep\nholding" if bench.holding else "Lifted"

    def sweep(self, board: Board) -> None:
        """See Page."""
        del board
        state = self._bench.state
        live = self._bench.stage is Stage.HELD and state is not None and state.phase is not None
        shown = state.progress if live and state is not None and state.phase is not Phase.STARTING else 0.0
        self.ids.bar.share = min(1.0, shown)

    def words(self) -> list[str]:
        """See Page."""
        return [text for text in (self.title, self.size_text, self.then) if text]

    def _fit(self, *_args) -> None:
        room = self.width - 2 * theme.smm(3)
        self.title_size, self.title_shown = theme.fit(self.title, room, theme.ems("title"), bold=True)
