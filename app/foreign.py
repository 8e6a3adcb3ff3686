"""A controller with a calibration that the family's data do not know: its own limits do not apply to it.

Generic limits stay: they come from common practice, not from what this maker promised of this engine.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from app.report_age import craft_report

if TYPE_CHECKING:
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
    """Takes the family's own limits away while its controllers are not those that they are made for."""

    def __init__(self) -> None:
        self._from: Catalogue | None = None
        self._to: Catalogue | None = None

    def turn(self, view: View, moment: Moment) -> View:
        """The same view, with generic limits alone if something foreign was read.

        Args:
            view: as it was sent.
            moment: of that view.
        """
        catalogue = moment.catalogue
        if catalogue is None or not foreign_lines(moment):
            return view
        if catalogue is not self._from:
            self._from = catalogue
            self._to = msgspec.structs.replace(catalogue, signals=[_generic(i) for i in catalogue.signals])
        return msgspec.structs.replace(view, catalogue=self._to)


def _generic(info: SignalInfo) -> SignalInfo:
    return msgspec.structs.replace(info, limits=[limit for limit in info.limits if limit.generic])
