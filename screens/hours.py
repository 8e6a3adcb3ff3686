"""Hours by engine speed: bars beside those of a published duty cycle."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kivy.properties import NumericProperty, StringProperty

from app.book_words import craft_of
from app.hours import bands_of
from app.hours_words import HoursWords, hours_words
from app.visits import last_visit
from screens import layouts, theme
from screens.page import Page
from screens.widgets.band_bars import BandBars
from screens.widgets.grid import Grid
from screens.widgets.key import Key
from screens.widgets.writing import Paragraph, Writing

if TYPE_CHECKING:
    from app.board import Board
    from app.entry import Entry
    from app.hours import Band
    from screens.actions import Actions

layouts.load(__file__)

__all__ = ["BandBars", "Grid", "HoursPage", "Paragraph", "Writing"]


class HoursPage(Page):
    """Of the craft that is plugged in, as they were read with its faults."""

    name = "check/hours"
    title = StringProperty("")
    title_size = NumericProperty(10)
    say = StringProperty("")
    note = StringProperty("")
    say_size = NumericProperty(10)

    def __init__(self, actions: Actions, **kwargs):
        self._said = HoursWords("", [], "")
        self._keeper = actions.keeper
        self._entries: tuple[Entry, ...] = ()
        self._before: list[Band] = []
        super().__init__(**kwargs)
        self.ids.foot.add_widget(Key(text="Back", action=lambda: actions.open("connection")))
        self.fbind("size", self._fit)

    def show(self, board: Board) -> None:
        """See Page."""
        if self._keeper is not None and (entries := self._keeper.of(craft_of(board.moment))) != self._entries:
            self._entries, self._before = entries, last_visit(entries, bands_of)
        said = hours_words(board.moment, self._before)
        if said != self._said:
            self._said = said
            self.ids.bars.show(said.rows)
            self._fit()

    def words(self) -> list[str]:
        """See Page."""
        rows = [f"{row.label}: {row.text}" for row in self._said.rows]
        return [text for text in (self._said.title, *rows, self._said.say, self._said.note) if text]

    def _fit(self, *_args) -> None:
        """The largest letters with which what is said has room beside the key."""
        room = self.width - 2 * theme.smm(3)
        self.title_size, self.title = theme.fit(self._said.title, room, theme.ems("title"), bold=True)
        beside = (self.width - theme.mm(15)) * 0.75
        for size in theme.ems("say") + theme.ems("note"):
            say = theme.wrap(self._said.say, beside, size, bold=True)
            note = theme.wrap(self._said.note, beside, size, bold=False) if self._said.note else ()
            if (len(say) + len(note)) * size * theme.LINE <= theme.mm(18.5):
                break
        self.say_size, self.say, self.note = size, "\n".join(say), "\n".join(note)
