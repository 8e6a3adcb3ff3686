"""What every page of the glass has in common."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kivy.uix.floatlayout import FloatLayout

from screens.widgets.key import Key

if TYPE_CHECKING:
    from app.board import Board
    from screens.widgets.arc import Arc
    from screens.widgets.value_tile import ValueTile


class Page(FloatLayout):
    """One body between strip and lanes.

    Attributes:
        name: for the event log, for example "ride/1".
        full: it takes the room of the lanes too.
        topic: what its keys are about; when that changes by itself, touches wait as they do for another page.
    """

    name = ""
    topic = ""
    full = False

    def __init__(self, **kwargs):
        super().__init__(pos_hint={"x": 0, "y": 0}, **kwargs)

    def open(self, number: int) -> None:
        """Turn to page ``number`` (from 1) of the craft, where one widget serves several pages."""

    def came(self) -> None:
        """It comes on the glass in place of another; where a person was on it before is forgotten."""

    def show(self, board: Board) -> None:
        """Bring every text up to date; called five times a second and when the page is opened."""

    def sweep(self, board: Board) -> None:
        """Bring what may move faster than text up to date; called twenty times a second."""

    def touchable(self) -> list[Key]:
        """Every key on this page."""
        return [widget for widget in self.walk(restrict=True) if isinstance(widget, Key)]

    def tiles(self) -> list[ValueTile | Arc]:
        """Every value on this page."""
        return [widget for widget in self.walk(restrict=True) if getattr(widget, "tile", None) is not None]

    def words(self) -> list[str]:
        """Other sentences on this page."""
        return []
