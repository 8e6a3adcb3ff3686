"""The newest DM1 and DM2 of every sender: faults that an engine tells by itself. It only listens."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.diagnosis import HeardFault, HeardFaults
from bus.dm import DM1, DM2, LAMPS, decode
from bus.frame import EXTENDED
from bus.transport import Broadcasts

if TYPE_CHECKING:
    from bus.dm import Message, Trouble
    from bus.frame import Frame

MOST_SENDERS, MOST_FAULTS = 8, 40
"""Kept of what is heard: on the bus of a small craft there are fewer, and a snapshot must stay small."""


class _Sender:
    __slots__ = ("active", "active_at", "active_since", "before", "before_at", "before_since")

    def __init__(self) -> None:
        self.active: Message | None = None
        self.before: Message | None = None
        self.active_at = self.before_at = self.active_since = self.before_since = 0.0


class HeardTroubles:
    """What the senders on one bus have told.

    Attributes:
        bad: messages that no number of codes gives, and broken broadcasts.
    """

    def __init__(self) -> None:
        self._broadcasts = Broadcasts({DM1, DM2})
        self._senders: dict[int, _Sender] = {}
        self._nonsense = 0
        self._told: list[HeardFaults] | None = []

    @property
    def bad(self) -> int:
        """See the class."""
        return self._nonsense + self._broadcasts.unused

    def feed(self, frame: Frame) -> None:
        """Take any frame."""
        at, ident, data = frame
        if ident < EXTENDED:
            return
        group = ident >> 8 & 0x3FFFF
        if group in (DM1, DM2):
            self._take(ident & 0xFF, group, data, (at, at))
            return
        whole = self._broadcasts.feed(ident, at, data)
        if whole is not None:
            self._take(whole.source, whole.group, whole.data, (whole.since, at))

    def told(self) -> list[HeardFaults]:
        """Every sender that told something, by its address."""
        if self._told is None:
            self._told = [_faults(source, sender) for source, sender in sorted(self._senders.items())]
        return self._told

    def _take(self, source: int, group: int, data: bytes, came: tuple[float, float]) -> None:
        message = decode(data)
        if message is None:
            self._nonsense += 1
            return
        sender = self._senders.get(source)
        if sender is None:
            if len(self._senders) >= MOST_SENDERS:
                return
            sender = self._senders[source] = _Sender()
        if group == DM1:
            sender.active, (sender.active_since, sender.active_at) = message, came
        else:
            sender.before, (sender.before_since, sender.before_at) = message, came
        self._told = None


def _faults(source: int, sender: _Sender) -> HeardFaults:
    active = [] if sender.active is None else [_fault(one, active=True) for one in sender.active.troubles]
    known = {(one.spn, one.fmi) for one in active}
    before = [] if sender.before is None else [_fault(one, active=False) for one in sender.before.troubles]
    faults = active + [one for one in before if (one.spn, one.fmi) not in known]
    lamps = () if sender.active is None else sender.active.lamps
    return HeardFaults(
        source,
        None if sender.active is None else sender.active_at,
        None if sender.before is None else sender.before_at,
        [name for name, lamp in zip(LAMPS, lamps, strict=False) if lamp.lit],
        faults[:MOST_FAULTS],
        max(0, len(faults) - MOST_FAULTS),
        None if sender.active is None else sender.active_since,
        None if sender.before is None else sender.before_since,
    )


def _fault(one: Trouble, *, active: bool) -> HeardFault:
    return HeardFault(one.spn, one.fmi, one.times, active, not one.old)
