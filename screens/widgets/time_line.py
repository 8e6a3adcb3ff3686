"""What happened when: marks and spans over an axis of time, with as many words as have room."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kivy.graphics import Color, InstructionGroup, Rectangle
from kivy.uix.widget import Widget

from app.strip import clock_words
from app.time_line import marks, place
from screens import theme
from screens.widgets.sign import Sign
from screens.widgets.writing import Writing

if TYPE_CHECKING:
    from collections.abc import Sequence

    from app.time_line import Event

ROWS = 3
"""Of words above the axis."""


class TimeLine(Widget):
    """Shows events between two times.

    Attributes:
        texts: the words that have room.
    """

    def __init__(self, **kwargs):
        self._events: tuple[Event, ...] = ()
        self._ends = (0.0, 1.0)
        self.texts: list[str] = []
        super().__init__(**kwargs)
        self._drawn = InstructionGroup()
        self.canvas.before.add(self._drawn)
        for name in ("pos", "size"):
            self.fbind(name, self._lay)
        theme.paints.bind(paper=self._lay)

    def show(self, events: Sequence[Event], begin: float, end: float) -> None:
        """Show these from ``begin`` to ``end`` (seconds); times are told from the beginning on."""
        if (tuple(events), (begin, end)) != (self._events, self._ends):
            self._events, self._ends = tuple(events), (begin, end)
            self._lay()

    def _lay(self, *_args) -> None:
        self.clear_widgets()
        self._drawn.clear()
        self.texts = []
        size = theme.ems("note")[0]
        side = round(size * 0.9)
        left, width = self.x + side, max(1.0, self.width - 2 * side)
        axis = self.y + theme.smm(1.5) + round(size * 1.4)
        ink = theme.paints.ink
        self._drawn.add(Color(*ink))
        self._drawn.add(Rectangle(pos=(left, axis), size=(width, theme.mm(0.5))))
        begin, end = self._ends
        for at in marks(begin, end):
            x = left + width * (at - begin) / max(1e-9, end - begin)
            self._drawn.add(
                Rectangle(pos=(round(x), axis - theme.mm(1.5)), size=(theme.mm(0.4), theme.mm(1.5)))
            )
            anchor = "left" if at == begin else "right" if x > left + width * 0.95 else "middle"
            self._write(clock_words(at - begin), x, self.y + theme.smm(1.2), anchor=anchor)
        placed = place(
            self._events,
            begin,
            end,
            lambda text: (theme.width_of(text, size, False) + side) / width,
            rows=ROWS,
            side=(side + theme.mm(0.5)) / width,
        )
        for one in placed:
            x, high = left + width * one.left, theme.mm(2)
            if one.event.until is not None:
                self._drawn.add(
                    Rectangle(
                        pos=(round(x), axis), size=(max(theme.mm(0.5), width * (one.right - one.left)), high)
                    )
                )
            elif one.event.shape and one.sign:
                sign = Sign(shape=one.event.shape, ink=ink, size=(side, side))
                sign.pos = round(x - side / 2), axis + theme.mm(3)
                self.add_widget(sign)
            else:
                self._drawn.add(
                    Rectangle(pos=(round(x), axis), size=(theme.mm(0.5), theme.mm(6 if one.sign else 3)))
                )
            if one.row is not None:
                up = axis + theme.mm(4.5) + side + one.row * round(size * 1.3)
                wide = theme.width_of(one.event.label, size, False)
                self._write(one.event.label, min(x, left + width - wide), up)
                self.texts.append(one.event.label)

    def _write(self, text: str, at: float, baseline: float, anchor: str = "left") -> None:
        size = theme.ems("note")[0]
        self.add_widget(
            Writing(
                text=text, at=at, baseline=baseline, anchor=anchor, font_size=size, color=theme.paints.ink
            )
        )
