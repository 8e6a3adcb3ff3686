"""The line on top of every screen: which craft, what its engine does, and what matters beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from app.bench_words import signed_in
from app.engine_words import engine_words
from app.foreign import foreign_lines
from app.messages import LinkState, Mode
from app.show import unit_words, value_words

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from app.alarms import Alarm
    from app.messages import Craft
    from app.moment import Moment


class Box(msgspec.Struct, frozen=True):
    """One fact at the right end of the strip.

    Attributes:
        kind: what it is about.
        text: the fact.
        rank: 0 stays whatever happens; the highest goes first when there is no room.
        watch: something is wrong with it.
        alarm: it is an alarm; goes before ``watch``.
    """

    kind: str
    text: str
    rank: int
    watch: bool = False
    alarm: bool = False


class Strip(msgspec.Struct, frozen=True):
    """The whole line, boxes from left to right."""

    craft: str
    engine: str
    boxes: tuple[Box, ...]


def strip(moment: Moment, *, with_speed: bool, alarms: Sequence[Alarm] = ()) -> Strip:
    """Say it; only what is known now gets a box.

    Args:
        moment: see Moment.
        with_speed: False where the page itself shows the engine speed large.
        alarms: that need somebody, or did.
    """
    boxes = (
        _alarm(moment, alarms),
        _role(moment, "engine_speed", 2) if with_speed else None,
        _role(moment, "battery", 3),
        _key(moment),
        _foreign(moment),
        _recording(moment),
        _operator(moment),
        _mode(moment),
    )
    craft = None if moment.snapshot is None else moment.snapshot.craft
    return Strip(craft_words(craft), engine_words(moment), tuple(box for box in boxes if box))


def fit(boxes: Sequence[Box], width: Callable[[Box], float], room: float) -> tuple[Box, ...]:
    """Leave out the least important boxes until the rest has room; rank 0 is never left out."""
    kept = list(boxes)
    while kept and sum(map(width, kept)) > room:
        least = max(kept, key=lambda box: box.rank)
        if least.rank == 0:
            break
        kept.remove(least)
    return tuple(kept)


def craft_words(craft: Craft | None) -> str:
    """A craft's name: the family's title as far as its folder name goes, and the controller serial."""
    if craft is None:
        return "No craft"
    first = craft.title.split(maxsplit=1)[0] if craft.title.split() else craft.family
    short = first if first.lower() == craft.family.lower() else (craft.title.strip() or craft.family)
    return f"{short} {craft.serial}" if craft.serial else short


def clock_words(seconds: float) -> str:
    """A length of time as 06:42, from an hour on as 1:06:42."""
    whole = max(0, int(seconds))
    hours, minutes = divmod(whole // 60, 60)
    return f"{hours}:{minutes:02}:{whole % 60:02}" if hours else f"{minutes:02}:{whole % 60:02}"


def _alarm(moment: Moment, alarms: Sequence[Alarm]) -> Box | None:
    """The first that took the whole glass and is not over, and how many more; of a craft that is heard."""
    if not moment.heard:
        return None
    now = [alarm for alarm in alarms if alarm.shown and not alarm.over]
    more = f" +{len(now) - 1}" if len(now) > 1 else ""
    return Box("alarm", f"ALARM {now[0].info.label}{more}", 0, alarm=True) if now else None


def _role(moment: Moment, role: str, rank: int) -> Box | None:
    number, signal = moment.number(role), moment.role(role)
    info = None if signal is None else moment.info(signal)
    return None if number is None or info is None else Box(role, value_words(info, number), rank)


def _key(moment: Moment) -> Box | None:
    number, signal = moment.number("key_level"), moment.role("key_level")
    info = None if signal is None else moment.info(signal)
    if number is None or info is None:
        return None
    return Box("key_level", f"Key {number:.0f} {unit_words(info.unit)}".strip(), 5)


def _foreign(moment: Moment) -> Box | None:
    """A controller of this craft is not one that the family's limits are made for."""
    return Box("foreign", "Modified", 1, watch=True) if moment.heard and foreign_lines(moment) else None


def _recording(moment: Moment) -> Box | None:
    snapshot = moment.snapshot
    if snapshot is None or not moment.live:
        return None
    recording = snapshot.recording
    if recording is not None and recording.trouble:
        return Box("recording", "Not recording", 1, watch=True)
    if recording is not None and recording.file:
        return Box("recording", f"Recording {clock_words(moment.now - recording.started_at)}", 4)
    craft_heard = snapshot.link.state is LinkState.FOUND
    return (
        Box("recording", "Not recording", 1, watch=True)
        if craft_heard and snapshot.mode is not Mode.REPLAY
        else None
    )


def _operator(moment: Moment) -> Box | None:
    operator = signed_in(moment)
    return None if operator is None else Box("operator", f"{operator.name}, {operator.role.value}", 4)


def _mode(moment: Moment) -> Box | None:
    mode = Mode.LIVE if moment.snapshot is None else moment.snapshot.mode
    return None if mode is Mode.LIVE else Box("mode", mode.value.upper(), 0)
