"""What the glass remembers between two moments."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.alarms import Alarms
from app.choices import Choices
from app.derived import BY_NAME, Derive, bad_input
from app.extremes import Extremes
from app.foreign import FamilyLimits
from app.judge import DEADBAND, judge
from app.moment import Moment
from app.pages import chart_lines, signal_pages
from app.reading import Quality
from app.show import Look, Tile, derived_tile, frozen_tile, tile
from app.trend import Trend
from app.units import GlassUnits

if TYPE_CHECKING:
    from app.messages import Catalogue, Limit
    from app.pages import SignalPage
    from app.ports import View
    from app.settings import Settings


class Board:
    """Turns views into tiles; remembers passed limits, least and most, and the last minute of this craft.

    Attributes:
        moment: the newest.
        pages: of the craft now known; empty while there is none.
        extremes: least and most of each signal since this craft was found, or since a person began anew.
        trend: the last minute of each signal.
        raised: alarms that need somebody.
        choices: what people chose to see.
        limits: which limits hold for this craft.
        frozen_at: when the figures were stopped, None while they are live.
    """

    def __init__(self, now: float, choices: Choices | None = None, settings: Settings | None = None) -> None:
        self._began = now
        self._units = GlassUnits(settings)
        self._derive = Derive()
        self._craft: tuple[int, str | None] | None = None
        self._catalogue: Catalogue | None = None
        self._held: dict[str, Limit | None] = {}
        self._frozen: dict[str, Tile] = {}
        self.pages: tuple[SignalPage, ...] = ()
        self.extremes = Extremes(now)
        self.trend = Trend()
        self.raised = Alarms()
        self.choices = choices or Choices()
        self.limits = FamilyLimits()
        self.frozen_at: float | None = None
        self.moment: Moment

    def take(self, view: View, now: float) -> Moment:
        """Look at the newest view; call it once a tick."""
        waited = now - self._began
        sent = Moment(view, now, waited=waited)
        limited = self.limits.turn(view, sent, self.choices.limits)
        if limited is not view:
            sent = Moment(limited, now, waited=waited)
        self.moment = Moment(self._units.turn(self._derive.add(limited, sent)), now, waited=waited)
        self._same_craft(self.moment)
        self.extremes.take(self.moment)
        self.trend.take(self.moment)
        self.raised.take(self.moment)
        if not self.moment.heard:
            self.thaw()
        return self.moment

    @property
    def most(self) -> float | None:
        """Highest good engine speed (rev/min) that is remembered, None before one came."""
        held = self.extremes.of(self.moment.role("engine_speed") or "")
        return None if held is None else held[1]

    @property
    def shows_speed(self) -> bool:
        """Whether the engine speed is one of the big values."""
        return bool(self.pages) and self.moment.role("engine_speed") in self.pages[0].signals

    def tile(self, signal: str) -> Tile:
        """One signal, judged: of the newest moment, or as it was when the figures were stopped."""
        return self._frozen.get(signal) or self._live(signal)

    def look(self, signal: str) -> Look:
        """How one signal is now, whatever is stopped."""
        return self._live(signal).look

    def freeze(self) -> None:
        """Stop every figure where it is; nothing happens while nothing is live."""
        moment = self.moment
        if moment.catalogue is None or not moment.live:
            return
        tiles = [self._live(info.name) for info in moment.catalogue.signals]
        self._frozen = {each.signal: frozen_tile(each) for each in tiles}
        self.frozen_at = moment.now

    def thaw(self) -> None:
        """Live again."""
        self._frozen = {}
        self.frozen_at = None

    def alarms(self) -> list[str]:
        """Labels of the signals that are in alarm now, whatever is stopped."""
        if self.moment.catalogue is None:
            return []
        limited = [info for info in self.moment.catalogue.signals if info.limits]
        return [info.label for info in limited if self._live(info.name).look is Look.ALARM]

    def wear(self, settings: Settings) -> None:
        """Other units from the next view on; least, most and the last minute begin anew with them."""
        self._units.choose(settings)

    def lines(self) -> tuple[str, ...]:
        """The signals of the chart."""
        catalogue = self.moment.catalogue
        return () if catalogue is None else chart_lines(catalogue, self.choices.chart(catalogue.family))

    def choose(self, kind: str, names: tuple[str, ...] | None) -> None:
        """Keep a choice for this family; see Choices.keep."""
        catalogue = self.moment.catalogue
        if catalogue is not None:
            self.choices.keep(kind, catalogue.family, names)
            self.pages = signal_pages(catalogue, self.choices.six(catalogue.family))

    def _live(self, signal: str) -> Tile:
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
        shown = tile(info, value, quality, moment.now, limit)
        row = BY_NAME.get(signal)
        return shown if row is None else derived_tile(shown, row, bad_input(row, moment))

    def _same_craft(self, moment: Moment) -> None:
        if moment.catalogue is None:
            return
        serial = moment.snapshot.craft.serial if moment.snapshot and moment.snapshot.craft else None
        known = self._craft
        other = known is None or known[0] != moment.catalogue.number
        other = other or (serial is not None and known is not None and known[1] not in (None, serial))
        if moment.catalogue is not self._catalogue:
            # What is kept is in the units of then; a person may choose others at any time.
            other = other or self._catalogue is None or _units(moment.catalogue) != _units(self._catalogue)
            self._catalogue = moment.catalogue
        if other:
            self.pages = signal_pages(moment.catalogue, self.choices.six(moment.catalogue.family))
            self._held.clear()
            self.extremes.reset(moment.now)
            self.trend.clear()
            self.raised.clear()
            self.thaw()
        self._craft = (moment.catalogue.number, serial or (known[1] if known and not other else None))


def _units(catalogue: Catalogue) -> list[tuple[str, str]]:
    return [(info.name, info.unit) for info in catalogue.signals]
