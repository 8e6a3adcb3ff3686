"""What ride mode shows and says: three values, the strip, a mark, an alarm over the whole glass."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import msgspec

from app.alarm_table import advice
from app.alarms import alarm_words
from app.engine_words import link_state_words
from app.show import Look, Tile, lost_tile, unit_words

if TYPE_CHECKING:
    from app.alarms import Alarm
    from app.board import Board
    from app.moment import Moment
    from app.riding import Riding

SHOWN = 3
"""Values: more cannot be read at a glance (design rule)."""

BY_UNIT = ("engine_speed", "craft_speed")
"""Roles whose unit says what they are: it stands in place of the label."""

_FEW = {
    Look.STALE: ("no data", ""),
    Look.ERROR: ("fault", "its sensor"),
    Look.NOT_AVAILABLE: ("not sent", ""),
}
"""The longer words have no room in letters that can be read at the handlebar."""

MARKED_S = 1.5
"""How long the key says that it has marked."""

OVER = "It is over. Look ashore"
MANUAL = "The maker's manual goes first."


def ride_signals(board: Board) -> list[str]:
    """Which values: the first three of the six a person chose, else both speeds and the next of the six.

    What is beyond a limit takes the last places, alarms two, a watch one; the first stays whatever happens.
    """
    catalogue = board.moment.catalogue
    if catalogue is None or not board.pages:
        return []
    six = board.pages[0].signals
    if board.choices.six(catalogue.family) is None:
        speeds = [name for role in BY_UNIT if (name := board.moment.role(role)) is not None]
        six = tuple(dict.fromkeys((*six[:1], *speeds, *six)))
    names = list(six[:SHOWN])
    for look, least in ((Look.ALARM, 1), (Look.WATCH, SHOWN - 1)):
        worst = [info.name for info in catalogue.signals if info.limits and board.look(info.name) is look]
        unseen = [name for name in worst if name not in names]
        for place in range(len(names) - 1, least - 1, -1):
            if unseen and names[place] not in worst:
                names[place] = unseen.pop(0)
        if worst:
            break
    return names


def few_words(tile: Tile) -> Tile:
    """The same tile in words short enough for the handlebar; whose a limit is stands elsewhere."""
    few = msgspec.structs.replace(tile, word="", note=tile.note.partition(" · ")[0])
    if tile.look not in _FEW:
        return few
    main, note = _FEW[tile.look]
    return msgspec.structs.replace(few, main=main, note=note or few.note)


def ride_tile(tile: Tile, moment: Moment) -> Tile:
    """A tile with few words; the unit of a speed is its label."""
    info, few = moment.info(tile.signal), few_words(tile)
    if info is not None and tile.signal in [moment.role(role) for role in BY_UNIT]:
        unit = unit_words(info.unit)
        return msgspec.structs.replace(few, label=unit, unit="", note=few.note.removesuffix(f" {unit}"))
    return few


def ride_strip(moment: Moment, riding: Riding) -> str:
    """What stands beside the craft's name while the glass is locked."""
    if not moment.heard:
        return f"{link_state_words(moment)} · glass locked"
    if riding.may_open:
        return "At idle · hold to unlock"
    return "Under way · glass locked"


def mark_key(riding: Riding, *, marked: bool) -> str:
    """What stands on the key: that it has marked, or which mark comes next."""
    return f"Marked {riding.marks}" if marked else f"Mark {riding.marks + 1}"


def mark_body(number: int, board: Board, at: float) -> dict[str, Any]:
    """What the book keeps of a marked moment: every value that is known, as it was.

    Args:
        number: of the mark on this ride.
        board: what is known.
        at: seconds on CLOCK_MONOTONIC, when the finger came down.
    """
    moment = board.moment
    snapshot = moment.snapshot
    recording = None if snapshot is None else snapshot.recording
    body: dict[str, Any] = {"mark": number, "mono": round(at, 3), "values": values_now(board)}
    if recording is not None and recording.file:
        body |= {"recording": recording.file, "after_s": round(max(0.0, at - recording.started_at), 1)}
    return body


def values_now(board: Board) -> list[list[str]]:
    """Label and words of every value that is good at this moment."""
    catalogue = board.moment.catalogue
    if catalogue is None:
        return []
    tiles = [board.tile(info.name) for info in catalogue.signals]
    known = (Look.GOOD, Look.WATCH, Look.ALARM)
    return [[tile.label, tile.text] for tile in tiles if tile.look in known]


def alarm_body(event: str, alarm: Alarm, board: Board) -> dict[str, Any]:
    """What the book keeps of an alarm that was raised, seen, or is over."""
    body: dict[str, Any] = {
        "event": event,
        "what": alarm.info.label,
        "worst": alarm.worst_words,
        "limit": alarm_words(alarm),
        "first": alarm.first,
        "lasted_s": round(board.moment.now - alarm.raised_at, 1),
    }
    return body | ({"values": values_now(board)} if event == "raised" else {})


class AlarmPageWords(msgspec.Struct, frozen=True):
    """An alarm over the whole glass.

    Attributes:
        tile: the value as it is now.
        do: at once, at most 30 letters.
        limit: which limit and whose, and how bad it was if it is over or not known any more.
        over: it is inside the limit again.
        key: of the key that says it was seen.
    """

    tile: Tile
    do: str
    limit: str
    over: bool
    key: str


def alarm_page(unseen: list[Alarm], board: Board) -> AlarmPageWords:
    """Say the alarm that leads ``unseen``, and how many wait behind it."""
    alarm, *others = unseen
    known = board.moment.info(alarm.info.name) is not None
    shown = ride_tile(board.tile(alarm.info.name), board.moment) if known else lost_tile(alarm.info)
    first = "First of all: " if alarm.first and others else ""
    said = f"It was {alarm.worst_words}. " if alarm.over or shown.look is Look.STALE else first
    return AlarmPageWords(
        msgspec.structs.replace(
            shown, label=alarm.info.label, note="", look=Look.GOOD if alarm.over else Look.ALARM
        ),
        OVER if alarm.over else advice(alarm.info, alarm.limit),
        f"{said}{alarm_words(alarm)}. {MANUAL}",
        alarm.over,
        "Seen" if not others else f"Seen · {len(others)} more",
    )
