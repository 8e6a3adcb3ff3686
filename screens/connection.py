"""The Check lane: the connection as plain facts, for a technician."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.facts import connection_facts
from app.raw_words import has_raw
from screens import layouts
from screens.page import Page
from screens.widgets.grid import Grid
from screens.widgets.key import Key
from screens.widgets.rows import Rows
from screens.widgets.writing import Writing

if TYPE_CHECKING:
    from app.board import Board
    from app.facts import Fact
    from screens.actions import Actions

layouts.load(__file__)

__all__ = ["ConnectionPage", "Grid", "Rows", "Writing"]


class ConnectionPage(Page):
    """Rows of facts, the way back to the faults, and on to identity and hours."""

    name = "check/connection"

    def __init__(self, actions: Actions, **kwargs):
        self._facts: tuple[Fact, ...] = ()
        super().__init__(**kwargs)
        self.ids.foot.add_widget(Key(text="Faults", action=lambda: actions.open("")))
        self.ids.foot.add_widget(Key(text="Identity", action=lambda: actions.open("identity")))
        self.ids.foot.add_widget(Key(text="Hours", action=lambda: actions.open("hours")))
        self._raw = Key(text="Raw\nframes", action=lambda: actions.open("raw"))

    def show(self, board: Board) -> None:
        """See Page."""
        self._facts = connection_facts(board.moment)
        self.ids.rows.show(self._facts)
        foot = self.ids.foot
        if has_raw(board.moment) and self._raw.parent is None:
            foot.add_widget(self._raw)
        elif not has_raw(board.moment) and self._raw.parent is not None:
            foot.remove_widget(self._raw)

    def words(self) -> list[str]:
        """See Page."""
        return ["Connection", *(f"{fact.label}: {fact.text}" for fact in self._facts)]
