"""The Ride lane while there is no craft: what is seen, what it means, what to do."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kivy.properties import NumericProperty, StringProperty

from app.link_words import RATES, LinkWords, link_words
from screens import layouts, theme
from screens.page import Page
from screens.widgets.grid import Grid
from screens.widgets.key import Key
from screens.widgets.sign import Sign
from screens.widgets.writing import Paragraph

if TYPE_CHECKING:
    from app.board import Board
    from screens.actions import Actions

layouts.load(__file__)

INDENT = 1.35
"""Of the em, for the shape before a caution, as in screens.widgets.lines."""

__all__ = ["Grid", "LinkPage", "Paragraph", "Sign"]


class LinkPage(Page):
    """Words, and a row of keys where a person can help."""

    title = StringProperty("")
    meaning = StringProperty("")
    todo = StringProperty("")
    caution = StringProperty("")
    facts = StringProperty("")
    title_size = NumericProperty(10)
    say_size = NumericProperty(10)
    indent = NumericProperty(0)
    facts_size = NumericProperty(10)
    facts_low = NumericProperty(0)
    key_row = NumericProperty(0)
    row_share = NumericProperty(1)

    def __init__(self, actions: Actions, **kwargs):
        set_rate = actions.set_rate
        self._said: LinkWords | None = None
        super().__init__(**kwargs)
        self._rates = [
            Key(text=f"{rate // 1000}\nkbit/s", action=lambda rate=rate: set_rate(rate)) for rate in RATES
        ]
        self._again = Key(text="Another bit rate", action=lambda: set_rate(None))
        self.fbind("size", self._fit)

    def show(self, board: Board) -> None:
        """See Page."""
        said = link_words(board.moment)
        if said == self._said:
            return
        self.name = f"ride/{said.name}"
        if self._said is None or said.offer != self._said.offer:
            self._offer(said.offer)
        self._said = said
        self._fit()

    def words(self) -> list[str]:
        """See Page."""
        said = self._said
        return (
            []
            if said is None
            else [text for text in (said.title, said.meaning, said.todo, said.caution, said.facts) if text]
        )

    def _offer(self, offer: str) -> None:
        row: Grid = self.ids.row
        row.clear_widgets()
        keys = {"rates": self._rates, "again": [self._again]}.get(offer, [])
        for key in keys:
            row.add_widget(key)
        row.columns = [1] * max(1, len(keys))
        self.row_share = 1.0 if len(keys) > 1 else 0.4
        self.key_row = theme.mm(20) if keys else 0

    def _fit(self, *_args) -> None:
        """Choose the largest letters with which everything has room."""
        said = self._said
        if said is None:
            return
        room = self.width - 2 * theme.smm(3)
        self.title_size, self.title = theme.fit(said.title, room, theme.ems("title"), bold=True)
        beside = 0 < self.row_share < 1 and self.key_row > 0
        facts_room = room * (1 - self.row_share) - theme.mm(3) if beside else room
        self.facts_size = theme.em("note")
        unbroken = "\u00a0· ".join(fact.replace(" ", "\u00a0") for fact in said.facts.split(" · "))
        facts = theme.wrap(unbroken, facts_room, self.facts_size, bold=False) if said.facts else ()
        self.facts = "\n".join(facts)
        self.facts_low = theme.smm(1.5) if beside or not self.key_row else self.key_row + theme.mm(1.5)
        low = max(self.key_row, self.facts_low + len(facts) * theme.LINE * self.facts_size)
        gaps = theme.smm(7.5 if said.caution else 6.0)
        high = self.height - low - theme.LINE * self.title_size - gaps
        for size in theme.ems("say"):
            meaning = theme.wrap(said.meaning, room, size, bold=False)
            todo = theme.wrap(said.todo, room, size, bold=True)
            caution = theme.wrap(said.caution, room - INDENT * size, size, bold=False)
            if (len(meaning) + len(todo) + len(caution)) * size * theme.LINE <= high:
                break
        self.say_size, self.indent = size, INDENT * size
        self.meaning, self.todo, self.caution = ("\n".join(part) for part in (meaning, todo, caution))
