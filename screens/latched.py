"""Fuel or spark is held off while a person cranks: whether it holds, what to do, and the key that ends it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kivy.properties import BooleanProperty, ColorProperty, NumericProperty, StringProperty
from kivy.uix.widget import Widget

from app.inhibit_words import latched_words
from app.show import Look, tile
from screens import layouts, theme
from screens.colours import DAY
from screens.page import Page
from screens.widgets.grid import Grid
from screens.widgets.key import Key
from screens.widgets.lines import LineList
from screens.widgets.sign import Sign
from screens.widgets.value_tile import ValueTile
from screens.widgets.writing import Writing

if TYPE_CHECKING:
    from app.board import Board
    from app.moment import Moment
    from app.show import Tile
    from screens.actions import Actions

layouts.load(__file__)

__all__ = ["Grid", "Key", "LatchedPage", "LineList", "Sign", "StateBand", "ValueTile", "Writing"]

ASKED = "The key to give it back was touched."

ROLES = ("engine_speed", "battery")
"""Of the signals that stand on the page."""


class StateBand(Widget):
    """Two large lines with a drawn shape on the colour of their look."""

    title = StringProperty("")
    say = StringProperty("")
    shape = StringProperty("")
    title_shown = StringProperty("")
    say_shown = StringProperty("")
    title_size = NumericProperty(10)
    say_size = NumericProperty(10)
    ground = ColorProperty(DAY["paper"])
    ink = ColorProperty(DAY["ink"])

    def __init__(self, **kwargs):
        self._look = Look.GOOD
        super().__init__(size_hint=(None, None), **kwargs)
        for name in ("title", "say", "width"):
            self.fbind(name, self._fit)
        theme.paints.bind(paper=self._paint)
        self._paint()

    def wear(self, look: Look) -> None:
        """Take the look of a state; what holds has the shape of a need that is met."""
        self._look = look
        self._paint()

    def _paint(self, *_args) -> None:
        self.ground, self.ink = theme.ground_and_ink(self._look)
        self.shape = theme.SKINS[self._look].shape or "tick"

    def _fit(self, *_args) -> None:
        room = self.width - 3 * theme.smm(3) - theme.em("stop")
        self.title_size, self.title_shown = theme.fit(self.title, room, theme.ems("stop"), bold=True)
        room = self.width - 2 * theme.smm(3)
        self.say_size, self.say_shown = theme.fit(self.say, room, theme.ems("title"), bold=True)


class LatchedPage(Page):
    """Full height; nothing but its one key leads on, and that only once the engine has stood still."""

    name = "bench/latched"
    full = True
    keyed = BooleanProperty(False)

    def __init__(self, actions: Actions, **kwargs):
        self._bench = actions.bench
        super().__init__(**kwargs)
        self._key = Key(kind="title", action=lambda: self._bench.end(ASKED))
        self._cells = [ValueTile() for _ in ROLES]
        for cell in self._cells:
            self.ids.cells.add_widget(cell)

    def show(self, board: Board) -> None:
        """See Page."""
        latch, moment = self._bench.latch, board.moment
        if latch is None:
            return
        said = latched_words(self._bench.info, latch, moment.number("engine_speed"), moment.now)
        band: StateBand = self.ids.band
        band.wear(said.look)
        band.title, band.say = said.title, said.say
        self.ids.lines.show(said.lines)
        for role, cell in zip(ROLES, self._cells, strict=True):
            cell.show(_plain(moment, role))
        self._offer(said.key)

    def words(self) -> list[str]:
        """See Page."""
        return [self.ids.band.title, self.ids.band.say, *self.ids.lines.texts]

    def _offer(self, text: str) -> None:
        """The key keeps its place; once it was touched there is none, and the words take its room."""
        self._key.text = text or self._key.text
        if self.keyed is not bool(text):
            self.keyed = bool(text)
            place: Grid = self.ids.place
            place.clear_widgets()
            if text:
                place.add_widget(self._key)


def _plain(moment: Moment, role: str) -> Tile | None:
    """A signal that is not judged: limits are those of an engine that runs or rests, not of a starter."""
    signal = moment.role(role)
    info = None if signal is None else moment.info(signal)
    if info is None or signal is None:
        return None
    return tile(info, moment.value(signal), moment.quality(signal), moment.now, None)
