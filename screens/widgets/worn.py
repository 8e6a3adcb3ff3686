"""What every widget that shows one signal wears: its words and the look of its state."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kivy.properties import BooleanProperty, ColorProperty, NumericProperty, StringProperty
from kivy.uix.widget import Widget

from screens import theme
from screens.colours import DAY

if TYPE_CHECKING:
    from app.show import Tile


class Worn(Widget):
    """Words, letter sizes, ground, ink, shape and hatching of one tile."""

    label = StringProperty("")
    main = StringProperty("")
    unit = StringProperty("")
    note = StringProperty("")
    shape = StringProperty("")
    hatched = BooleanProperty(False)
    ground = ColorProperty(DAY["paper"])
    ink = ColorProperty(DAY["ink"])
    label_size = NumericProperty(10)
    main_size = NumericProperty(10)
    note_size = NumericProperty(10)

    def wear(self, tile: Tile) -> None:
        """Take the look of a tile's state."""
        skin = theme.SKINS[tile.look]
        self.ground, self.ink = theme.ground_and_ink(tile.look)
        self.shape, self.hatched = skin.shape, skin.hatched
