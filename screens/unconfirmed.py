"""Over everything: an output was not confirmed stopped."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app import inhibit_words
from app.output_words import unconfirmed_lines
from screens.sheet import Sheet
from screens.widgets.key import Key

if TYPE_CHECKING:
    from app.board import Board
    from screens.actions import Actions


class UnconfirmedPage(Sheet):
    """Stays until somebody says they have seen it; outputs stay locked for longer."""

    name = "bench/unconfirmed"
    full = True

    def __init__(self, actions: Actions, **kwargs):
        self._actions = actions
        super().__init__(loud=True, **kwargs)
        self._seen = Key(text="I have\ndone that", action=actions.bench.seen)

    def show(self, board: Board) -> None:
        """See Page."""
        del board
        info = self._actions.bench.info
        title = "NOT CONFIRMED STOPPED"
        lines = unconfirmed_lines("The output" if info is None else info.label)
        if info is not None and inhibit_words.is_inhibit(info):
            title, lines = "NOT CONFIRMED GIVEN BACK", inhibit_words.unconfirmed_lines(info)
        self.fill(title, lines, [None, None, None, self._seen])
