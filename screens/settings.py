"""What a person chooses for this handheld: colours, units, where it is used, panel, adapter."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from app.settings import next_of
from app.settings_words import NOTE, adapter_words, choice_words, panel_words
from screens import panel
from screens.key_grid import KeyGrid
from screens.widgets.key import Key

if TYPE_CHECKING:
    import enum

    from app.board import Board
    from screens.actions import Actions
    from screens.panel import Panel

CHOICES = ("skin", "temperature", "speed", "pressure", "place")
"""Of app.settings.Settings, each a key that goes on to the next at every touch."""


class SettingsPage(KeyGrid):
    """A key for each choice, and the way back."""

    name = "ride/settings"

    def __init__(self, actions: Actions, **kwargs):
        self._wear = actions.wear
        self._file = actions.settings
        super().__init__(**kwargs)
        self.title = "Settings"
        self._keys = {name: Key(action=lambda name=name: self._next(name)) for name in CHOICES}
        self._panel = Key(action=self._next_panel)
        self._adapters = actions.adapters
        self._adapter = Key(action=self._next_adapter)
        back = Key(text="Back", action=lambda: actions.open("more"))
        self.put([*self._keys.values(), self._panel, self._adapter, back])

    def show(self, board: Board) -> None:
        """See Page."""
        del board
        self.note = self._file.trouble or NOTE
        for name, key in self._keys.items():
            key.text = choice_words(getattr(self._file.now, name))
        self._panel.text = panel_words(self._file.now.panel)
        self._adapter.text = adapter_words(self._file.now.adapter)

    def _next(self, name: str) -> None:
        choice: enum.StrEnum = getattr(self._file.now, name)
        self._wear(msgspec.structs.replace(self._file.now, **{name: next_of(choice)}))

    def _next_adapter(self) -> None:
        now = self._file.now.adapter
        names = list(dict.fromkeys(["", *self._adapters()]))
        later = names[(names.index(now) + 1) % len(names)] if now in names else ""
        self._wear(msgspec.structs.replace(self._file.now, adapter=later))

    def _next_panel(self) -> None:
        window = self.get_parent_window()
        names = ["", *(one.name for one in panel.panels().values() if _has_room(one, window.size))]
        now = self._file.now.panel
        later = names[(names.index(now) + 1) % len(names)] if now in names else ""
        self._wear(msgspec.structs.replace(self._file.now, panel=later))


def _has_room(profile: Panel, size: tuple[int, int]) -> bool:
    """It can be seen whole on this window, so that nobody is left with keys out of reach."""
    return profile.width <= size[0] and profile.height <= size[1]
