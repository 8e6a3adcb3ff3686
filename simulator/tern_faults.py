"""What the invented engine tern says of its faults, and what it remembers: DM1 and DM2 of SAE J1939-73.

Layout from shared/reference/standards.md 5.4 and 5.5. By the standard (from memory) DM1 comes once a second,
and DM2 only on request; this engine says DM2 every 5 s too, so that one who only listens has it.
"""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

from simulator.tern import identifier
from simulator.tern_asked import Asked

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from simulator.bench import Bench

DM1, DM2 = 65_226, 65_227
DM1_MS, DM2_MS = 1000, 5000
CONTROL, DATA = 0xECFF, 0xEBFF
"""TP.CM and TP.DT to everybody."""
GAP_MS = 50
"""Between the frames of a broadcast; the standard wants 50 to 200 ms."""
AGAIN_MS = 1000
"""After active codes were cleared their tests run again, and set what is still wrong."""
FORGETS_MS = 100
"""Asleep for so long: what was under way is not gone on with."""
AMBER, RED, MIL = 0x04, 0x10, 0x40
"""Lamp bits: from low to high protect, amber, red stop, MIL, two bits each."""
NO_FLASH = 0xFF
MOST_TIMES = 126

CODES: Mapping[str, tuple[int, int, int]] = {
    "coolant high": (110, 0, RED),
    "exhaust high": (173, 0, RED),
    "oil pressure low": (100, 1, RED),
    "rail low": (94, 1, AMBER),
    "battery low": (168, 4, AMBER),
    "throttle tracks differ": (51, 2, MIL),
    "coolant sensor": (110, 3, MIL),
    "oil_pressure sensor": (100, 3, MIL),
    "exhaust sensor": (173, 3, MIL),
    "rail sensor": (94, 3, MIL),
    "battery sensor": (168, 3, MIL),
    "throttle_1 sensor": (51, 3, MIL),
    "speed sensor": (190, 8, MIL),
    "intake sensor": (105, 3, MIL),
    "oil sensor": (175, 3, MIL),
}
"""Name of a fault by simulator.protection to SPN, FMI and lamp. SPN and FMI are numbers of the standard; what
this engine has no number for it does not tell."""


def code(spn: int, fmi: int, times: int) -> bytes:
    """The four bytes of one trouble code."""
    return bytes([spn & 0xFF, spn >> 8 & 0xFF, spn >> 16 << 5 | fmi, min(times, MOST_TIMES)])


def message(lamps: int, codes: Iterable[bytes]) -> bytes:
    """A whole DM1 or DM2; without a code it says so and is filled up to one frame."""
    return (bytes([lamps, NO_FLASH]) + (b"".join(codes) or bytes(4))).ljust(8, b"\xff")


def frames(group: int, data: bytes) -> list[tuple[int, bytes]]:
    """One frame, or the frames of a broadcast in their order."""
    if len(data) <= 8:
        return [(identifier(group), data)]
    packets = -(-len(data) // 7)
    control = bytes([32, len(data) & 0xFF, len(data) >> 8, packets, 0xFF]) + group.to_bytes(3, "little")
    parts = [(n + 1, data[n * 7 : n * 7 + 7].ljust(7, b"\xff")) for n in range(packets)]
    return [
        (identifier(CONTROL, 7), control),
        *((identifier(DATA, 7), bytes([number]) + part) for number, part in parts),
    ]


class Voice:
    """Says DM1 and DM2; remembers what was active, and how often.

    Attributes:
        asked: takes requests.
    """

    def __init__(self) -> None:
        self.asked = Asked(self)
        self._single: deque[tuple[int, bytes]] = deque()
        self._wanted = self._forgets = False
        self._tests_from_ms = 0
        self._times: dict[str, int] = {}
        self._active: tuple[str, ...] = ()
        self._queue: deque[tuple[int, bytes]] = deque()
        self._next_ms = 0
        self._last_ms = 0

    def due(self, at_ms: int, bench: Bench) -> list[tuple[int, bytes]]:
        """Frames that begin in this millisecond; called while the engine's controller is awake.

        Args:
            at_ms: time of the bus in ms.
            bench: the craft.
        """
        if at_ms - self._last_ms > FORGETS_MS:
            self._queue.clear()
        self._last_ms = at_ms
        self.asked.look(at_ms, bench)
        if self._forgets:
            self._forgets, self._tests_from_ms = False, at_ms + AGAIN_MS
        tested = at_ms >= self._tests_from_ms
        active = tuple(name for name in bench.protection.active if tested and name in CODES)
        for name in active:
            if name not in self._active:
                self._times[name] = self._times.get(name, 0) + 1
        self._active = active
        now = list(self._single)
        self._single.clear()
        if at_ms % DM1_MS == 0:
            lamps = 0
            for name in active:
                lamps |= CODES[name][2]
            now += self._say(DM1, message(lamps, self._codes(active)), at_ms)
        if at_ms % DM2_MS == DM1_MS // 2 or (self._wanted and not self._queue):
            self._wanted = False
            before = [name for name in self._times if name not in active]
            now += self._say(DM2, message(0, self._codes(before)), at_ms)
        if self._queue and at_ms >= self._next_ms:
            now.append(self._queue.popleft())
            self._next_ms = at_ms + GAP_MS
        return now

    def put(self, ident: int, data: bytes) -> None:
        """Say one frame next."""
        self._single.append((ident, data))

    def ask_before(self) -> None:
        """Somebody wants DM2; it comes after the broadcast under way."""
        self._wanted = True

    def forget_active(self) -> None:
        """What is active was cleared; what is still wrong sets again when it is tested next."""
        for name in self._active:
            self._times.pop(name, None)
        self._active = ()
        self._forgets = True

    def forget_before(self) -> None:
        """What was active earlier was cleared."""
        for name in [name for name in self._times if name not in self._active]:
            del self._times[name]

    def _codes(self, names: Iterable[str]) -> list[bytes]:
        return [code(*CODES[name][:2], self._times[name]) for name in names]

    def _say(self, group: int, data: bytes, at_ms: int) -> list[tuple[int, bytes]]:
        """A single frame at once; a broadcast after the one under way, or not this time.

        A sender has one under way at a time.
        """
        made = frames(group, data)
        if len(made) == 1:
            return made
        if not self._queue:
            self._queue.extend(made)
            self._next_ms = max(self._next_ms, at_ms)
        return []
