"""Running on the trailer: is there water, the order of flushing, and a count where there is none."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kivy.properties import BooleanProperty, ColorProperty, NumericProperty, StringProperty

from app.show import Look, Tile
from app.trailer import BY_ENGINE, State, Water
from app.trailer_words import count, sheet
from screens import layouts, theme
from screens.colours import DAY
from screens.page import Page
from screens.sheet import Sheet
from screens.widgets.bar import Bar
from screens.widgets.grid import Grid
from screens.widgets.key import Key
from screens.widgets.value_tile import BigTile
from screens.widgets.writing import Writing

if TYPE_CHECKING:
    from app.board import Board
    from screens.actions import Actions
    from screens.widgets.arc import Arc
    from screens.widgets.value_tile import ValueTile

layouts.load(__file__)

__all__ = ["Bar", "BigTile", "DryPage", "Grid", "TrailerPage", "Writing"]


class TrailerPage(Sheet):
    """Words and keys while nothing is counted down."""

    name = "ride/trailer"

    def __init__(self, actions: Actions, **kwargs):
        self._trailer, self._clock = actions.trailer, actions.clock
        super().__init__(**kwargs)
        self._back = Key(text="Back", action=lambda: actions.open("more"))
        self._none = Key(text="No\nwater", action=lambda: self._trailer.say(Water.NONE))
        self._hose = Key(text="Hose", action=lambda: self._trailer.say(Water.HOSE))
        self._step = Key(text="Step\ndone", action=self._trailer.step_done)
        self._done = Key(text="In the\nwater again", action=lambda: self._trailer.say(None))

    def show(self, board: Board) -> None:
        """See Page."""
        del board
        trailer = self._trailer
        title, lines = sheet(trailer, self._clock())
        keys: list[Key | None]
        if trailer.water is None:
            keys = [self._back, self._none, self._hose]
        elif trailer.water is Water.NONE:
            keys = [self._back, self._done, self._hose]
        else:
            keys = [self._back, self._done, None, None if trailer.flush in BY_ENGINE else self._step]
        self.fill(title, lines, keys)


class DryPage(Page):
    """Seconds that are left, as large as there is room; a key only where nobody can see the engine stop."""

    name = "ride/dry"
    full = True
    asks = BooleanProperty(False)
    say = StringProperty("")
    say_size = NumericProperty(10)
    note = StringProperty("")
    note_size = NumericProperty(10)
    ground = ColorProperty(DAY["paper"])
    ink = ColorProperty(DAY["ink"])

    def __init__(self, actions: Actions, **kwargs):
        self._trailer = actions.trailer
        self._said = ("", "")
        self._look = Look.GOOD
        super().__init__(**kwargs)
        self._stands = Key(
            text="It stands\nstill", kind="title", action=lambda: self._trailer.stands(actions.clock())
        )
        self.fbind("width", self._fit)
        theme.paints.bind(paper=self._paint)

    def show(self, board: Board) -> None:
        """See Page."""
        del board
        said = count(self._trailer)
        self._look = said.look
        self._paint()
        self.ids.value.show(Tile("", said.label, "", said.figure, "s", "", said.look, figure=True))
        asks = self._trailer.state is State.UNKNOWN
        if asks is not self.asks:
            self.asks, self.topic = asks, "only a person knows" if asks else ""
            self.ids.place.clear_widgets()
            if asks:
                self.ids.place.add_widget(self._stands)
        if (said.say, said.note) != self._said:
            self._said = said.say, said.note
            self._fit()

    def sweep(self, board: Board) -> None:
        """See Page."""
        del board
        self.ids.bar.share = count(self._trailer).share

    def words(self) -> list[str]:
        """See Page."""
        return [text for text in self._said if text]

    def _paint(self, *_args) -> None:
        self.ground, self.ink = theme.ground_and_ink(self._look)

    def tiles(self) -> list[ValueTile | Arc]:
        """See Page; the seconds are no signal."""
        return []

    def _fit(self, *_args) -> None:
        room = self.width - 2 * theme.smm(4)
        self.say_size, self.say = theme.fit(self._said[0], room, theme.ems("ride_key"), bold=True)
        self.note_size, self.note = theme.fit(self._said[1], room, theme.ems("say"), bold=False)
