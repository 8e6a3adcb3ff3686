"""What the gate itself heard of one craft: fresh values, how long the engine stands, whose controller it is.

Only what the interlock needs is decoded here. What speaks for safety is forgotten at every doubt; what speaks
against it (another tester, an engine that turned) is not.
"""

from __future__ import annotations

import dataclasses
import enum
import math
from collections import deque
from typing import TYPE_CHECKING

from app.interlock import CRANKED_FOR_S, PROVED_ABOVE
from app.reading import Quality, plain
from bus.decode import key_of
from bus.roles import PULLED, PUMPS, SPEED_AGE_S, SPEEDS

if TYPE_CHECKING:
    from collections.abc import Callable

    from app.reading import Reading
    from bus.family import Family
    from bus.frame import Frame

PERIODS = 3
"""A fact is fresh for three of its message's periods, engine speed never longer than SPEED_AGE_S."""

OTHER_AGE_S = 1.0
"""Longest age of any other fact, whatever its message's period."""

ALIVE_S = 0.5
"""The controller not heard for this long: key off or plug out."""

CROWD_S = 2.0
CROWD_SHARE, CROWD_MORE = 1.5, 4
"""More than so many times the frames that are due in CROWD_S, and so many besides, are from two senders: half
as many again are above any jitter, and the rest is what a short standstill of this machine lets come at once.
Our own figures."""

VISIT_GAP_S = 600.0
"""Not heard for this long: another visit (our own figure)."""

RAN_FOR_S = 30.0
RUNNING_ABOVE = 500.0
"""rev/min for this long burn off what fuel tests left in the cylinders. Slower, and above PROVED_ABOVE, is
cranking: below any idle speed, whatever the plugs."""

WATCHED = (
    "engine_speed",
    "engine_speed_second",
    "battery",
    "lanyard",
    "start_switch",
    "manifold_pressure",
    "barometric_pressure",
    "fuel_pump",
    "alive",
    "serial",
)
"""Roles the interlock needs; nothing else is decoded here."""


class Event(enum.Enum):
    """Something after which earlier promises count no more, or a proof came."""

    AWAY = enum.auto()
    """Key off or plug out: the controller was not heard for a while."""
    OTHER = enum.auto()
    """Another controller than the last one whose serial was known."""
    TURNED = enum.auto()
    """A source told an engine speed above zero."""
    WORKS = enum.auto()
    """Both sources tell an engine speed above PROVED_ABOVE."""
    RAN = enum.auto()
    """The engine ran RAN_FOR_S without a gap, by both sources."""
    PUMPED = enum.auto()
    """The fuel pump runs."""


@dataclasses.dataclass(frozen=True)
class _Seen:
    value: float | str | None
    quality: Quality
    at: float


class Heard:
    """Follows the frames of one family's craft.

    Attributes:
        serial: of the controller with the family's name before it, None while unknown.
        roles: the watched roles this family offers.
        stopped_since: both sources say zero without a gap since then; None = not known to stand.
        listening_since: the craft is heard without a gap since then.
        tester_at: when another tester was last heard.
        lanyard_proved: the lanyard was seen pulled on this visit.
        cranked_at: when the engine was last cranked for CRANKED_FOR_S without a gap, by both sources, and has
            not run since; None = it was not, or that counts no more.

    Args:
        family: of the craft.
        testers: identifiers that only a tester sends.
    """

    def __init__(self, family: Family, testers: frozenset[int]) -> None:
        self._name = family.name
        self._decoder = family.decoder()
        self._role_of = {family.roles[role]: role for role in WATCHED if role in family.roles}
        self.roles = frozenset(self._role_of.values())
        self._key_of: Callable[[int], int] = key_of if family.identifiers == "pgn" else int
        self._keys = {self._key_of(ident) for ident in family.idents_of(self._role_of)}
        self._max_age = {
            role: min(SPEED_AGE_S if role in SPEEDS else OTHER_AGE_S, PERIODS * family.period_s(signal))
            for signal, role in self._role_of.items()
        }
        self._crowd = {
            role: int(CROWD_SHARE * CROWD_S / family.period_s(signal)) + CROWD_MORE
            for signal, role in self._role_of.items()
            if role in SPEEDS and math.isfinite(family.period_s(signal))
        }
        self._testers = testers
        self.serial: str | None = None
        self._last_serial: str | None = None
        self._frame_at = float("-inf")
        self._speed_at = float("-inf" if "engine_speed" in self.roles else "inf")
        self._away = False
        self.tester_at = float("-inf")
        self.lanyard_proved = False
        self.forget()

    def forget(self) -> None:
        """Everything heard so far that speaks for safety counts no more; only what comes from now on does."""
        self._seen: dict[str, _Seen] = {}
        self.stopped_since: float | None = None
        self._ran_since: float | None = None
        self._crank_since: float | None = None
        self.cranked_at: float | None = None
        self._alive_changed: float | None = None
        self._arrivals = {role: deque[float](maxlen=crowd + 1) for role, crowd in self._crowd.items()}
        self.listening_since: float | None = None

    def feed(self, frame: Frame) -> list[Event]:
        """Take a frame; returns what happened, in order."""
        events: list[Event] = []
        if frame.ident in self._testers:
            self.tester_at = frame.at
        if not self._decoder.knows(frame.ident):
            return events
        events += self.look(frame.at)
        if frame.at - self._frame_at > VISIT_GAP_S:
            self.lanyard_proved = False
        if self.listening_since is None:
            self.listening_since = frame.at
        self._frame_at = frame.at
        if self._key_of(frame.ident) in self._keys:
            for reading in self._decoder.feed(frame):
                role = self._role_of.get(reading.signal)
                if role is not None:
                    events += self._take(role, reading, frame.at)
        return events

    def look(self, now: float) -> list[Event]:
        """Notice that the craft, or its controller alone, has fallen silent."""
        silent = now - min(self._frame_at, self._speed_at) > ALIVE_S
        noticed, self._away = self._away, silent
        if noticed or not silent:
            return []
        self.serial = None
        self.forget()
        return [Event.AWAY]

    def _take(self, role: str, reading: Reading, at: float) -> list[Event]:
        old = self._seen.get(role)
        self._seen[role] = _Seen(reading.value, reading.quality, at)
        if role == "alive" and (old is None or old.value != reading.value):
            self._alive_changed = at
        elif role == "serial":
            return self._take_serial(reading)
        elif role == "lanyard" and reading.quality is Quality.GOOD and reading.value == PULLED:
            self.lanyard_proved = True
        elif role == "fuel_pump" and reading.quality is Quality.GOOD and reading.value == PUMPS:
            return [Event.PUMPED]
        elif role in SPEEDS:
            return self._take_speed(role, reading, at, old)
        return []

    def _take_serial(self, reading: Reading) -> list[Event]:
        if reading.quality is not Quality.GOOD or not reading.value:  # 0: a controller nobody gave a serial
            self.serial = None
            return []
        self.serial = f"{self._name} {plain(reading.value)}"
        other = self._last_serial is not None and self.serial != self._last_serial
        self._last_serial = self.serial
        if not other:
            return []
        self.lanyard_proved = False
        self.stopped_since = self._ran_since = self._crank_since = self.cranked_at = None
        return [Event.OTHER]

    def _take_speed(self, role: str, reading: Reading, at: float, old: _Seen | None) -> list[Event]:
        """Follow how long the engine has stood still, by both sources without a gap."""
        if role == "engine_speed":
            self._speed_at = at
        if role in self._arrivals:
            self._arrivals[role].append(at)
        gap = old is None or at - old.at > self._max_age[role]
        good = reading.quality is Quality.GOOD
        if gap or not good or reading.value != 0:
            self.stopped_since = None
        if gap or not good:
            self._ran_since = self._crank_since = None
        if not good or (isinstance(reading.value, (int, float)) and reading.value > RUNNING_ABOVE):
            self.cranked_at = None  # it may have run, with its plugs in
        events = []
        if isinstance(reading.value, (int, float)) and reading.value > 0:
            events.append(Event.TURNED)
        if not gap:
            events += self._both(at)
        return events

    def _both(self, at: float) -> list[Event]:
        """What both sources say together."""
        speeds = [self.good(role, at) for role in SPEEDS]
        slower = min(speed if isinstance(speed, (int, float)) else -1.0 for speed in speeds)
        if all(speed == 0 for speed in speeds) and self.stopped_since is None:
            self.stopped_since = at
        self._follow_crank(slower, at)
        if slower <= RUNNING_ABOVE:
            self._ran_since = None
        elif self._ran_since is None:
            self._ran_since = at
        events = [Event.WORKS] if slower > PROVED_ABOVE else []
        if self._ran_since is not None and at - self._ran_since >= RAN_FOR_S and self.serial is not None:
            self._ran_since = at
            events.append(Event.RAN)
        return events

    def _follow_crank(self, slower: float, at: float) -> None:
        """Whether the engine is cranked; a source that is too fast has ended it already."""
        fast = any(
            speed > RUNNING_ABOVE for role in SPEEDS if isinstance(speed := self.good(role, at), float)
        )
        if fast or slower <= PROVED_ABOVE:
            self._crank_since = None
        elif self._crank_since is None:
            self._crank_since = at
        elif at - self._crank_since >= CRANKED_FOR_S:
            self.cranked_at = at

    def crowded(self, now: float) -> bool:
        """An engine speed comes much more often than it is due: somebody else sends it too."""
        return any(
            len(arrivals) > self._crowd[role] and arrivals[0] > now - CROWD_S
            for role, arrivals in self._arrivals.items()
        )

    def good(self, role: str, now: float) -> float | str | None:
        """A fresh good value, else None."""
        seen = self._seen.get(role)
        if seen is None or seen.quality is not Quality.GOOD or now - seen.at > self._max_age[role]:
            return None
        return seen.value

    def hears(self, now: float) -> bool:
        """Frames of this family come in."""
        return self.listening_since is not None and now - self._frame_at <= ALIVE_S

    def moves_on(self, now: float) -> bool | None:
        """The controller's alive counter changes, where the family has one; None = it is not heard."""
        if "alive" not in self.roles:
            return True
        changed = self._alive_changed
        if changed is not None and now - changed <= self._max_age["alive"]:
            return True
        seen = self._seen.get("alive")
        return None if seen is None or now - seen.at > self._max_age["alive"] else False
