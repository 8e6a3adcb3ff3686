"""Rows of a check: a drawn shape, what was seen in bold, below it the limit and what to do."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import msgspec
from kivy.graphics import Rectangle
from kivy.uix.widget import Widget

from screens import theme
from screens.widgets.lines import Pen, Written

if TYPE_CHECKING:
    from collections.abc import Sequence

    from app.quick_words import RowWords

SIZES = ((5.0, 4.2), (4.6, 3.9), (4.3, 3.6), (4.0, 3.4), (3.8, 3.2), (3.5, 3.0))
"""Em in millimetres on a 7 inch panel: of the first line and of what is below it; the wanted ones first."""

LEADING = 1.24
"""Of the em, from one line of letters to the next."""

BETWEEN_MM = 1.2
"""Kept free at least above the letters of a row, and below them."""

INDENT = 1.5
"""Of the em of a first line, for the shape."""


class _Row(NamedTuple):
    """A row broken into lines, and its height in pixels."""

    heads: tuple[str, ...]
    unders: tuple[str, ...]
    height: float


class VerdictRows(Widget):
    """Shows them all, as large as they have room.

    Attributes:
        texts: the rows as plain text.
    """

    def __init__(self, **kwargs):
        self._rows: tuple[RowWords, ...] = ()
        self.texts: list[str] = []
        super().__init__(**kwargs)
        self._pen = Pen(self, self._lay)

    def show(self, rows: Sequence[RowWords]) -> None:
        """Show these."""
        if tuple(rows) != self._rows:
            self._rows = tuple(rows)
            self.texts = [f"{row.head}. {row.under}" for row in rows]
            self._lay()

    def _lay(self, *_args) -> None:
        sizes, broken = self._fit()
        self._pen.wipe()
        words: list[Written] = []
        signs: list[tuple[str, float]] = []
        spare = max(0.0, self.height - sum(row.height for row in broken)) / max(1, len(broken))
        top = float(self.top)
        for number, row in enumerate(broken):
            if number:
                self._pen.rules.add(Rectangle(pos=(self.x, round(top)), size=(self.width, theme.mm(0.25))))
            height = row.height + spare
            words_high = row.height - 2 * theme.smm(BETWEEN_MM)
            baseline = top - (height - words_high) / 2 - theme.face.cap * sizes[0]
            if self._rows[number].shape:
                signs.append((self._rows[number].shape, baseline))
            for text, size, bold in _lines(row, sizes):
                if text is not row.heads[0] or not bold:
                    baseline -= LEADING * size
                words.append(Written(text, size, bold, self.x + self._indent(sizes), baseline))
            top -= height
        self._pen.place(sizes[0], words, signs)

    def _fit(self) -> tuple[tuple[int, int], list[_Row]]:
        """The largest letters with which all rows have room; at last those at the end lose theirs."""
        ems = [(theme.smm(head), theme.smm(under)) for head, under in SIZES]
        for sizes in ems:
            broken = [self._break(row, sizes) for row in self._rows]
            if sum(row.height for row in broken) <= self.height:
                return sizes, broken
        for number in reversed(range(len(broken))):
            if sum(row.height for row in broken) <= self.height:
                break
            short = msgspec.structs.replace(self._rows[number], under="")
            broken[number] = self._break(short, sizes)
        return sizes, broken

    def _indent(self, sizes: tuple[int, int]) -> float:
        return INDENT * sizes[0]

    def _break(self, row: RowWords, sizes: tuple[int, int]) -> _Row:
        room = self.width - self._indent(sizes)
        heads = theme.wrap(row.head, room, sizes[0], bold=True)
        unders = theme.wrap(row.under, room, sizes[1], bold=False) if row.under else ()
        down = (len(heads) - 1) * LEADING * sizes[0] + len(unders) * LEADING * sizes[1]
        last = sizes[1] if unders else sizes[0]
        high = theme.face.cap * sizes[0] + down + theme.face.descent * last
        return _Row(heads, unders, high + 2 * theme.smm(BETWEEN_MM))


def _lines(row: _Row, sizes: tuple[int, int]) -> list[tuple[str, int, bool]]:
    heads = [(text, sizes[0], True) for text in row.heads]
    return heads + [(text, sizes[1], False) for text in row.unders]
