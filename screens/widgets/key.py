"""A key: acts when the finger lifts inside it. Which finger is where is known to screens.touch alone."""

from __future__ import annotations

from kivy.properties import BooleanProperty, NumericProperty, ObjectProperty, StringProperty
from kivy.uix.widget import Widget

from screens import layouts, theme

layouts.load(__file__)


class Key(Widget):
    """A framed key; black where you are or while a finger is on it.

    Attributes:
        text: what it does; may have two lines.
        here: this is where you are.
        down: a finger is on it.
        action: called without arguments when it is touched.
        kind: of its letters, see theme.TYPE.
        holds: it counts the time a finger is on it.
        stops: it acts as soon as it is touched, whatever else is the matter.
    """

    holds = False
    stops = False

    kind = StringProperty("key")
    text = StringProperty("")
    here = BooleanProperty(False)
    down = BooleanProperty(False)
    filled = BooleanProperty(False)
    action = ObjectProperty(None, allownone=True)
    letters = NumericProperty(0)

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        for name in ("here", "down"):
            self.fbind(name, self._fill)
        for name in ("text", "size", "kind"):
            self.fbind(name, self._fit)
        self._fill()
        self._fit()

    def _fill(self, *_args) -> None:
        self.filled = self.here != self.down

    def _fit(self, *_args) -> None:
        room = self.width - 2 * theme.mm(1.4)
        lines = self.text.split("\n")
        self.letters = min(theme.fit(line, room, theme.ems(self.kind), bold=True)[0] for line in lines)

    def begin(self) -> None:
        """A finger comes down on it; for a key that acts while it is held."""

    def end(self, cause: str) -> None:
        """The finger is there no more: lifted, or ``cause`` in words; comes before ``act``."""

    def act(self) -> None:
        """Do what the key is for."""
        if self.action is not None:
            self.action()
