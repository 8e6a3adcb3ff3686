"""Alarms: what is beyond an alarm limit for long enough to need somebody, until that somebody has seen it.

Normal → raised → seen, or over before it was seen; an alarm that is over stays until it was seen. A value
that is not known any more does not end an alarm. What comes while the engine rests does not take the whole
glass: nobody rides then, and the tiles say it too.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.alarm_table import Patience, patience
from app.engine_words import RUNNING_ABOVE
from app.judge import judge
from app.reading import Quality
from app.show import figure, limit_words, unit_words

if TYPE_CHECKING:
    from app.messages import Limit, SignalInfo
    from app.moment import Moment

ALARM = "alarm"


class Alarm:
    """One, from raised until it is over and seen.

    Attributes:
        info: of the signal.
        limit: the one that was passed first.
        raised_at: seconds.
        first: nothing else was raised and not over when it came.
        shown: the engine ran meanwhile: it takes the whole glass until it is seen.
        over: back inside the limit.
        seen: somebody has touched that they saw it.
        worst: the value farthest beyond the limit.
    """

    def __init__(self, info: SignalInfo, limit: Limit, value: float, now: float, *, first: bool) -> None:
        self.info, self.limit, self.raised_at, self.first = info, limit, now, first
        self.shown = self.over = self.seen = False
        self.worst = value

    def follow(self, value: float) -> None:
        """A good value beyond the limit."""
        further = value > self.worst if self.limit.side == "above" else value < self.worst
        if further:
            self.worst = value

    @property
    def worst_words(self) -> str:
        """The worst value with its unit."""
        return f"{figure(self.worst, self.info.decimals)} {unit_words(self.info.unit)}".strip()


class _Watch:
    """Of one signal: the limit it is beyond, since when it is beyond or inside, and its alarm."""

    __slots__ = ("alarm", "beyond_since", "inside_since", "limit", "limits", "patience")

    def __init__(self, info: SignalInfo) -> None:
        self.limits = tuple(limit for limit in info.limits if limit.severity == ALARM)
        self.patience: Patience = patience(info)
        self.limit: Limit | None = None
        self.beyond_since: float | None = None
        self.inside_since: float | None = None
        self.alarm: Alarm | None = None


class Alarms:
    """Every alarm of the craft that is there.

    Attributes:
        events: what happened since it was emptied last, oldest first: ("raised", "over", "seen") and which.
    """

    def __init__(self) -> None:
        self._watches: dict[str, _Watch] = {}
        self.events: list[tuple[str, Alarm]] = []

    def clear(self) -> None:
        """Another craft."""
        self._watches = {}

    def take(self, moment: Moment) -> None:
        """Look at every signal that has an alarm limit; call it once a tick."""
        if moment.catalogue is None:
            return
        speed = moment.number("engine_speed")
        running = speed is not None and speed > RUNNING_ABOVE
        cranked = speed is not None and 0 < speed <= RUNNING_ABOVE  # limits are not those of a starter
        judged = moment.heard and not cranked
        for info in moment.catalogue.signals:
            if any(limit.severity == ALARM for limit in info.limits):
                watch = self._watches.get(info.name) or self._watches.setdefault(info.name, _Watch(info))
                self._look(watch, info, _good(moment, info) if judged else None, speed, moment.now)
                if running and watch.alarm is not None and not watch.alarm.over:
                    watch.alarm.shown = True

    def see(self, alarm: Alarm) -> None:
        """Somebody saw it."""
        if not alarm.seen:
            alarm.seen = True
            self.events.append(("seen", alarm))
            self._forget(alarm)

    @property
    def standing(self) -> list[Alarm]:
        """All that are not over, or not seen; the first that came leads."""
        every = [watch.alarm for watch in self._watches.values() if watch.alarm is not None]
        return sorted(every, key=lambda alarm: alarm.raised_at)

    @property
    def unseen(self) -> list[Alarm]:
        """Those that want the whole glass, the newest that is not over first."""
        waiting = [alarm for alarm in self.standing if alarm.shown and not alarm.seen]
        return sorted(waiting, key=lambda alarm: (alarm.over, -alarm.raised_at))

    def _look(
        self, watch: _Watch, info: SignalInfo, value: float | None, speed: float | None, now: float
    ) -> None:
        known = value is not None and (
            speed is not None or all(limit.engine_above is None for limit in watch.limits)
        )
        if not known or value is None:
            watch.beyond_since = watch.inside_since = None  # without a gap, or it does not count
            return
        watch.limit = judge(value, watch.limits, speed, held=watch.limit, deadband=watch.patience.deadband)
        if watch.limit is None:
            watch.beyond_since = None
            watch.inside_since = now if watch.inside_since is None else watch.inside_since
            self._inside(watch, now)
        else:
            watch.inside_since = None
            watch.beyond_since = now if watch.beyond_since is None else watch.beyond_since
            self._beyond(watch, info, watch.limit, value, now)

    def _inside(self, watch: _Watch, now: float) -> None:
        alarm, since = watch.alarm, watch.inside_since
        if alarm is not None and since is not None and not alarm.over and now - since >= watch.patience.off_s:
            alarm.over = True
            self.events.append(("over", alarm))
            self._forget(alarm)

    def _beyond(self, watch: _Watch, info: SignalInfo, limit: Limit, value: float, now: float) -> None:
        alarm = watch.alarm
        if alarm is not None and not alarm.over:
            alarm.follow(value)
            return
        if watch.beyond_since is None or now - watch.beyond_since < watch.patience.on_s:
            return
        first = not any(not other.over for other in self.standing)
        if alarm is not None:  # it is back before anybody saw that it had been there
            alarm.over = False
            alarm.follow(value)
        else:
            watch.alarm = Alarm(info, limit, value, now, first=first)
        assert watch.alarm is not None
        self.events.append(("raised", watch.alarm))

    def _forget(self, alarm: Alarm) -> None:
        """An alarm is done with once it is over and was seen, or never needed to be."""
        if alarm.over and (alarm.seen or not alarm.shown):
            self._watches[alarm.info.name].alarm = None


def _good(moment: Moment, info: SignalInfo) -> float | None:
    value = moment.value(info.name)
    if value is None or moment.quality(info.name) is not Quality.GOOD:
        return None
    return float(value.value) if isinstance(value.value, int | float) else None


def alarm_words(alarm: Alarm) -> str:
    """Which limit was passed, and whose it is."""
    return limit_words(alarm.info, alarm.limit)
