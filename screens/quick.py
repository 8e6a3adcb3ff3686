"""The quick check before hire: the verdict at the left, the reasons at the right, worst first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kivy.properties import (
    BooleanProperty,
    ColorProperty,
    ListProperty,
    NumericProperty,
    StringProperty,
)
from kivy.uix.widget import Widget

from app.book_words import craft_of
from app.output_messages import ReadFaults
from app.quick_check import quick_check
from app.quick_words import entry_body, quick_words
from app.report_age import can_read
from app.show import Look
from screens import layouts, theme
from screens.colours import DAY
from screens.page import Page
from screens.widgets.bar import Bar
from screens.widgets.grid import Grid
from screens.widgets.key import Key
from screens.widgets.sign import Sign
from screens.widgets.verdict_row import VerdictRows
from screens.widgets.writing import Paragraph, Writing

if TYPE_CHECKING:
    from app.board import Board
    from app.messages import Limit
    from app.moment import Moment
    from app.quick_check import Check
    from screens.actions import Actions

layouts.load(__file__)

__all__ = ["Bar", "Grid", "Paragraph", "QuickPage", "Sign", "VerdictRows", "Writing"]

LOOKS = {"tick": Look.GOOD, "triangle": Look.WATCH, "square": Look.ALARM, "": Look.GOOD}
"""Shape of the verdict to the look of its ground."""

VERDICT = (11.0, 10.0, 9.0, 8.0, 7.0)
"""Em of the verdict in millimetres on a 7 inch panel."""

SAID = (4.6, 4.2, 3.9, 3.6, 3.3, 3.0)
"""Em of the sentence below it."""


class QuickPage(Page):
    """Opened by the key that also asks for the faults; it asks for them itself only at a touch.

    Attributes:
        ground, ink: of the verdict.
        shape: beside it.
        busy, share: faults are being read, and the share of it that is done.
    """

    name = "check/quick"
    ground = ColorProperty(DAY["paper"])
    ink = ColorProperty(DAY["ink"])
    shape = StringProperty("")
    busy = BooleanProperty(False)
    share = NumericProperty(0.0)
    lines = ListProperty(["", ""])
    verdict_size = NumericProperty(10)
    said_size = NumericProperty(10)
    said_shown = StringProperty("")

    def __init__(self, actions: Actions, **kwargs):
        self._actions = actions
        self._began: float | None = None
        self._held: dict[str, Limit | None] = {}
        self._moment: Moment | None = None
        self._kept = False
        self._title = self._said = ""
        super().__init__(**kwargs)
        self._again = Key(text="Check\nagain", action=self._ask)
        self._faults = Key(text="Faults", action=lambda: actions.open(""))
        self._nothing = Widget()
        self._foot(self._again)
        for name in ("size", "pos"):
            self.fbind(name, self._fit)
        self.fbind("parent", self._left)

    def show(self, board: Board) -> None:
        """See Page."""
        if self._began is None:
            self._begin()
        self._moment = board.moment
        check = quick_check(board.moment, self._began or 0.0, self._held)
        self._held = check.held
        self._keep(check)
        job = board.moment.job
        busy = check.reading
        self.share = min(1.0, job.done / job.steps) if job is not None and job.steps else 0.0
        if busy != self.busy:
            self.busy = busy
            self._foot(self._nothing if busy else self._again)
        self.name = "check/quick_reading" if busy else "check/quick"
        said = quick_words(check)
        self.ground, self.ink = theme.ground_and_ink(LOOKS[said.shape])
        self.shape = said.shape
        self.ids.rows.show(said.rows)
        if (said.title, said.said) != (self._title, self._said):
            self._title, self._said = said.title, said.said
            self._fit()

    def words(self) -> list[str]:
        """See Page."""
        return [self._title.replace("\n", " "), self._said, *self.ids.rows.texts]

    def _ask(self) -> None:
        """A person wants to know again."""
        self._begin()
        if self._moment is not None and can_read(self._moment):
            self._actions.ask(ReadFaults())

    def _begin(self) -> None:
        self._began, self._kept = self._actions.clock(), False

    def _keep(self, check: Check) -> None:
        """Once for every check, as soon as there is a verdict on a craft; again if a reading came late."""
        keeper, moment = self._actions.keeper, self._moment
        if check.verdict is None:
            self._kept = False
        elif not self._kept and keeper is not None and moment is not None and check.rows:
            self._kept = True
            keeper.checked(craft_of(moment), entry_body(check))

    def _foot(self, first: Widget) -> None:
        foot: Grid = self.ids.foot
        foot.clear_widgets()
        foot.add_widget(first)
        foot.add_widget(self._faults)

    def _fit(self, *_args) -> None:
        """As large as the place at the left has room for."""
        room = self.ids.side.width - 2 * theme.smm(3)
        lines = self._title.split("\n")
        for em in map(theme.smm, VERDICT):
            sign = em * 1.05 if self.shape else 0
            if all(theme.width_of(text, em, True) + sign * (not n) <= room for n, text in enumerate(lines)):
                break
        self.verdict_size, self.lines = em, [*lines, ""][:2]
        below = (theme.face.cap + (len(lines) - 1) * 1.15) * em + theme.smm(7.2)
        high = self.ids.side.height - below
        for size in map(theme.smm, SAID):
            text = theme.wrap(self._said, room, size, bold=False)
            if len(text) * size * 1.3 <= high:
                break
        self.said_size, self.said_shown = size, "\n".join(text)

    def _left(self, _page: QuickPage, parent: object) -> None:
        if parent is None:
            self._began = None
            self._held = {}
