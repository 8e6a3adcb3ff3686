"""Turns received frames into what the glass shows: recognises the craft, decodes, keeps the live table."""

from __future__ import annotations

import time
from collections import deque
from typing import TYPE_CHECKING

from app.messages import Catalogue, Craft, Link, LinkState, Mode, Recording, Snapshot
from app.reading import Quality
from bus.live import LiveTable
from bus.raw_frames import RawFrames
from bus.recognise import Recogniser
from bus.simulated import MARK_DATA, MARK_IDENT
from bus.troubles import HeardTroubles
from bus.way import Way

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from app.reading import Reading
    from bus.decode import Decoder
    from bus.family import Family
    from bus.frame import Frame
    from bus.gate import Gate
    from bus.way import Outlet

LOST_S = 0.5
"""No frame at all for this long: everything is old, whatever each signal's own maximum age says."""

UNKNOWN_AFTER_S = 3.0
"""Traffic for this long that no family explains: an unknown craft, not one that is still being recognised."""

NAME_AFTER_S = 0.3
"""Of traffic before a craft is named: by then a simulated one has said what it is (every 0.25 s)."""

MARK_HOLDS_S = 1.0
"""Of traffic that a simulation's mark holds for."""

ANOTHER_AFTER_S = 2.0
"""Silence after which the next traffic may be another craft and is recognised anew."""


class Hub:
    """Everything between the gate and the wall; used by one thread.

    Attributes:
        catalogue: of the craft that was found, None before.

    Args:
        gate, outlet: where frames come from.
        families: what a craft may turn out to be.
        recording: what the recorder does now.
        replay: say so in every snapshot.
        recognised: told the family each time a craft was found.
        clock: seconds on CLOCK_MONOTONIC.
    """

    def __init__(
        self,
        gate: Gate,
        outlet: Outlet,
        families: Sequence[Family],
        recording: Callable[[], Recording | None],
        *,
        replay: bool = False,
        recognised: Callable[[Family], None] | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._gate = gate
        self._outlet = outlet
        self._families = families
        self._recording = recording
        self._clock = clock
        self._replay = replay
        self._recognised = recognised
        self._marked_at: float | None = None
        self._recogniser = Recogniser(families)
        self._family: Family | None = None
        self._may_give_way = False
        self._named = False
        self._serial: str | None = None
        self._apart: frozenset[str] = frozenset()
        self._decoder: Decoder | None = None
        self._table: LiveTable | None = None
        self._troubles = HeardTroubles()
        self._raw = RawFrames(families)
        self._catalogues = 0
        self._frames = 0
        self._bad_before = 0
        self._heard_at: float | None = None
        self._traffic_since: float | None = None
        self._state = LinkState.NO_ADAPTER
        self._since = clock()
        self._counts: deque[tuple[float, int]] = deque()
        self.catalogue: Catalogue | None = None

    def pump(self) -> list[Reading]:
        """Take every frame that waits.

        Returns:
            The readings decoded from them, in the order of the frames.
        """
        readings: list[Reading] = []
        while frames := self._outlet.take(0):
            self._hear(frames)
            for frame in frames:
                readings.extend(self._feed(frame))
        return readings

    def _hear(self, frames: list[Frame]) -> None:
        at = frames[-1].at
        if self._heard_at is None or at - self._heard_at > ANOTHER_AFTER_S:
            self._traffic_since = at
            self._recogniser = Recogniser(self._families)
            self._named = False
            self._troubles = HeardTroubles()
            self._raw = RawFrames(self._families)
        self._heard_at = at
        self._frames += len(frames)
        self._counts.append((at, len(frames)))

    def _feed(self, frame: Frame) -> list[Reading]:
        if frame.ident == MARK_IDENT and frame.data == MARK_DATA:
            self._marked_at = frame.at
            return []
        self._troubles.feed(frame)
        if not self._named:
            self._raw.feed(frame)
            self._name(frame)
        elif self._may_give_way:
            self._name_again(frame)
        if self._decoder is None or self._table is None:
            return []
        readings = self._decoder.feed(frame)
        instance = next((reading.value for reading in readings if reading.signal in self._apart), None)
        for reading in readings:
            if reading.signal == self._serial and self._another(reading):
                self._troubles = HeardTroubles()
                self._begin(self._family)
            self._table.put(reading, frame.at, instance)
        return readings

    def _name(self, frame: Frame) -> None:
        """Recognise the craft anew after every silence; it may be another one."""
        self._recogniser.feed(frame)
        family = self._recogniser.family
        if family is None or self._traffic_since is None or frame.at - self._traffic_since < NAME_AFTER_S:
            return
        self._named = True
        if family is not self._family or "serial" not in family.roles:
            self._begin(family)

    def _name_again(self, frame: Frame) -> None:
        """A make's own words may come later than those of the standard it is built on."""
        assert self._family is not None
        self._recogniser.feed(frame)
        family = self._recogniser.in_place_of(self._family)
        if family is not None:
            self._begin(family)

    def _another(self, serial: Reading) -> bool:
        """Whether this serial shows that the same family of craft was plugged in, but another craft."""
        if self._table is None or serial.quality is not Quality.GOOD:
            return False
        known = self._table.newest(serial.signal)
        return known is not None and known.quality is Quality.GOOD and known.value != serial.value

    def _begin(self, family: Family | None) -> None:
        assert family is not None
        if self._decoder is not None:
            self._bad_before += self._decoder.bad_frames
        self._catalogues += 1
        self._family = family
        self._may_give_way = any(family.name in other.recognise.over for other in self._families)
        self._serial = family.roles.get("serial")
        self._apart = family.tells_apart
        self._decoder = family.decoder()
        self.catalogue = family.catalogue(self._catalogues)
        self._table = LiveTable(self.catalogue)
        if self._recognised is not None:
            self._recognised(family)

    def snapshot(self) -> Snapshot:
        """What is known at this moment."""
        now = self._clock()
        state = self._link_state(now)
        if state is not self._state:
            self._state, self._since = state, now
        status = self._gate.status
        link = Link(
            state=state,
            since=self._since,
            reason=self._recogniser.doubt if state is LinkState.UNKNOWN_CRAFT else status.reason,
            adapter=status.adapter,
            bitrate=status.bitrate,
            frames=self._frames,
            frames_per_s=self._rate(now),
            bad_frames=self._gate.bad + self._bad_before + (self._decoder.bad_frames if self._decoder else 0),
            heard_at=self._heard_at,
        )
        table = self._table
        return Snapshot(
            at=now,
            link=link,
            mode=self._mode(),
            craft=self._craft(),
            recording=self._recording(),
            catalogue=self._catalogues,
            values=[] if table is None else table.values(now, all_stale=state is not LinkState.FOUND),
            heard=self._troubles.told(),
            raw=self._raw.told() if state is LinkState.UNKNOWN_CRAFT else [],
        )

    def _link_state(self, now: float) -> LinkState:
        hearing = self._heard_at is not None and now - self._heard_at <= LOST_S
        if hearing and self._named:
            return LinkState.FOUND
        if self._family is not None:
            return LinkState.LOST
        way = self._gate.status.way
        if way is Way.NO_ADAPTER:
            return LinkState.NO_ADAPTER
        if way is Way.NEED_RATE:
            return LinkState.NEED_RATE
        if hearing:
            long = self._traffic_since is not None and now - self._traffic_since > UNKNOWN_AFTER_S
            return LinkState.UNKNOWN_CRAFT if long else LinkState.LISTENING
        return LinkState.SILENT

    def _mode(self) -> Mode:
        marked, heard = self._marked_at, self._heard_at
        if marked is not None and heard is not None and heard - marked < MARK_HOLDS_S:
            return Mode.SIMULATED
        return Mode.REPLAY if self._replay else Mode.LIVE

    def _craft(self) -> Craft | None:
        if self._family is None or self._table is None:
            return None
        serial = self._table.text(self._serial) if self._serial else None
        return Craft(self._family.name, self._family.title, serial)

    def _rate(self, now: float) -> float:
        while self._counts and now - self._counts[0][0] > 1.0:
            self._counts.popleft()
        return float(sum(count for _, count in self._counts))
