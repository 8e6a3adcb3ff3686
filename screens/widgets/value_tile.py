"""One signal: label, figure with unit, or the words that stand in its place."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from kivy.properties import NumericProperty

from screens import layouts, theme
from screens.widgets.sign import Sign
from screens.widgets.worn import Worn
from screens.widgets.writing import Writing

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from app.show import Tile

layouts.load(__file__)

__all__ = ["Sign", "ValueTile", "Writing"]


KINDS = ("label", "figure", "words", "unit", "note")


class ValueTile(Worn):
    """Shows one app.show.Tile; ``tile`` is the one it shows, None while the cell is empty."""

    kinds: ClassVar[Mapping[str, str]] = {}
    """Other kinds of letters than those of theme.TYPE with the same name."""

    label_em = NumericProperty(0)
    unit_em = NumericProperty(0)
    label_line = NumericProperty(0)
    main_line = NumericProperty(0)
    note_line = NumericProperty(0)
    unit_at = NumericProperty(0)

    def __init__(self, **kwargs):
        self.tile: Tile | None = None
        super().__init__(**kwargs)
        self._sizes = {name: theme.ems(self.kinds.get(name, name)) for name in KINDS}
        self.label_em, self.unit_em = self._sizes["label"][0], self._sizes["unit"][0]
        self.fbind("size", self._fit)
        theme.paints.bind(paper=self._paint)
        self._paint()  # an empty one made at night is dark too

    def show(self, tile: Tile | None) -> None:
        """Show this; nothing is assigned when it is shown already."""
        if tile == self.tile:
            return
        self.tile = tile
        self._paint()
        self._fit()

    def _paint(self, *_args) -> None:
        if self.tile is None:
            self.ground, self.shape, self.hatched = theme.paints.paper, "", False
            return
        self.wear(self.tile)

    def _fit(self, *_args) -> None:
        tile = self.tile
        if tile is None:
            self.label = self.main = self.unit = self.note = ""
            return
        room = self.width - 2 * theme.smm(2.2)
        self._fit_label(tile, room)
        self._fit_main(tile, room)

    def _fit_label(self, tile: Tile, room: float) -> None:
        head = f"{tile.label} · {tile.word}" if tile.word else tile.label
        beside = self.label_em * 0.8 + theme.smm(0.9) if self.shape else 0
        self.label_size, self.label = theme.fit(head, room - beside, self._sizes["label"], bold=False)
        self.label_line = theme.smm(1.4) + theme.face.cap * self.label_em

    def _fit_main(self, tile: Tile, room: float) -> None:
        """Choose the largest figure that has room, with the note below it if there is room for both."""
        cap, descent = theme.face.cap, theme.face.descent
        words = not tile.figure or tile.note == "out of range"
        below = self.label_line + descent * self.label_em + theme.smm(0.6)
        high = self.height - below - theme.smm(0.9)
        sizes = self._sizes["words" if words else "figure"]
        self.note_size, note = theme.fit(tile.note, room, self._sizes["note"], bold=False)
        notes = [size for size in self._sizes["note"] if size <= self.note_size] if note else []
        main_size, self.note_size, block = _block(sizes, notes, high, words=words)
        if not self.note_size:
            note = ""
        unit_wide = theme.width_of(tile.unit, self.unit_em, False) + theme.smm(1.2) if tile.unit else 0
        smaller = [size for size in sizes if size <= main_size]
        self.main_size, main = theme.fit(_drawn(tile), room - unit_wide, smaller, bold=True)
        spare = max(0.0, high - block)
        air = min(spare * 0.35, theme.smm(2.4))
        self.main_line = below + air + cap * main_size
        self.note_line = self.main_line + block - cap * main_size - descent * self.note_size + air
        self.unit_at = theme.smm(1.2) + theme.width_of(main, self.main_size, True)
        self.main, self.unit, self.note = main, tile.unit, note


def _block(sizes: Sequence[int], notes: Sequence[int], high: float, *, words: bool) -> tuple[int, int, float]:
    """Find the largest letters with which the figure, and a note below it, are no higher than ``high``.

    Words always keep their note if any size allows it; a figure shrinks only so far for it.

    Returns:
        Size of the figure, size of the note (0 = left out), height of both.
    """
    cap, descent = theme.face.cap, theme.face.descent
    tail = descent if words else 0
    for size in (sizes if words else sizes[1:3]) if notes else ():
        for note in notes:
            block = size * (cap + tail) + theme.smm(0.7) + note * (cap + descent)
            if block <= high:
                return size, note, block
    air = theme.smm(0.9)
    size = next((size for size in sizes if size * (cap + tail) + air <= high), sizes[-1])
    return size, 0, size * (cap + tail)


def _drawn(tile: Tile) -> str:
    """A figure with a true minus sign, which is seen better than a hyphen."""
    return tile.main.replace("-", "−") if tile.figure else tile.main


class BigTile(ValueTile):
    """One of the few values that are read while riding."""

    kinds: ClassVar[Mapping[str, str]] = {
        "label": "ride_label",
        "figure": "ride",
        "words": "ride_words",
        "unit": "ride_unit",
        "note": "ride_note",
    }
