"""Which frames are on the bus at which moment: cycle times, pages, counters, planted faults, the mark."""

from __future__ import annotations

import dataclasses
import math
from typing import TYPE_CHECKING, Protocol

from simulator import auk, nmea2000, skua, tern, tern_faults
from simulator.codec import read_family
from simulator.errors import Misunderstood
from simulator.faults import Plants
from simulator.kinds import FOUR, THREE, EngineKind

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from simulator.bench import Bench
    from simulator.codec import Message
    from simulator.tern_asked import Asked

MARK_IDENT, MARK_DATA, MARK_MS = 0x7F0, b"SIMULATE", 250
"""On every simulated bus, so that no tool can take it for a craft."""

SLOT_MS = 5
"""Messages begin so far apart from each other."""

ENDS_AFTER_S = 1.0
"""The bus falls silent so long after key off."""
BOOT_S: Mapping[str, float] = {"Display": 0.5}
"""Time from key on to the first frame by sender; BOOT_OTHERS_S for the rest."""
BOOT_OTHERS_S = 0.15


class Voice(Protocol):
    """Says what is no signal, such as faults that are told without being asked for."""

    @property
    def asked(self) -> Asked:
        """Takes what is asked."""

    def due(self, at_ms: int, bench: Bench) -> list[tuple[int, bytes]]:
        """Frames that begin in this millisecond."""


@dataclasses.dataclass(frozen=True)
class Family:
    """How a family speaks.

    Attributes:
        bitrate: bit/s of its bus.
        messages: makes its messages with their packing plans.
        read: message to the function that reads its values from the engine.
        watched: what the protection looks at, by the signal that shows it.
        counters: signals that rise by one with every frame.
        fast: identifiers sent as fast packets.
        voice: makes what says the rest; None = there is none.
        kind: of its engine.
    """

    bitrate: int
    messages: Callable[[], list[Message]]
    read: Mapping[str, Callable[[Bench], dict[str, float | str | None]]]
    watched: Mapping[str, str]
    counters: frozenset[str] = frozenset()
    fast: frozenset[int] = frozenset()
    voice: Callable[[], Voice] | None = None
    kind: EngineKind = THREE


FAMILIES: Mapping[str, Family] = {
    "auk": Family(500_000, lambda: read_family("auk", auk.PLAIN), auk.READ, auk.WATCHED, auk.COUNTERS),
    "nmea2000": Family(
        250_000,
        nmea2000.messages,
        nmea2000.READ,
        nmea2000.WATCHED,
        fast=frozenset({nmea2000.identifier(nmea2000.DYNAMIC)}),
    ),
    "skua": Family(
        250_000,
        lambda: read_family("skua", skua.PLAIN),
        skua.READ,
        skua.WATCHED,
        skua.COUNTERS,
        kind=FOUR,
    ),
    "tern": Family(250_000, tern.messages, tern.READ, tern.WATCHED, voice=tern_faults.Voice),
}


def family_named(name: str) -> Family:
    """A family by name.

    Raises:
        Misunderstood: the simulator has no such family.
    """
    if name not in FAMILIES:
        raise Misunderstood(f"There is no simulated family {name!r}; there are {', '.join(FAMILIES)}.")
    return FAMILIES[name]


def _slots(messages: list[Message]) -> list[list[Message]]:
    """Which messages begin in each slot of 5 ms, until everything begins again."""
    period_ms = math.lcm(SLOT_MS, *(message.cycle_ms for message in messages))
    slots: list[list[Message]] = [[] for _ in range(period_ms // SLOT_MS)]
    for number, message in enumerate(messages):
        for at_ms in range(number * SLOT_MS % message.cycle_ms, period_ms, message.cycle_ms):
            slots[at_ms // SLOT_MS].append(message)
    return slots


class Broadcast:
    """The frames of one craft.

    Attributes:
        plants: planted faults.
        voice: see Family; None = there is none.
        raws: raw code of every signal as last sent; sent_ms is when, in ms of the bus.
        frames: frames made since the start, the mark not among them.
    """

    def __init__(self, family: Family) -> None:
        self._family = family
        self._messages = family.messages()
        self._fields = {field.name: field for message in self._messages for field in message.fields}
        self._slots = _slots(self._messages)
        self.voice = None if family.voice is None else family.voice()
        self._count: dict[str, int] = {message.name: 0 for message in self._messages}
        self.plants = Plants(self._messages)
        self.raws: dict[str, int] = {}
        self.sent_ms: dict[str, int] = {}
        self.frames = 0

    @property
    def idents(self) -> frozenset[int]:
        """Identifiers of its messages."""
        return frozenset(message.ident for message in self._messages)

    def awake(self, bench: Bench) -> bool:
        """Whether anything is on the bus."""
        return bench.key_age >= BOOT_OTHERS_S if bench.engine.driver.key else bench.key_age < ENDS_AFTER_S

    def due(self, at_ms: int, bench: Bench) -> list[tuple[int, bytes]]:
        """Frames that begin in this millisecond.

        Args:
            at_ms: time of the bus in ms, a multiple of 5.
            bench: the craft.
        """
        if not self.awake(bench):
            return []
        key = bench.engine.driver.key
        frames: list[tuple[int, bytes]] = []
        for message in self._slots[at_ms // SLOT_MS % len(self._slots)]:
            if key and bench.key_age < BOOT_S.get(message.sender, BOOT_OTHERS_S):
                continue
            frames += self._frames_of(message, at_ms, bench)
        if self.voice is not None and (not key or bench.key_age >= BOOT_OTHERS_S):
            frames += self.voice.due(at_ms, bench)
        self.frames += len(frames)
        if at_ms % MARK_MS == 0:
            frames.append((MARK_IDENT, MARK_DATA))
        return frames

    def _frames_of(self, message: Message, at_ms: int, bench: Bench) -> list[tuple[int, bytes]]:
        count = self._count[message.name]
        self._count[message.name] = count + 1
        page = message.pages[count % len(message.pages)] if message.pages else None
        if self.plants and self.plants.silenced(message, page):
            return []
        values = self._family.read[message.name](bench)
        plants = self.plants or None
        for field in message.on_page(page):
            name = field.name
            value: float | str | None
            if name == message.selector:
                value = float(page or 0)
            elif name in self._family.counters:
                value = float(count & field.top)
            else:
                value = values[name]
            self.raws[name] = field.raw(value) if plants is None else plants.raw(field, value)
            self.sent_ms[name] = at_ms
        data = message.pack(self.raws, page)
        if message.ident in self._family.fast:
            return [(message.ident, part) for part in nmea2000.fast_packet(data, count & 7)]
        return [(message.ident, data)]

    def seen(self, name: str, truth: float) -> float | None:
        """What the controller's protection reads; see Protection.step."""
        signal = self._family.watched.get(name)
        return truth if signal is None or not self.plants else self.plants.seen(signal, truth)

    def value(self, name: str) -> float | str | None:
        """One signal as last sent; None = this family has no such signal, or it was never sent."""
        return self._fields[name].meaning(self.raws[name]) if name in self.raws else None

    def values(self) -> dict[str, float | str]:
        """Every signal as last sent: number, text, or the word of its reserved code."""
        return {name: self._fields[name].meaning(raw) for name, raw in self.raws.items()}
