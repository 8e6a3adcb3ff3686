"""One line over values that are no longer live."""

from __future__ import annotations

from kivy.properties import BooleanProperty, NumericProperty, StringProperty
from kivy.uix.widget import Widget

from screens import layouts, theme
from screens.widgets.sign import Sign
from screens.widgets.writing import Writing

layouts.load(__file__)

__all__ = ["Banner", "Sign", "Writing"]


class Banner(Widget):
    """Words on the colour of watch, with its shape; takes no room while it has nothing to say.

    ``title`` is what it covers and is repeated before the words where there is room for both.
    ``shape`` stands before the words;
    ``loud`` puts them on the colour of alarm.
    """

    text = StringProperty("")
    title = StringProperty("")
    shown = StringProperty("")
    letters = NumericProperty(10)
    shape = StringProperty("triangle")
    loud = BooleanProperty(False)

    def __init__(self, **kwargs):
        super().__init__(size_hint_y=None, height=0, **kwargs)
        for name in ("text", "title", "width"):
            self.fbind(name, self._fit)

    def _fit(self, *_args) -> None:
        self.height = theme.smm(6.4) if self.text else 0
        room = self.width - 2 * theme.smm(2.2) - theme.em("text") - theme.smm(0.6)
        both = (
            f"{self.title}: {self.text[:1].lower()}{self.text[1:]}" if self.title and self.text else self.text
        )
        if theme.width_of(both, theme.ems("text")[-1], True) > room:
            both = self.text
        self.letters, self.shown = theme.fit(both, room, theme.ems("text"), bold=True)
