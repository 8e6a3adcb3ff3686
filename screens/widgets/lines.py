"""Rows of words with a drawn shape before each, as large as all of them have room."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from kivy.graphics import Color, InstructionGroup, Rectangle
from kivy.uix.widget import Widget

from screens import theme
from screens.widgets.sign import Sign
from screens.widgets.writing import Writing

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from app.output_words import Line

LEADING = 1.24
"""Of the em, from one line of letters to the next in a row."""

BETWEEN = 0.52
"""Of the em, between two rows, half of it above the rule and half below."""

NOW = "now"
"""The shape of a row that is a block of ink."""

ROUNDING = 0.25
"""Millimetres kept free above the first row: letters are drawn on whole pixels."""


class Written(NamedTuple):
    """Letters where they stand: em, left end and baseline in pixels; ``block``: on a block of ink."""

    text: str
    em: int
    bold: bool
    left: float
    baseline: float
    block: bool = False


class Pen:
    """Draws rows on a widget: rules, letters, and a shape at the left of some; what it made it uses again.

    Attributes:
        rules: what is drawn below the letters.
    """

    def __init__(self, widget: Widget, lay: Callable[..., None]):
        self.rules = InstructionGroup()
        self._widget = widget
        self._words: list[Writing] = []
        self._signs: list[Sign] = []
        widget.canvas.before.add(self.rules)
        for name in ("pos", "size"):
            widget.fbind(name, lay)
        theme.paints.bind(paper=lay)

    def wipe(self) -> None:
        """Take the rules away; new ones are drawn in ink."""
        self.rules.clear()
        self.rules.add(Color(*theme.paints.ink))

    def place(self, em: int, words: Sequence[Written], signs: Sequence[tuple[str, float]]) -> None:
        """Draw these and nothing else; a sign is a shape and its baseline, as high as capitals of ``em``."""
        while len(self._words) < len(words):
            self._words.append(Writing())
            self._widget.add_widget(self._words[-1])
        while len(self._signs) < len(signs):
            self._signs.append(Sign())
            self._widget.add_widget(self._signs[-1])
        for number, writing in enumerate(self._words):
            if number >= len(words):
                writing.text = ""
                continue
            word = words[number]
            writing.bold, writing.font_size = word.bold, word.em
            writing.color = theme.paints.paper if word.block else theme.paints.ink
            writing.text, writing.at, writing.baseline = word.text, word.left, word.baseline
        side = round(em * theme.face.cap)
        for number, sign in enumerate(self._signs):
            sign.shape = signs[number][0] if number < len(signs) else ""
            if number < len(signs):
                sign.ink = theme.paints.ink
                sign.size = side, side
                sign.pos = self._widget.x + theme.mm(0.3), round(signs[number][1])


class _Part(NamedTuple):
    """Letters on one line of a row: how many lines down, how far right, in bold or not."""

    down: int
    right: float
    text: str
    bold: bool


class LineList(Widget):
    """Shows lines; where not all have room at the smallest letters, a part of them.

    Attributes:
        parts: how many parts there are.
        texts: the rows now shown, as plain text.
        part_now: the part with the step to be done now, from 0; None if there is none.
    """

    def __init__(self, **kwargs):
        self._lines: tuple[Line, ...] = ()
        self._part = 0
        self.parts = 1
        self.texts: list[str] = []
        self.part_now: int | None = None
        super().__init__(**kwargs)
        self._pen = Pen(self, self._lay)

    def show(self, lines: Sequence[Line], part: int = 0) -> None:
        """Show these; ``part`` counts from 0 and wraps round."""
        lines = tuple(lines)
        if (lines, part) != (self._lines, self._part):
            self._lines, self._part = lines, part
            self._lay()

    def _lay(self, *_args) -> None:
        size, rows, chunks = self._fit()
        self.parts = max(1, len(chunks))
        nows = (at for at, chunk in enumerate(chunks) if any(self._lines[n].shape == NOW for n in chunk))
        self.part_now = next(nows, None)
        shown = chunks[self._part % self.parts] if chunks else range(0)
        self.texts = [f"{self._lines[number].strong} {self._lines[number].plain}".strip() for number in shown]
        words: list[Written] = []
        signs: list[tuple[str, float]] = []
        self._pen.wipe()
        top = self.top - theme.mm(ROUNDING) - self._around() * size
        for number in shown:
            if number != shown[0]:
                rule = theme.mm(0.25)
                self._pen.rules.add(Rectangle(pos=(self.x, round(top)), size=(self.width, rule)))
                top -= BETWEEN / 2 * size
            first = top - theme.face.cap * size
            now = self._lines[number].shape == NOW
            if now:
                self._block(top, _high(rows[number]) * size, size)
            words += [
                Written(
                    part.text, size, part.bold, self.x + part.right, first - part.down * LEADING * size, now
                )
                for part in rows[number]
            ]
            if self._lines[number].shape and not now:
                signs.append((self._lines[number].shape, first))
            top -= _high(rows[number]) * size + BETWEEN / 2 * size
        self._pen.place(size, words, signs)

    def _block(self, top: float, high: float, size: int) -> None:
        """Behind a row, from rule to rule."""
        over = round(BETWEEN / 2 * size)
        low = max(round(top - high) - over, round(self.y))
        end = min(round(top) + over, round(self.top))
        self._pen.rules.add(Rectangle(pos=(self.x, low), size=(self.width, end - low)))

    def _fit(self) -> tuple[int, list[list[_Part]], list[range]]:
        """The largest letters with which the rows make no more parts than with the smallest."""
        sizes = theme.ems("say")
        fewest = len(self._cut(sizes[-1])[1])
        for size in sizes:
            rows, chunks = self._cut(size)
            if len(chunks) <= fewest:
                break
        return size, rows, chunks

    def _cut(self, size: int) -> tuple[list[list[_Part]], list[range]]:
        rows = [self._break(line, size) for line in self._lines]
        room = self.height - theme.mm(ROUNDING) + (BETWEEN - 2 * self._around()) * size
        return rows, _chunks([(_high(row) + BETWEEN) * size for row in rows], room)

    def _around(self) -> float:
        """Of the em, kept free above the first row and below the last, where a block may need it."""
        return BETWEEN / 2 if any(line.shape == NOW for line in self._lines) else 0.0

    def _indent(self, size: int) -> float:
        return size * 1.35 if any(line.shape for line in self._lines) else 0.0

    def _break(self, line: Line, size: int) -> list[_Part]:
        indent = self._indent(size)
        room = self.width - indent
        strong = theme.wrap(line.strong, room, size, bold=True) if line.strong else ()
        parts = [_Part(down, indent, text, bold=True) for down, text in enumerate(strong)]
        if not line.plain:
            return parts
        used = theme.width_of(strong[-1] + " ", size, True) if strong else 0
        if strong and used + theme.width_of(line.plain, size, False) <= room:
            return [*parts, _Part(len(strong) - 1, indent + used, line.plain, bold=False)]
        plain = theme.wrap(line.plain, room, size, bold=False)
        return parts + [_Part(len(strong) + n, indent, text, bold=False) for n, text in enumerate(plain)]


def _high(row: list[_Part]) -> float:
    """Height of a row in em, from the capitals of its first line to the descenders of its last."""
    down = max((part.down for part in row), default=0)
    return theme.face.cap + down * LEADING + theme.face.descent


def _chunks(heights: list[float], room: float) -> list[range]:
    """Cut rows into parts that have room; a row that is too high alone is a part of its own."""
    chunks: list[range] = []
    start, used = 0, 0.0
    for number, height in enumerate(heights):
        if used and used + height > room:
            chunks.append(range(start, number))
            start, used = number, 0.0
        used += height
    return [*chunks, range(start, len(heights))] if heights else []
