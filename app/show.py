"""How one signal is put into words and figures on the glass."""

from __future__ import annotations

import enum
import math
from typing import TYPE_CHECKING

import msgspec

from app.reading import Quality

if TYPE_CHECKING:
    from collections.abc import Sequence

    from app.derived_table import Row
    from app.messages import Limit, SignalInfo, Value


class Look(enum.StrEnum):
    """What a tile says about its value before anybody reads the figure."""

    GOOD = "good"
    WATCH = "watch"
    ALARM = "alarm"
    STALE = "stale"
    NOT_AVAILABLE = "not_available"
    ERROR = "error"
    OUT_OF_RANGE = "out_of_range"
    WAITING = "waiting"
    FROZEN = "frozen"
    """Stopped by a person: as it was then, whatever it is now."""


UNITS = {"degC": "°C", "degF": "°F", "deg": "°", "lambda": "λ"}
"""Units that a DBC file spells out; any other stands as it is."""


_INSTEAD = {
    Quality.NOT_AVAILABLE: (Look.NOT_AVAILABLE, "not sent", "or not fitted"),
    Quality.ERROR: (Look.ERROR, "sensor fault", "says the controller"),
}
"""What stands in place of a value that the sender itself disowns."""


class Tile(msgspec.Struct, frozen=True):
    """One signal, ready to be drawn.

    Attributes:
        signal: its name.
        label: what it is.
        word: its state in one word beside the label; empty where ``main`` says it.
        main: the figure, or the words that stand in its place.
        unit: of the figure; empty beside words.
        note: one short line below, may be left out where there is no room unless ``main`` is a figure that
            is not to be trusted.
        look: see Look.
        figure: ``main`` is a number, to be drawn as large as there is room.
    """

    signal: str
    label: str
    word: str
    main: str
    unit: str
    note: str
    look: Look
    figure: bool

    @property
    def text(self) -> str:
        """The value in one line."""
        return f"{self.main} {self.unit}".strip()


def figure(value: float, decimals: int) -> str:
    """A number with fixed decimals; never "-0"."""
    text = f"{value:.{decimals}f}"
    return text.removeprefix("-") if float(text) == 0 else text


def unit_words(unit: str) -> str:
    """A DBC unit as people write it."""
    return UNITS.get(unit, unit)


def age_words(seconds: float) -> str:
    """An age in the largest whole unit: "4 s", "3 min", "2 h"; never below "1 s"."""
    if seconds < 60:
        return f"{max(1, int(seconds))} s"
    if seconds < 3600:
        return f"{int(seconds // 60)} min"
    return f"{int(seconds // 3600)} h"


def value_words(info: SignalInfo, value: float | str | None) -> str:
    """A value with its unit in one line; empty where there is none."""
    if value is None:
        return ""
    if isinstance(value, str):
        return value
    return f"{figure(value, info.decimals)} {unit_words(info.unit)}".strip()


def limit_words(info: SignalInfo, limit: Limit) -> str:
    """Which limit was passed and whose it is: "max 95 · generic default"."""
    side = "max" if limit.side == "above" else "min"
    whole = float(limit.value).is_integer()
    number = figure(limit.value, 0 if whole else max(1, info.decimals))
    return f"{side} {number} · {whose(limit)}"


def whose(limit: Limit) -> str:
    """Where a limit comes from, in two words."""
    return "this craft" if limit.own else "generic default" if limit.generic else "family data"


def tile(
    info: SignalInfo, value: Value | None, quality: Quality | None, now: float, limit: Limit | None
) -> Tile:
    """Put one signal into a tile.

    Args:
        info: what the signal is.
        value: the newest one, None if none ever came.
        quality: as the glass judges it now (app.moment), None if no value ever came.
        now: seconds on CLOCK_MONOTONIC.
        limit: the limit a GOOD value has passed (app.judge), None if inside.
    """
    if value is None or quality is None:
        return _words(info, Look.WAITING, "waiting")
    if quality in _INSTEAD:
        return _words(info, *_INSTEAD[quality])
    if quality is Quality.STALE:
        known = value_words(info, value.value) if value.quality in (Quality.GOOD, Quality.STALE) else ""
        note = f"was {known}" if known else ""
        return _words(info, Look.STALE, f"no data {age_words(now - value.at)}", note)
    if quality is Quality.OUT_OF_RANGE:
        return _valued(info, value.value, Look.OUT_OF_RANGE, note="out of range")
    if limit is None:
        return _valued(info, value.value, Look.GOOD)
    return _valued(info, value.value, Look(limit.severity), limit.severity, limit_words(info, limit))


def lost_tile(info: SignalInfo) -> Tile:
    """A signal of a craft that is not known at this moment: the bus process was started again."""
    return _words(info, Look.STALE, "no data")


_INPUT = {
    Quality.ERROR: "sensor fault",
    Quality.NOT_AVAILABLE: "not sent",
    Quality.OUT_OF_RANGE: "out of range",
    Quality.STALE: "no data",
}


def derived_tile(shown: Tile, row: Row, bad: tuple[str, Quality] | None) -> Tile:
    """Say of a worked-out value how it is worked out, or which input it cannot be worked out without.

    Args:
        shown: as for any signal.
        row: how it is worked out.
        bad: label and quality of the worst input, None if all are good.
    """
    if bad is not None:
        label, quality = bad
        main = shown.main if quality is Quality.STALE else "not known"
        return msgspec.structs.replace(
            shown, word="", main=main, unit="", note=f"{label}: {_INPUT[quality]}", figure=False
        )
    if shown.look is Look.NOT_AVAILABLE:
        return msgspec.structs.replace(shown, main="not known", note=row.instead)
    return msgspec.structs.replace(shown, note=row.formula) if shown.look is Look.GOOD else shown


def frozen_tile(shown: Tile) -> Tile:
    """A tile that was stopped: its words stay, its look says only that they are not live."""
    return msgspec.structs.replace(shown, look=Look.FROZEN)


def frozen_words(seconds: float, alarms: Sequence[str]) -> str:
    """The line over figures that were stopped; an alarm that is there now is told first."""
    if alarms:
        return f"FROZEN {age_words(seconds)} · ALARM NOW: {alarms[0]}"
    return f"FROZEN {age_words(seconds)} ago. These figures are not live."


def _words(info: SignalInfo, look: Look, main: str, note: str = "") -> Tile:
    return Tile(info.name, info.label, "", main, "", note, look, figure=False)


def _valued(info: SignalInfo, value: float | str | None, look: Look, word: str = "", note: str = "") -> Tile:
    if isinstance(value, str):
        words = value.strip() or "no words"  # a family's text may be blank; a tile may not
        return Tile(info.name, info.label, word, words, "", note, look, figure=False)
    if value is None or not math.isfinite(value):
        return Tile(info.name, info.label, word, "no number", "", note, look, figure=False)
    main = figure(value, info.decimals)
    return Tile(info.name, info.label, word, main, unit_words(info.unit), note, look, figure=True)
