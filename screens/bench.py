"""The Bench lane: the outputs of this craft."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.bench_words import bench_words
from app.output_words import labels
from screens.key_grid import CELLS, KeyGrid
from screens.widgets.key import Key

if TYPE_CHECKING:
    from app.board import Board
    from screens.actions import Actions

PLACES = CELLS - 2
"""Outputs on one page: the last two cells of the grid hold the person and the page key."""


class BenchPage(KeyGrid):
    """A key for each output, who works, and the next page."""

    name = "bench/1"

    def __init__(self, actions: Actions, **kwargs):
        self._actions = actions
        self._part = 0
        self._keys: list[str] = []
        super().__init__(**kwargs)
        self._who = Key(action=lambda: actions.open("people"))
        self._next = Key(action=self._turn)

    def open(self, number: int) -> None:
        """See Page."""
        self._part = number - 1

    def show(self, board: Board) -> None:
        """See Page."""
        outputs = self._actions.bench.outputs
        words = bench_words(board.moment, outputs)
        self.title, self.note = words.title, words.note
        self._who.text = words.who
        keys = [info.key for info in outputs] if words.offer else []
        parts = max(1, -(-len(keys) // PLACES))
        self._part %= parts
        self._next.text = f"Page\n{self._part + 1} / {parts}"
        shown = [*keys[self._part * PLACES :][:PLACES], "next" if parts > 1 else ""]
        if shown != self._keys:
            self._keys = shown
            words_of = labels(outputs)
            self._put([(key, words_of[key]) for key in shown[:-1]], more=parts > 1)

    def _turn(self) -> None:
        self._part += 1

    def _put(self, outputs: list[tuple[str, str]], *, more: bool) -> None:
        cells = [Key(text=label, action=lambda key=key: self._choose(key)) for key, label in outputs]
        self.put([*cells, *[None] * (PLACES - len(cells)), self._who, self._next if more else None])

    def _choose(self, output: str) -> None:
        self._actions.bench.choose(output, self._actions.clock())
        self._actions.open("output")
