"""The Check lane: what the controllers have stored, and reading it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kivy.properties import BooleanProperty, NumericProperty

from app.book_words import craft_of
from app.fault_words import faults_words
from app.output_messages import ReadFaults
from app.report_age import craft_report
from app.visits import gone_since
from screens import layouts
from screens.sheet import KEYS, Sheet
from screens.widgets.bar import Bar
from screens.widgets.key import Key

if TYPE_CHECKING:
    from app.board import Board
    from app.diagnosis import Fault, Report
    from app.entry import Entry
    from app.fault_words import FaultsWords
    from screens.actions import Actions

layouts.load(__file__)

__all__ = ["Bar", "FaultsPage"]


class FaultsPage(Sheet):
    """The list. While a job runs a bar stands in place of the keys.

    Attributes:
        busy: a job runs.
        share: of it that is done, 0 to 1.
    """

    name = "check/faults"
    busy = BooleanProperty(False)
    share = NumericProperty(0.0)

    def __init__(self, actions: Actions, **kwargs):
        super().__init__(**kwargs)
        self._read = Key(action=lambda: actions.ask(ReadFaults()))
        self._details = Key(text="Details", action=lambda: actions.open("fault"))
        self._clear = Key(text="Clear", action=lambda: actions.open("clear"))
        self._connection = Key(text="Connection", action=lambda: actions.open("connection"))
        self._actions, self._keeper = actions, actions.keeper
        self._known: tuple[tuple[Entry, ...], Report | None] = ((), None)
        self._gone: list[Fault] = []
        self._quick = Key(text="Quick\ncheck", action=self._check)
        self._can_read = False
        self.fbind("parent", self._left)

    def show(self, board: Board) -> None:
        """See Page."""
        craft = craft_of(board.moment)
        entries = () if self._keeper is None else self._keeper.of(craft)
        report = craft_report(board.moment)
        if (entries, report) != self._known:
            self._known, self._gone = (entries, report), gone_since(entries, report)
        said = faults_words(board.moment, self._gone)
        self.name = said.name
        self.busy, self.share = said.done is not None, said.done or 0.0
        self._read.text, self._can_read = said.read, bool(said.read)
        self.fill(said.title, said.lines, self._foot(said))

    def _foot(self, said: FaultsWords) -> list[Key | None]:
        """Where the page key takes the last place, the connection is reached from the second part on."""
        if self.busy:
            return []
        # a double touch of Clear must not meet the key of the next page that clears
        faults = [self._clear, self._details] if said.faults else [None, None]
        if self._part % self.ids.lines.parts or (not said.read and self.ids.lines.parts > 1):
            return [self._connection, *faults]
        return [self._read if said.read else None, *faults, self._connection]

    def _put(self, keys: tuple[Key | None, ...]) -> None:
        """One place more than other pages have: the last is for the check before hire."""
        super()._put(keys)
        if keys:
            self.ids.foot.columns = [1] * (KEYS + 1)
            self.ids.foot.add_widget(self._quick)

    def _check(self) -> None:
        """The same touch reads the faults."""
        self._actions.open("quick")
        if self._can_read:
            self._actions.ask(ReadFaults())

    def _left(self, _page: FaultsPage, parent: object) -> None:
        if parent is None:
            self._part = 0
