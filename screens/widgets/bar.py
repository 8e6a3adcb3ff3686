"""A framed bar that fills from the left."""

from __future__ import annotations

from kivy.properties import NumericProperty
from kivy.uix.widget import Widget

from screens import layouts

layouts.load(__file__)


class Bar(Widget):
    """``share`` of it is filled, 0 to 1."""

    share = NumericProperty(0.0)
