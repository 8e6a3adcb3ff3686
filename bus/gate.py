"""The one door to the wire.

A thread of its own owns the wire: it opens the adapter and opens it again for ever, finds the bit rate by
listening, and hands every received frame on. It never waits for a disk, a lock, a full queue or the wall.

Nothing is let out yet: this version reads only. ``request`` is where every frame will have to pass, and it
refuses.
"""

from __future__ import annotations

import dataclasses
import enum
import queue
import sys
import threading
import time
import traceback
from typing import TYPE_CHECKING, NoReturn

from app.errors import AdapterError, Refused
from bus import wire as _wire
from bus.adapter import Adapter, plugged_in

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from bus.frame import Frame

RATES = (500_000, 250_000, 125_000, 1_000_000)
"""bit/s tried while listening, in this order; the last that worked is tried first."""

LISTEN_S = 0.3
"""At one rate, before the next is tried. The slowest message that must be heard comes every 100 ms."""

PROOF_FRAMES = 2
"""Frames heard that prove a bit rate. A controller checks 15 bits of CRC in each: one could be chance."""

SILENT_AFTER_S = 1.0
"""No frame for this long: the bus sleeps; where the adapter can, it goes back to taking no part."""

BACK_OFF_S = (0.2, 0.4, 0.8, 1.6)
"""Waits between attempts to open an adapter. The last is short: a person stands beside it with the plug."""

QUEUE_BLOCKS = 200_000
"""Blocks a stuck reader may fall behind before blocks are dropped and counted: minutes of a full bus."""


class Way(enum.Enum):
    """How far the way to the bus is open."""

    NO_ADAPTER = enum.auto()
    NEED_RATE = enum.auto()
    LISTENING = enum.auto()
    """Looking for the bit rate, nothing heard so far."""
    QUIET = enum.auto()
    """Open at a known rate (or none is needed), nothing heard."""
    HEARING = enum.auto()


@dataclasses.dataclass(frozen=True)
class GateStatus:
    """What the gate knows of the way; replaced as a whole, so a reader never sees half of it.

    Attributes:
        way: see Way.
        since: seconds on CLOCK_MONOTONIC when it began.
        reason: the sentence of the last adapter error, empty if there is none.
        adapter: in words.
        bitrate: bit/s in use or None.
    """

    way: Way
    since: float
    reason: str = ""
    adapter: str = ""
    bitrate: int | None = None


class Outlet:
    """Frames on their way from the gate to one reader; the gate never waits for it.

    Attributes:
        lost: frames dropped because the reader hangs.
    """

    def __init__(self) -> None:
        self._blocks: queue.SimpleQueue[list[Frame]] = queue.SimpleQueue()
        self.lost = 0

    def put(self, frames: list[Frame]) -> None:
        """Hand over a block."""
        if self._blocks.qsize() < QUEUE_BLOCKS:
            self._blocks.put(frames)
        else:
            self.lost += len(frames)

    def take(self, timeout_s: float) -> list[Frame]:
        """The oldest block, or an empty list after ``timeout_s``."""
        try:
            return self._blocks.get(timeout=timeout_s) if timeout_s > 0 else self._blocks.get_nowait()
        except queue.Empty:
            return []


class Gate:
    """Owns the wire.

    Attributes:
        status: see GateStatus.
        outlets: who gets the received frames.
        bad: error frames and noise since start.
    """

    def __init__(
        self,
        adapter: Adapter,
        *,
        open_wire: Callable[..., _wire.Wire] = _wire.open_wire,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._adapter = adapter
        self._open_wire = open_wire
        self._clock = clock
        self._said_rate = adapter.bitrate
        self._good_rate: int | None = None
        self._again = threading.Event()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="gate", daemon=True)
        self._wire: _wire.Wire | None = None
        self._bad_before = 0
        self.status = GateStatus(Way.NO_ADAPTER, clock(), adapter=adapter.words)
        self.outlets: list[Outlet] = []

    def outlet(self) -> Outlet:
        """A new reader of everything received; ask before ``start``."""
        self.outlets.append(Outlet())
        return self.outlets[-1]

    def start(self) -> None:
        """Begin; returns at once."""
        self._thread.start()

    def stop(self) -> None:
        """Close the wire and end."""
        self._stop.set()
        self._again.set()
        self._thread.join(5)

    def set_bit_rate(self, bitrate: int | None) -> None:
        """A person named the bit rate (bit/s), or wants it looked for again (None)."""
        self._said_rate = bitrate
        self._good_rate = None
        self._again.set()

    def request(self, what: str) -> NoReturn:
        """Ask to send.

        Raises:
            Refused: always; no request is released in this version.
        """
        raise Refused(what, ("This version only reads. Nothing may be sent to a craft.",))

    @property
    def bad(self) -> int:
        """Error frames, remote frames and noise since start."""
        wire = self._wire
        return self._bad_before + (wire.bad if wire is not None else 0)

    def _say(self, way: Way, *, reason: str = "", bitrate: int | None = None, adapter: str = "") -> None:
        old = self.status
        new = GateStatus(way, old.since, reason, adapter or old.adapter, bitrate)
        if new != old:
            since = old.since if way is old.way else self._clock()
            self.status = dataclasses.replace(new, since=since)

    def _run(self) -> None:
        failures = 0
        while not self._stop.is_set():
            self._again.clear()
            adapter = plugged_in(self._adapter)
            if adapter is None:
                self._say(Way.NO_ADAPTER, reason="No adapter is plugged in.")
                self._again.wait(BACK_OFF_S[0])
                continue
            try:
                heard = self._serve(adapter)
            except AdapterError as error:
                self._let_go()
                self._say(Way.NO_ADAPTER, reason=str(error), adapter=adapter.words)
                self._again.wait(BACK_OFF_S[min(failures, len(BACK_OFF_S) - 1)])
                failures += 1
            except Exception as error:  # noqa: BLE001 - a fault of our own must not end the only reader of the wire
                traceback.print_exc(file=sys.stderr)
                self._let_go()
                self._say(Way.NO_ADAPTER, reason=f"The tool itself failed: {error}. It tries again.")
                self._again.wait(BACK_OFF_S[-1])
            else:
                self._let_go()
                failures = 0 if heard else failures

    def _serve(self, adapter: Adapter) -> bool:
        """Open, find the rate if it must be found, and read until something has to change.

        Returns:
            Whether anything was heard.
        """
        if not adapter.sets_rate:
            return self._read_at(adapter, None, listen_only=False)
        try:
            for rate in self._rates():
                if self._proved(adapter, rate):
                    self._good_rate = rate
                    return self._read_at(adapter, rate, listen_only=False)
                if self._again.is_set():
                    return False
        except _wire.CannotListen as cannot:
            self._let_go()
            if self._said_rate is None:
                self._say(Way.NEED_RATE, reason=str(cannot), adapter=adapter.words)
                self._again.wait(BACK_OFF_S[-1])  # then look whether the adapter is still there
                return False
            return self._read_at(adapter, self._said_rate, listen_only=False)
        return False

    def _rates(self) -> Iterator[int]:
        if self._said_rate is not None:
            yield self._said_rate
            return
        if self._good_rate is not None:
            yield self._good_rate
        for rate in RATES:
            if rate != self._good_rate:
                yield rate

    def _proved(self, adapter: Adapter, rate: int) -> bool:
        """Listen at one rate without taking part; True once enough frames came."""
        self._take(self._open_wire(adapter, rate, listen_only=True))
        known = self._said_rate is not None
        self._say(
            Way.QUIET if known else Way.LISTENING, bitrate=rate if known else None, adapter=adapter.words
        )
        heard = 0
        until = self._clock() + LISTEN_S
        while (left := until - self._clock()) > 0 and not self._again.is_set():
            heard += self._pass_on(min(left, 0.05))
            if heard >= PROOF_FRAMES:
                return True
        return False

    def _read_at(self, adapter: Adapter, rate: int | None, *, listen_only: bool) -> bool:
        """Read until the bus falls silent (where that means listening again) or a person says otherwise."""
        self._take(self._open_wire(adapter, rate, listen_only=listen_only))
        proved = self._good_rate is not None and rate == self._good_rate
        self._say(Way.HEARING if proved else Way.QUIET, bitrate=rate, adapter=adapter.words)
        heard_at = self._clock()
        ever = False
        while not self._again.is_set():
            if self._pass_on(0.05):
                heard_at = self._clock()
                ever = True
                self._say(Way.HEARING, bitrate=rate)
            elif self._clock() - heard_at > SILENT_AFTER_S:
                self._say(Way.QUIET, bitrate=rate)
                if proved:
                    return ever
        return ever

    def _pass_on(self, timeout_s: float) -> int:
        assert self._wire is not None
        frames = self._wire.receive(timeout_s)
        if frames:
            for outlet in self.outlets:
                outlet.put(frames)
        return len(frames)

    def _take(self, wire: _wire.Wire) -> None:
        self._let_go()
        self._wire = wire

    def _let_go(self) -> None:
        wire, self._wire = self._wire, None
        if wire is not None:
            self._bad_before += wire.bad
            wire.close()
