"""Who works with the tool now."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.bench_words import signed_in
from app.operators import OPERATORS
from app.output_words import Line as Words
from screens.sheet import Sheet
from screens.widgets.key import Key

if TYPE_CHECKING:
    from app.board import Board
    from app.operators import Operator
    from screens.actions import Actions


class PeoplePage(Sheet):
    """A key for each person, one for nobody, and the way back."""

    name = "people"

    def __init__(self, actions: Actions, **kwargs):
        self._actions = actions
        super().__init__(**kwargs)
        self._back = Key(text="Back", action=lambda: actions.open(""))
        self._choices = [
            (
                person,
                Key(text=f"{person.name}\n{person.role.value}", action=lambda who=person: self._choose(who)),
            )
            for person in OPERATORS
        ]
        self._nobody = Key(text="Nobody", action=lambda: self._choose(None))

    def show(self, board: Board) -> None:
        """See Page."""
        here = signed_in(board.moment)
        for person, key in self._choices:
            key.here = person == here
        lines = [
            Words("Reading needs nobody.", "Every name stands in the book beside what was done."),
            Words("Dock", "reads and checks."),
            Words("Technician", "also clears faults and fires outputs."),
        ]
        title = "Who works with it now?" if here is None else f"{here.name} works with it"
        self.fill(title, lines, [self._back, *(key for _, key in self._choices), self._nobody])

    def _choose(self, who: Operator | None) -> None:
        self._actions.sign_in(who)
        self._actions.open("")
