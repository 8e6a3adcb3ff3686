"""Keys that count while a finger is on them: arming, holding, stopping."""

from __future__ import annotations

from kivy.properties import NumericProperty, ObjectProperty

from screens import layouts
from screens.widgets.key import Key

layouts.load(__file__)


class HoldKey(Key):
    """Tells when a finger comes down on it and when it is there no more.

    Attributes:
        began: called without arguments.
        ended: called with the cause in words.
    """

    holds = True

    began = ObjectProperty(None, allownone=True)
    ended = ObjectProperty(None, allownone=True)

    def begin(self) -> None:
        """See Key."""
        if self.began is not None:
            self.began()

    def end(self, cause: str) -> None:
        """See Key."""
        if self.ended is not None:
            self.ended(cause)


class ArmKey(HoldKey):
    """Fills from the left while it is held; ``share`` of the time it must be held, 0 to 1."""

    share = NumericProperty(0.0)


class HoldTarget(HoldKey):
    """Where the finger stays while the output is live."""


class StopKey(HoldKey):
    """STOP TEST: acts when it is touched, not when the finger lifts."""

    holds = False
    stops = True
