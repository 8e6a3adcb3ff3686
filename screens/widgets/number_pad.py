"""A pad to type a number at the dock; under way it takes no touch and says so."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kivy.properties import BooleanProperty, NumericProperty, StringProperty
from kivy.uix.floatlayout import FloatLayout
from kivy.uix.widget import Widget

from app.number_entry import BACK, CLEAR, MINUS, POINT
from app.riding import is_under_way
from screens import layouts, theme
from screens.widgets.grid import Grid
from screens.widgets.key import Key
from screens.widgets.writing import Writing

if TYPE_CHECKING:
    from collections.abc import Callable

    from app.number_entry import NumberEntry

layouts.load(__file__)

__all__ = ["Grid", "NumberPad", "Writing"]

KEYS = ("1", "2", "3", "4", "5", "6", "7", "8", "9", POINT, "0", BACK)
"""As on a telephone, row by row."""

UNDER_WAY = "Not under way: to idle first."


class NumberPad(FloatLayout):
    """Figure and range at the left, the pad at the right; the figure is taken by a key that acts.

    Args:
        done: called with the number when it is taken.
        left: called when the pad is left without one.
    """

    figure = StringProperty("")
    figure_size = NumericProperty(10)
    refused = BooleanProperty(False)
    say = StringProperty("")
    say_size = NumericProperty(10)
    title = StringProperty("")

    def __init__(self, done: Callable[[float], None], left: Callable[[], None], **kwargs):
        self._entry: NumberEntry | None = None
        self._locked = False
        self._done = done
        super().__init__(**kwargs)
        for name in KEYS:
            text, kind = ("Erase", "key") if name == BACK else (name, "title")
            self.ids.pad.add_widget(Key(text=text, kind=kind, action=lambda name=name: self._touch(name)))
        self._take = Key(text="Take it", action=self._taken)
        self._clear = Key(text="Clear", action=lambda: self._touch(CLEAR))
        self._minus = Key(text="+ / −", action=lambda: self._touch(MINUS))
        self._leave = Key(text="Cancel", action=left)
        self.fbind("width", self._show)

    def ask(self, title: str, entry: NumberEntry) -> None:
        """Ask for a number under a title."""
        self.title, self._entry = title, entry
        self.ids.doing.clear_widgets()
        minus = self._minus if entry.low < 0 else Widget()
        for widget in (self._clear, minus, self._leave, self._take):
            self.ids.doing.add_widget(widget)
        self._show()

    def see(self, speed: float | None) -> None:
        """Look at the engine speed, rev/min, None while it is not known; above idle nothing may be typed."""
        if is_under_way(speed) is not self._locked:
            self._locked = not self._locked
            self._show()

    def _touch(self, key: str) -> None:
        if self._entry is not None and not self._locked:
            self._entry.touch(key)
            self._show()

    def _taken(self) -> None:
        if self._entry is not None and self._entry.value is not None and not self._locked:
            self._done(self._entry.value)

    def _show(self, *_args) -> None:
        entry = self._entry
        if entry is None:
            return
        room = self.width * 0.52 - theme.smm(3)
        shown = f"{entry.text.replace('-', '−') or '–'} {entry.unit}".strip()
        self.figure_size, self.figure = theme.fit(shown, room, theme.ems("stop"), bold=True)
        trouble = UNDER_WAY if self._locked else entry.trouble
        self.refused = bool(trouble)
        self.say_size, self.say = theme.fit(
            trouble or entry.range_words, room, theme.ems("say"), bold=self.refused
        )
        self._take.here = entry.value is not None and not self._locked
