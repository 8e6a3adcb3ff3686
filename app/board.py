"""What the glass remembers between two moments."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.judge import DEADBAND, judge
from app.moment import Moment
from app.pages import signal_pages
from app.reading import Quality
from app.show import Tile, tile
from app.units import GlassUnits

if TYPE_CHECKING:
    from app.messages import Limit
    from app.pages import SignalPage
    from app.ports import View


class Board:
    """Turns views into tiles; remembers passed limits and the highest engine speed of this craft.

    Attributes:
        moment: the newest.
        pages: of the craft now known; empty while there is none.
        most: highest good engine speed (rev/min) since this craft was found, None before one came.
    """

    def __init__(self, now: float) -> None:
        self._began = now
        self._units = GlassUnits()
        self._craft: tuple[int, str | None] | None = None
        self._held: dict[str, Limit | None] = {}
        self.pages: tuple[SignalPage, ...] = ()
        self.most: float | None = None
        self.moment: Moment

    def take(self, view: View, now: float) -> Moment:
        """Look at the newest view; call it once a tick."""
        moment = Moment(self._units.turn(view), now, waited=now - self._began)
        self._same_craft(moment)
        speed = moment.number("engine_speed")
        if speed is not None and (self.most is None or speed > self.most):
            self.most = speed
        self.moment = moment
        return moment

    def tile(self, signal: str) -> Tile:
        """One signal of the newest moment, judged."""
        moment = self.moment
        info, value, quality = moment.info(signal), moment.value(signal), moment.quality(signal)
        if info is None:
            raise KeyError(signal)
        limit = None
        if quality is Quality.GOOD and value is not None and isinstance(value.value, int | float):
            span = 0.0 if info.low is None or info.high is None else info.high - info.low
            limit = judge(
                value.value,
                info.limits,
                moment.number("engine_speed"),
                held=self._held.get(signal),
                deadband=DEADBAND * span,
            )
        self._held[signal] = limit
        return tile(info, value, quality, moment.now, limit)

    def _same_craft(self, moment: Moment) -> None:
        if moment.catalogue is None:
            return
        serial = moment.snapshot.craft.serial if moment.snapshot and moment.snapshot.craft else None
        known = self._craft
        other = known is None or known[0] != moment.catalogue.number
        other = other or (serial is not None and known is not None and known[1] not in (None, serial))
        if other:
            self.pages = signal_pages(moment.catalogue)
            self._held.clear()
            self.most = None
        self._craft = (moment.catalogue.number, serial or (known[1] if known and not other else None))
