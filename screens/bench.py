"""The Bench lane: the outputs of this craft."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kivy.properties import NumericProperty, StringProperty
from kivy.uix.widget import Widget

from app.bench_words import bench_words
from app.output_words import labels
from screens import layouts, theme
from screens.page import Page
from screens.widgets.grid import Grid
from screens.widgets.key import Key
from screens.widgets.writing import Writing

if TYPE_CHECKING:
    from app.board import Board
    from screens.actions import Actions

layouts.load(__file__)

__all__ = ["BenchPage", "Grid", "Writing"]

CELLS = 8
PLACES = CELLS - 2
"""Outputs on one page: the last two cells of the grid hold the person and the page key."""


class BenchPage(Page):
    """A key for each output, who works, and the next page."""

    name = "bench/1"
    title = StringProperty("")
    note = StringProperty("")
    note_shown = StringProperty("")
    note_size = NumericProperty(10)

    def __init__(self, actions: Actions, **kwargs):
        self._actions = actions
        self._part = 0
        self._keys: list[str] = []
        self._said: list[str] = []
        super().__init__(**kwargs)
        self._who = Key(action=lambda: actions.open("people"))
        self._next = Key(action=self._turn)
        for name in ("note", "width"):
            self.fbind(name, self._fit)

    def open(self, number: int) -> None:
        """See Page."""
        self._part = number - 1

    def show(self, board: Board) -> None:
        """See Page."""
        outputs = self._actions.bench.outputs
        words = bench_words(board.moment, outputs)
        self.title, self.note = words.title, words.note
        self._said = [text for text in (words.title, words.note) if text]
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

    def words(self) -> list[str]:
        """See Page."""
        return self._said

    def _turn(self) -> None:
        self._part += 1

    def _put(self, outputs: list[tuple[str, str]], *, more: bool) -> None:
        grid: Grid = self.ids.grid
        grid.clear_widgets()
        cells: list[Widget] = [
            Key(text=label, action=lambda key=key: self._choose(key)) for key, label in outputs
        ]
        cells += [Widget() for _ in range(PLACES - len(cells))]
        for cell in (*cells, self._who, self._next if more else Widget()):
            grid.add_widget(cell)

    def _choose(self, output: str) -> None:
        self._actions.bench.choose(output, self._actions.clock())
        self._actions.open("output")

    def _fit(self, *_args) -> None:
        room = self.width - 2 * theme.smm(3)
        sizes = theme.ems("text") + theme.ems("note")
        self.note_size, self.note_shown = theme.fit(self.note, room, sizes, bold=False)
