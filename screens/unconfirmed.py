"""Over everything: an output was not confirmed stopped."""

from __future__ import annotations

from typing import TYPE_CHECKING

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
        label = info.label if info is not None else "The output"
        self.fill("NOT CONFIRMED STOPPED", unconfirmed_lines(label), [None, None, None, self._seen])
