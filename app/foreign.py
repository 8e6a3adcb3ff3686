"""A controller with a calibration that the family's data do not know: its own limits do not apply to it.

Generic limits stay: they come from common practice, not from what this maker promised of this engine.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from app.book_words import craft_of
from app.craft_limits import with_own
from app.report_age import craft_report

if TYPE_CHECKING:
    from app.craft_limits import CraftLimits, Own
    from app.diagnosis import IdentityLine
    from app.messages import Catalogue, SignalInfo
    from app.moment import Moment
    from app.ports import View

WHY = "Not one that the family's data know: modified, or newer. Its limits do not apply here."


def foreign_lines(moment: Moment) -> list[IdentityLine]:
    """What was read of this craft and is none of those that the family's data are made for."""
    report = craft_report(moment)
    return [] if report is None else [line for line in report.identity if line.foreign]


class FamilyLimits:
    """Which limits hold for the craft: those set for it, then generic ones, then its family's own.

    The last do not while its controllers are not those that they are made for.

    Attributes:
        said: the catalogue as the family has it, None while there is none.
    """

    def __init__(self) -> None:
        self._for: tuple[bool, str, int] | None = None
        self._to: Catalogue | None = None
        self.said: Catalogue | None = None

    def turn(self, view: View, moment: Moment, limits: CraftLimits) -> View:
        """The same view with the limits that hold.

        Args:
            view: as it was sent.
            moment: of that view.
            limits: what was set for single crafts.
        """
        catalogue = moment.catalogue
        if catalogue is None:
            self.said = None
            return view
        foreign, craft = bool(foreign_lines(moment)), craft_of(moment)
        own = limits.of(craft)
        wanted = (foreign, craft, limits.version)
        if catalogue is not self.said or wanted != self._for:
            self.said, self._for, self._to = catalogue, wanted, None
            if foreign or own:
                signals = [_held(info, foreign, own) for info in catalogue.signals]
                self._to = msgspec.structs.replace(catalogue, signals=signals)
        return view if self._to is None else msgspec.structs.replace(view, catalogue=self._to)


def _held(info: SignalInfo, foreign: bool, own: dict[str, Own]) -> SignalInfo:  # noqa: FBT001 (one of three facts)
    applies = [limit for limit in info.limits if limit.generic or not foreign]
    return msgspec.structs.replace(info, limits=with_own(info, applies, own))
