"""What the quick check before hire says: the verdict, a row for each part, and what goes into the book."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import msgspec

from app.fault_rows import sentence
from app.quick_check import NO_DATA, TURNING, Engine
from app.quick_row import UNKNOWN, State, Verdict
from app.show import figure, unit_words, whose

if TYPE_CHECKING:
    from collections.abc import Sequence

    from app.messages import Limit, SignalInfo
    from app.quick_check import Check
    from app.quick_row import Row, Seen

SHAPES = {Verdict.FIT: "tick", Verdict.LOOK: "triangle", Verdict.ASHORE: "square"}

TITLES = {Verdict.FIT: "Fit", Verdict.LOOK: "Look", Verdict.ASHORE: "Keep\nashore"}

GOOD = {
    "battery": "battery {}",
    "charging": "battery {}",
    "lanyard": "lanyard {}",
    "key_level": "key {}",
    "limited_power": "power {}",
    "check_engine": "check-engine warning {}",
    "coolant": "coolant {}",
    "exhaust": "exhaust {}",
    "over_temperature": "over-temperature warning {}",
    "oil_pressure": "oil pressure {}",
    "oil_level": "low-oil-level warning {}",
    "oil_warning": "low-oil-pressure warning {}",
}
"""What stands in a row where all is well."""

SAID = {"limited_power": "power is limited: {}"}
"""What stands there instead where the craft says that something is the matter."""

LIMIT_OF = {"key": "key"}
"""Rows in which it must be said whose limit it is."""

IN_HEAD = 2
"""So many have room on the first line of a row."""

_BAD = {State.LOW: ("low", "too low"), State.HIGH: ("high", "too high")}
_HOT = ("hot", "too hot")
_ENGINE = {"battery": ", engine off", "charging": ", engine running"}
_IN_HEAT = frozenset({"coolant", "exhaust"})

_ASK = "Show a technician."

TODO: dict[tuple[str, State], str] = {
    ("readings", State.OLD): "Key on? Plug in?",
    ("tool", State.OLD): "Wait, the tool starts again.",
    ("faults", State.STORED): "Show a technician.",
    ("faults", State.NOT_READ): "Key on, plug in, check again.",
    ("battery", State.LOW): "Charge the battery.",
    ("battery", State.HIGH): "Engine off, show a technician.",
    ("charging", State.LOW): "Not charging: technician.",
    ("charging", State.HIGH): "Engine off, show a technician.",
    ("key_level", State.LOW): "Put a valid key in.",
    ("lanyard", State.SAID): "Clip the lanyard in.",
    ("limited_power", State.SAID): "Show a technician.",
    ("check_engine", State.SAID): "Show a technician.",
    ("coolant", State.HIGH): "Engine off. Cap stays shut.",
    ("exhaust", State.HIGH): "Engine off, let it cool. Hands off.",
    ("over_temperature", State.SAID): "Engine off, let it cool. Hands off.",
    ("oil_level", State.SAID): "Oil by the maker's manual.",
    ("oil_pressure", State.LOW): "Engine off at once. Technician.",
    ("oil_pressure", State.TOO_SLOW): "Engine off, check again.",
    ("oil_warning", State.SAID): "Engine off at once. Technician.",
}
"""What to do next, by what was seen. Common practice, no source."""


class RowWords(msgspec.Struct, frozen=True):
    """One row.

    Attributes:
        shape: see screens.widgets.sign; "" = not judged now.
        head: what was seen, on one line.
        under: the limit with its source, and what to do.
    """

    shape: str
    head: str
    under: str


class QuickWords(msgspec.Struct, frozen=True):
    """The page.

    Attributes:
        title: the verdict, may have two lines.
        shape: of the verdict; "" while there is none.
        said: one or two sentences below it.
        rows: worst first.
    """

    title: str
    shape: str
    said: str
    rows: tuple[RowWords, ...]


def quick_words(check: Check) -> QuickWords:
    """Say it."""
    rows = tuple(row_words(row) for row in check.rows)
    if not rows:
        return QuickWords("No\ncraft", "", "Nothing is heard that could be checked. Key on? Plug in?", ())
    if check.verdict is None:
        return QuickWords("One\nmoment", "", "Faults are being read. Leave the key on, the plug in.", rows)
    return QuickWords(TITLES[check.verdict], SHAPES[check.verdict], _said(check), rows)


def row_words(row: Row) -> RowWords:
    """One row."""
    worst = row.worst
    if worst.state is State.READING:
        return RowWords("", "Faults: being read", "It changes nothing on the craft.")
    if row.verdict is not Verdict.FIT:
        parts = (_limit(worst), _more(worst), todo(worst))
        return RowWords(SHAPES[row.verdict], _capital(_bad(worst)), " ".join(part for part in parts if part))
    judged = [one for one in row.seen if one.state is not State.NOT_NOW]
    if not judged:
        head = _capital(f"{worst.what}: not judged, engine off")
        return RowWords("", head, "It shows only while the engine runs.")
    return RowWords("tick", _good(row, judged), _good_under(row, judged))


def todo(seen: Seen) -> str:
    """What to do about it."""
    known = TODO.get((seen.key, seen.state))
    if known is not None:
        return known
    if seen.text == TURNING:
        return "Wait, check again."
    return "" if seen.text.startswith(NO_DATA) else _ASK  # the age of all values says what to do


def entry_body(check: Check) -> dict[str, Any]:
    """What the book keeps of it: JSON values only."""
    rows = []
    for row in check.rows:
        said = row_words(row)
        facts = {"row": row.key, "verdict": row.verdict.value, "known": row.known}
        rows.append({**facts, "seen": said.head, "limit": said.under})
    verdict = check.verdict
    return {"verdict": "" if verdict is None else verdict.value, "engine": check.engine.value, "rows": rows}


def band_words(limits: tuple[Limit, ...], info: SignalInfo) -> str:
    """Where a value is fine: "12.2 to 15 V"; of several limits on one side the tightest."""
    watch = [limit for limit in limits if limit.severity == "watch"] or list(limits)
    low = max((limit.value for limit in watch if limit.side == "below"), default=None)
    high = min((limit.value for limit in watch if limit.side == "above"), default=None)
    unit = unit_words(info.unit)
    if low is not None and high is not None:
        return f"{_number(low, info)} to {_number(high, info)} {unit}"
    if low is not None:
        return f"at least {_number(low, info)} {unit}"
    return "" if high is None else f"at most {_number(high, info)} {unit}"


def source_words(limits: Sequence[Limit]) -> str:
    """Whose the limits are."""
    return " and ".join(sorted({whose(limit) for limit in limits}))


def _said(check: Check) -> str:
    if check.verdict is not Verdict.FIT:
        do = todo(check.rows[0].worst)
        lead = "Not for hire." if check.verdict is Verdict.ASHORE else "Not yet for hire."
        return f"{lead} {do}"
    if check.engine is not Engine.OFF:
        return "Checked with the engine running. Battery at rest was not checked."
    left = [one.what.lower() for row in check.rows for one in row.seen if one.state is State.NOT_NOW]
    return "Checked with the engine off." + (f" Not checked: {', '.join(left)}." if left else "")


def _bad(seen: Seen) -> str:
    if seen.state in _BAD:
        words = _HOT if seen.key in _IN_HEAT else _BAD[seen.state]
        how = words[seen.verdict is Verdict.ASHORE]
        return f"{seen.what} {how}: {seen.text}{_ENGINE.get(seen.key, '')}"
    if seen.state is State.SAID:
        return _capital(SAID.get(seen.key, GOOD[seen.key]).format(seen.text.lower()))
    if seen.state is State.STORED:
        return f"{seen.what}: {seen.text}"
    if seen.state is State.OLD:
        return f"Values old: {seen.text}"
    return f"{seen.what}: {'not known' if seen.key != 'faults' else seen.text}"


def _more(seen: Seen) -> str:
    if seen.state in UNKNOWN and seen.key not in ("faults", "readings", "tool"):
        return sentence(seen.text)
    return seen.more


def _limit(seen: Seen) -> str:
    """Which limit was passed, and whose it is."""
    if seen.key in ("readings", "tool"):
        return f"{_capital(seen.what)} · family data."
    if seen.info is None or not seen.limits:
        return ""
    passed = seen.limits[0]
    side = "Over" if passed.side == "above" else "Under"
    number = f"{_number(passed.value, seen.info)} {unit_words(seen.info.unit)}"
    return f"{side} {number} · {source_words(seen.limits)}."


def _good(row: Row, judged: list[Seen]) -> str:
    if row.key == "readings":
        return f"Values: all {judged[0].text} are fresh"
    if judged[0].key == "faults":
        return "Faults: none stored"
    return _capital(", ".join(_fine(one) for one in judged[:IN_HEAD]))


def _good_under(row: Row, judged: list[Seen]) -> str:
    if row.key == "readings":
        return _limit(judged[0])
    if judged[0].key == "faults":
        return judged[0].more
    rest = [_fine(one) for one in judged[IN_HEAD:]]
    held = [(one.info, one.limits) for one in judged if one.info is not None and one.limits]
    bands = [band for info, limits in held if (band := band_words(limits, info))]
    bands = [f"{LIMIT_OF[row.key]} {band}" for band in bands] if row.key in LIMIT_OF else bands
    if len({band.partition(" ")[0] for band in bands}) == 1:  # "at most" is said once
        bands[1:] = [band.removeprefix("at most ").removeprefix("at least ") for band in bands[1:]]
    limit = f"{', '.join(bands)} · {source_words([one for _, many in held for one in many])}" if bands else ""
    return " ".join(_capital(f"{text}.") for text in (", ".join(rest), limit) if text)


def _fine(seen: Seen) -> str:
    text = seen.text if seen.info is not None else seen.text.lower()
    return GOOD[seen.key].format(text) + _ENGINE.get(seen.key, "")


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _number(value: float, info: SignalInfo) -> str:
    return figure(value, 0 if float(value).is_integer() else max(1, info.decimals))
