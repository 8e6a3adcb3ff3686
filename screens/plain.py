"""Lanes that have no work yet say so, and offer no key that does nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kivy.properties import NumericProperty, StringProperty

from screens import layouts, theme
from screens.page import Page
from screens.widgets.writing import Paragraph

if TYPE_CHECKING:
    from screens.actions import Actions

layouts.load(__file__)

__all__ = ["Paragraph", "PlainPage"]

TEXTS = {
    "Book": (
        "No book yet",
        "This version only reads. Every ride is recorded by itself, and the recordings are kept as files.",
        "Craft, visits, runs and reports will stand here.",
    ),
}


class PlainPage(Page):
    """A title and two sentences."""

    title = StringProperty("")
    first = StringProperty("")
    second = StringProperty("")
    letters = NumericProperty(10)

    def __init__(self, _actions: Actions, **kwargs):
        lane = "Book"
        super().__init__(**kwargs)
        self.name = f"{lane.lower()}/1"
        self._texts = TEXTS[lane]
        self.title = self._texts[0]
        self.fbind("width", self._fit)

    def words(self) -> list[str]:
        """See Page."""
        return list(self._texts)

    def _fit(self, *_args) -> None:
        self.letters = theme.em("say")
        room = self.width - 2 * theme.smm(3)
        self.first = "\n".join(theme.wrap(self._texts[1], room, self.letters, bold=True))
        self.second = "\n".join(theme.wrap(self._texts[2], room, self.letters, bold=False))
