"""A page of the gallery: the name of a widget, its states each with a word, and the keys that turn."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kivy.uix.floatlayout import FloatLayout

from screens import theme
from screens.gallery_states import FAMILIES
from screens.page_keys import PageKeys
from screens.touch import Finger
from screens.widgets.edges import edges
from screens.widgets.key import Key
from screens.widgets.writing import Writing

if TYPE_CHECKING:
    from kivy.input.motionevent import MotionEvent

    from screens.gallery_states import Family


class GalleryPage(FloatLayout):
    """Turns through FAMILIES.

    Attributes:
        count: how many pages there are.
        title: of the page now shown.
    """

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        self.count = len(FAMILIES)
        self.title = ""
        self._number = 1
        self._keys = PageKeys(self._turn, size_hint=(None, None))
        self._finger = Finger(self._touchable, lambda _x, _y, _key: None)
        self.fbind("size", self._lay)

    def turn_to(self, number: int) -> None:
        """Show a page, from 1."""
        self._number = number
        self._lay()

    def _turn(self, by: int) -> None:
        self.turn_to((self._number - 1 + by) % self.count + 1)

    def _touchable(self) -> list[Key]:
        return [widget for widget in self._keys.walk(restrict=True) if isinstance(widget, Key)]

    def _lay(self, *_args) -> None:
        family = FAMILIES[self._number - 1]
        self.title = family.title
        self.clear_widgets()
        top = self.height - theme.smm(3) - theme.face.cap * theme.em("title")
        alone = family.columns * family.rows == 1
        head = f"{family.title}: {family.states[0][0]}" if alone else family.title
        self._write(head, theme.smm(3), top, "title", bold=True)
        high = theme.mm(15)  # as lanes: a number pad needs the rest
        self._keys.show(self._number, self.count)
        self._keys.size = theme.mm(44), high + theme.mm(1.2)
        self._keys.pos = (
            self.width - self._keys.width - theme.mm(3),
            self.height - self._keys.height - theme.mm(1),
        )
        self.add_widget(self._keys)
        self._put(family, self.height - high - theme.mm(2.5), named=not alone)

    def _put(self, family: Family, height: float, *, named: bool) -> None:
        """Every state in its cell, the word for it above."""
        gap, word = theme.mm(3), round(theme.em("note") * 1.3) if named else 0
        columns = edges(gap, self.width - 2 * gap, [1] * family.columns, gap)
        lines = edges(0, height - theme.mm(1), [1] * family.rows, gap)
        for number, (state, make) in enumerate(family.states):
            (left, width), (down, tall) = columns[number % family.columns], lines[number // family.columns]
            bottom = height - down - tall
            if named:
                self._write(
                    state, left, bottom + tall - theme.face.cap * theme.em("note"), "note", bold=False
                )
            widget = make()
            if widget.size_hint_x is not None or widget.width == 100:
                widget.size_hint_x, widget.width = None, width
            if widget.size_hint_y is not None:
                widget.size_hint_y, widget.height = None, tall - word
            widget.pos_hint = {}
            widget.pos = left, round(bottom + max(0, tall - word - widget.height))
            self.add_widget(widget)

    def _write(self, text: str, at: float, baseline: float, kind: str, *, bold: bool) -> None:
        self.add_widget(
            Writing(
                text=text,
                at=at,
                baseline=round(baseline),
                font_size=theme.em(kind),
                bold=bold,
                color=theme.paints.ink,
            )
        )

    def on_touch_down(self, touch: MotionEvent) -> bool:
        """See screens.touch."""
        self._finger.begin(touch.uid, *touch.pos)
        return True

    def on_touch_move(self, touch: MotionEvent) -> bool:
        """See screens.touch."""
        self._finger.move(touch.uid, *touch.pos)
        return True

    def on_touch_up(self, touch: MotionEvent) -> bool:
        """See screens.touch."""
        self._finger.end(touch.uid, *touch.pos)
        return True
