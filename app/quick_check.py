"""The quick check before hire: the rules by which the rows of app.quick_table are read, and the verdict.

Unknown is never fit. What cannot be judged while the engine is off is said so and is no part of the verdict.
"""

from __future__ import annotations

import enum
from typing import TYPE_CHECKING

import msgspec

from app.engine_words import RUNNING_ABOVE
from app.judge import DEADBAND, judge
from app.messages import Limit
from app.quick_faults import being_read, faults_seen
from app.quick_row import Row, Seen, State, Verdict
from app.quick_table import TABLE, Number, Says
from app.reading import Quality
from app.show import age_words, unit_words, value_words
from app.units import limits_in

if TYPE_CHECKING:
    from collections.abc import Mapping

    from app.messages import SignalInfo
    from app.moment import Moment


NO_SPEED, TURNING, NO_DATA = "engine speed not known", "the engine is turning", "no data"
"""Why something is not known."""


class Engine(enum.StrEnum):
    """What the engine does, as far as the check must know."""

    OFF = "off"
    RUNNING = "running"
    NOT_KNOWN = "not known"


class Check(msgspec.Struct, frozen=True):
    """The check as it stands now.

    Attributes:
        engine: what it did meanwhile.
        rows: worst first, among equals in the order to mend them.
        reading: the faults are still being read: there is no verdict yet.
        held: passed limits by signal, for the next call; a value that trembles at its limit must not blink.
    """

    engine: Engine
    rows: tuple[Row, ...]
    reading: bool
    held: dict[str, Limit | None]

    @property
    def verdict(self) -> Verdict | None:
        """The worst row's; None while the faults are being read. A check of nothing is never fit."""
        if self.reading:
            return None
        return max((row.verdict for row in self.rows), key=list(Verdict).index, default=Verdict.LOOK)


def quick_check(moment: Moment, began: float, held: Mapping[str, Limit | None] | None = None) -> Check:
    """Look at everything.

    Args:
        moment: in the units of the glass.
        began: when a person asked for the check (CLOCK_MONOTONIC); faults read before do not count.
        held: what the last call returned for the same craft.
    """
    engine = engine_does(moment)
    kept: dict[str, Limit | None] = {}
    rows: list[Row] = []
    ages: list[tuple[SignalInfo, Quality | None]] = []
    faults = faults_seen(moment, began)
    for key, parts in TABLE:
        seen = []
        for part in parts:
            info = _info(moment, part)
            if info is None:
                continue
            ages.append((info, moment.quality(info.name)))
            if isinstance(part, Says):
                seen.append(_says(moment, part, info, engine))
            else:
                kept[info.name], one = _number(moment, part, info, engine, (held or {}).get(info.name))
                seen.append(one)
        if key == "faults":
            faults += seen
        elif seen:
            rows.append(Row(key, tuple(seen)))
    first = [Row("readings", (_ages(ages, live=moment.live),))] if ages else []
    first += [Row("faults", tuple(faults))] if faults else []
    rank = list(Verdict).index
    ordered = sorted([*first, *rows], key=lambda row: -rank(row.verdict))
    return Check(engine, tuple(ordered), being_read(moment, began), kept)


def engine_does(moment: Moment) -> Engine:
    """Off only if its speed is known zero and nothing says otherwise."""
    speed, said = moment.number("engine_speed"), (moment.text("engine_state") or "").lower()
    if speed == 0.0:
        return Engine.OFF if said in ("", "stopped") else Engine.NOT_KNOWN
    return Engine.RUNNING if speed is not None and speed > RUNNING_ABOVE else Engine.NOT_KNOWN


def _info(moment: Moment, part: Number | Says) -> SignalInfo | None:
    signal = (moment.role(part.role) if part.role else None) or part.name
    return moment.info(signal) if signal else None


def _number(
    moment: Moment, part: Number, info: SignalInfo, engine: Engine, held: Limit | None
) -> tuple[Limit | None, Seen]:
    """What was seen of a value, and the limit it has passed."""
    value = moment.value(info.name)
    why = _not_known(moment, info) or (_unclear(moment, engine) if part.rest else "")
    if why or value is None or not isinstance(value.value, int | float):
        return None, _unknown(part.key, info, why or "no number")
    text = value_words(info, value.value)
    key = part.running_key if part.running_key and engine is Engine.RUNNING else part.key
    own = tuple(info.limits) or limits_in(part.limits, part.unit, info.unit)
    more = limits_in(part.running if engine is Engine.RUNNING else (), part.unit, info.unit)
    if own is None or more is None:
        return None, _unknown(part.key, info, f"no limit is known in {unit_words(info.unit) or 'no unit'}")
    limits = (*own, *more)
    cannot = _cannot_judge(moment, part, info, limits, engine)
    if cannot is not None:
        return None, msgspec.structs.replace(cannot, text=cannot.text or text)
    span = 0.0 if info.low is None or info.high is None else info.high - info.low
    speed = moment.number("engine_speed")
    passed = judge(value.value, limits, speed, held=held, deadband=DEADBAND * span)
    if passed is None:
        return None, Seen(key, info.label, State.FINE, Verdict.FIT, text, info, limits)
    state = State.LOW if passed.side == "below" else State.HIGH
    verdict = Verdict.ASHORE if passed.severity == "alarm" else Verdict.LOOK
    return passed, Seen(key, info.label, state, verdict, text, info, (passed,))


def _cannot_judge(
    moment: Moment, part: Number, info: SignalInfo, limits: tuple[Limit, ...], engine: Engine
) -> Seen | None:
    """Whether its limits hold at this engine speed; None if it can be judged."""
    speeds = [limit.engine_above for limit in limits if limit.engine_above is not None]
    if speeds and (why := _unclear(moment, engine)):
        return _unknown(part.key, info, why)
    if not speeds or len(speeds) < len(limits):
        return None
    if engine is Engine.OFF:
        return Seen(part.key, info.label, State.NOT_NOW, Verdict.FIT, "")
    speed = moment.number("engine_speed")
    if speed is None or speed <= max(speeds):
        return _unknown(part.key, info, f"judged above {max(speeds):.0f} rev/min", State.TOO_SLOW)
    return None


def _says(moment: Moment, part: Says, info: SignalInfo, engine: Engine) -> Seen:
    value = moment.value(info.name)
    why = _not_known(moment, info) or (_unclear(moment, engine) if part.running else "")
    if why or value is None or not isinstance(value.value, str) or not value.value.strip():
        return _unknown(part.key, info, why or "no words")
    text = value.value.strip()
    if part.running and engine is Engine.OFF:
        return Seen(part.key, info.label, State.NOT_NOW, Verdict.FIT, text)
    if text.lower() == part.fine:
        return Seen(part.key, info.label, State.FINE, Verdict.FIT, text)
    verdict = part.bad.get(text.lower(), part.others)
    if verdict is None:
        return _unknown(part.key, info, f"“{text}” is not understood")
    return Seen(part.key, info.label, State.SAID, verdict, text)


def _unclear(moment: Moment, engine: Engine) -> str:
    """Why it is not known whether the engine stands or runs; empty if it is."""
    if engine is not Engine.NOT_KNOWN:
        return ""
    return NO_SPEED if moment.number("engine_speed") is None else TURNING


def _not_known(moment: Moment, info: SignalInfo) -> str:
    """Why a signal tells nothing now; empty if it does."""
    quality, value = moment.quality(info.name), moment.value(info.name)
    if quality is Quality.STALE and value is not None:
        return f"{NO_DATA} for {age_words(moment.now - value.at)}"
    return _WHY[quality]


_WHY = {
    None: "no value came yet",
    Quality.GOOD: "",
    Quality.STALE: NO_DATA,
    Quality.NOT_AVAILABLE: "not sent, or not fitted",
    Quality.ERROR: "sensor fault, says the controller",
    Quality.OUT_OF_RANGE: "its value is out of range",
}


def _unknown(key: str, info: SignalInfo, why: str, state: State = State.NOT_KNOWN) -> Seen:
    return Seen(key, info.label, state, Verdict.LOOK, why)


def _ages(ages: list[tuple[SignalInfo, Quality | None]], *, live: bool) -> Seen:
    """Whether every value of the rows is fresh; each signal has its own limit."""
    old = [info.label.lower() for info, quality in ages if quality in (None, Quality.STALE)]
    limits = sorted({info.max_age for info, _ in ages})
    lowest, highest = limits[0], limits[-1]
    what = f"old after {lowest:g} s" if lowest == highest else f"old after {lowest:g} to {highest:g} s"
    if not old:
        return Seen("readings", what, State.FINE, Verdict.FIT, f"{len(ages)} values")
    which = ", ".join(old) if len(old) <= NAMED else f"{len(old)} of {len(ages)}"
    return Seen("readings" if live else "tool", what, State.OLD, Verdict.LOOK, which)


NAMED = 2
"""So many old values are named; of more it is said how many."""
