"""The one door to the wire.

A thread of its own owns the wire: it opens the adapter and opens it again for ever, finds the bit rate by
listening, and hands every received frame on. It never waits for a disk, a lock, a full queue or the wall.

Every frame that leaves passes ``_let_out`` on this thread, just before the wire: it must be the next frame of
a request that was admitted from the family's exact list, or belong to the one output whose permit lives. What
is admitted is decided here too, from facts this thread heard itself. What passed and what did not is counted
by ``audit``.
"""

from __future__ import annotations

import contextlib
import dataclasses
import queue
import sys
import threading
import time
import traceback
from typing import TYPE_CHECKING

from app.errors import AdapterError
from app.output_messages import SignIn
from bus import wire as _wire
from bus.adapter import Adapter, plugged_in
from bus.admit import against, answer_to
from bus.audit import LAPSED, NOT_NEXT, NOT_SENDING, OVER, Audit, unnamed
from bus.exchange import Admission, AllowedRequest, Exchange
from bus.rates import Rates
from bus.way import GateStatus, Outlet, Way

if TYPE_CHECKING:
    from collections.abc import Callable

    from app.output_messages import OutputState
    from bus.actuate import Actuation, OutputRequest
    from bus.journal import Ticket

    Allowed = frozenset[AllowedRequest]
    Named = Callable[[], str | None]

LISTEN_S = 0.3
"""At one rate, before the next is tried. The slowest message that must be heard comes every 100 ms."""

PROOF_FRAMES = 2
"""Frames heard that prove a bit rate. A controller checks 15 bits of CRC in each: one could be chance."""

SILENT_AFTER_S = 1.0
"""No frame for this long: the bus sleeps; where the adapter can, it goes back to taking no part."""

BACK_OFF_S = (0.2, 0.4, 0.8, 1.6)
"""Waits between attempts to open an adapter. The last is short: a person stands beside it with the plug."""

TURN_S = 0.02
"""Longest wait for frames; requests of other threads are looked at in between."""

BUSY_TURN_S = 0.005
"""The same while an output is live or an exchange is under way."""

RUN_DOWN_S = 2.0
"""For an output to be released, and confirmed, before the wire is closed on purpose."""


class Gate:
    """Owns the wire.

    Attributes:
        status: see GateStatus.
        outlets: who gets the received frames.
        bad: error frames and noise since start.
        audit: counts what leaves and what is held back; without a journal it tells nobody.
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
        self._rates = Rates(adapter.bitrate)
        self._again = threading.Event()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="gate", daemon=True)
        self._wire: _wire.Wire | None = None
        self._bad_before = 0
        self._inbox: queue.SimpleQueue[Callable[[], None]] = queue.SimpleQueue()
        self._actuation: Actuation | None = None
        self._next_craft: tuple[Actuation, Allowed, Named] | None = None
        self._allowed: Allowed = frozenset()
        self._exchange: Exchange | None = None
        self.audit = Audit(clock)
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
        self._rates.name(bitrate)
        self._again.set()

    def serve_craft(self, actuation: Actuation, allowed: Allowed, craft: Named = unnamed) -> None:
        """The craft is of this family: its facts, outputs and requests count once no output is live.

        ``craft`` says its family and serial in words, None while not known.
        """

        def take() -> None:
            if self._actuation is not None:
                self._actuation.stop("Another craft was recognised.")
            self._close_exchange("Another craft was recognised.")
            self._next_craft = (actuation, allowed, craft)
            self._swap()

        self._inbox.put(take)

    def _swap(self) -> None:
        if self._next_craft is not None and not self._busy:
            (self._actuation, self._allowed, self.audit.craft), self._next_craft = self._next_craft, None
            self.audit.answering = {one.request: one.response for one in self._allowed}

    def ask_output(self, request: OutputRequest) -> None:
        """A request of the screen about outputs; returns at once."""
        self._inbox.put(lambda: self._hand_over(request))

    def _hand_over(self, request: OutputRequest) -> None:
        if isinstance(request, SignIn):
            self.audit.operator = request.operator
        actuation = self._actuation if self._next_craft is None else self._next_craft[0]
        if actuation is not None:
            self._tell_actuation(actuation)
            actuation.handle(request)

    def admit(self, request: AllowedRequest, intent: Ticket | None, why: str) -> Exchange:
        """Ask leave for one request; waits for the gate's own thread to decide.

        Args:
            request: exactly one of the family's.
            intent: the journal's ticket of the intent; without one that is on the disk nothing is written.
            why: what it is asked for, for the journal.

        Raises:
            Refused: it is not on the family's list, something is missing, or the gate does not answer.
        """
        admission = Admission(request, intent, why)
        self._inbox.put(lambda: self._decide(admission))
        return answer_to(admission)

    def transmit(self, exchange: Exchange, ident: int, data: bytes) -> None:
        """Hand over a frame of an admitted exchange; it is looked at again just before the wire."""
        self._inbox.put(lambda: self._let_out_of(exchange, ident, data))

    def finish(self, exchange: Exchange) -> None:
        """An exchange is over."""
        exchange.close()
        self._inbox.put(
            lambda: self._close_exchange("It was given up.") if self._exchange is exchange else None
        )

    def unlock_outputs(self) -> None:
        """The controller was read afresh after a release that was not confirmed."""
        self._inbox.put(lambda: self._actuation.unlock() if self._actuation is not None else None)

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
        self.audit.end()

    def _serve(self, adapter: Adapter) -> bool:
        """Open, find the rate if it must be found, and read until something has to change.

        Returns:
            Whether anything was heard.
        """
        if not adapter.sets_rate:
            return self._read_at(adapter, None)
        try:
            for rate in self._rates.to_try():
                if self._proved(adapter, rate):
                    self._rates.good = rate
                    return self._read_at(adapter, rate)
                if self._again.is_set():
                    return False
        except _wire.CannotListen as cannot:
            self._let_go()
            if self._rates.said is None:
                self._say(Way.NEED_RATE, reason=str(cannot), adapter=adapter.words)
                self._again.wait(BACK_OFF_S[-1])  # then look whether the adapter is still there
                return False
            return self._read_at(adapter, self._rates.said)
        return False

    def _proved(self, adapter: Adapter, rate: int) -> bool:
        """Listen at one rate without taking part; True once enough frames came."""
        self._take(adapter, rate, listen_only=True)
        known = self._rates.said is not None
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

    def _read_at(self, adapter: Adapter, rate: int | None) -> bool:
        """Read until the bus falls silent (where that means listening again) or a person says otherwise."""
        self._take(adapter, rate, listen_only=False)
        proved = self._rates.good is not None and rate == self._rates.good
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
                if proved and not self._busy:
                    return ever
        self._run_down()
        return ever

    def _run_down(self) -> None:
        """The wire is to be closed on purpose: whatever is live is released first."""
        until = self._clock() + RUN_DOWN_S
        if self._actuation is not None:
            self._actuation.stop("The tool lets go of the adapter.")
        while self._busy and self._clock() < until:
            self._pass_on(BUSY_TURN_S)

    @property
    def _busy(self) -> bool:
        """An output is live, about to be, or not yet confirmed stopped."""
        return self._actuation is not None and self._actuation.busy

    def _pass_on(self, timeout_s: float) -> int:
        """One turn: hear, hand on, decide, send."""
        assert self._wire is not None
        actuation = self._actuation
        busy = self._exchange is not None or self._busy
        frames = self._wire.receive(min(timeout_s, BUSY_TURN_S if busy else TURN_S))
        if frames:
            if actuation is not None:
                actuation.feed(frames)
            self.audit.hear(frames)
            if self._exchange is not None:
                self._exchange.feed(frames)
            for outlet in self.outlets:
                outlet.put(frames)
        self._attend()
        return len(frames)

    def _attend(self) -> None:
        """Requests of other threads, then the output that is live."""
        while not self._inbox.empty():
            self._inbox.get_nowait()()
        self._swap()
        if self._actuation is not None:
            self._tell_actuation(self._actuation)
            for ident, data in self._actuation.step():
                if self._actuation.allowed(ident, data):
                    self._let_out(ident, data, self._actuation.state)
                else:
                    self.audit.block(data, ident, LAPSED)
        self.audit.turn(busy=self._busy)

    def _tell_actuation(self, actuation: Actuation) -> None:
        """What only the gate knows: whether it can send, and what else is under way."""
        actuation.sending = self._sending
        actuation.reading = self._exchange is not None

    @property
    def _sending(self) -> bool:
        heard = self.status.way is Way.HEARING
        return heard and self._wire is not None and not self._wire.listening_only

    def _decide(self, admission: Admission) -> None:
        needs = self._against(admission.request, admission.intent)
        if self._exchange is not None:
            needs = ("Another exchange is under way", *needs)
        exchange = None if needs else Exchange(admission.request, admission.intent, admission.why)
        if admission.settle(exchange, needs) and exchange is not None:
            self._exchange = exchange
            self.audit.admitted(exchange)

    def _against(self, request: AllowedRequest, intent: Ticket | None) -> tuple[str, ...]:
        """What speaks against this request at this moment, in words."""
        actuation = self._actuation if self._next_craft is None else None
        return against(request, intent, self._allowed, actuation, sending=self._sending)

    def _let_out_of(self, exchange: Exchange, ident: int, data: bytes) -> None:
        """A frame of an exchange: what had to be true when it was admitted must be true still."""
        if exchange is not self._exchange or exchange.closed:
            self.audit.block(data, ident, OVER)
        elif needs := self._against(exchange.request, exchange.intent):
            self.audit.block(data, ident, needs[0])
            self._close_exchange(needs[0])
        elif exchange.let_out(ident, data):
            self._let_out(ident, data, exchange)
        else:
            self.audit.block(data, ident, NOT_NEXT)

    def _close_exchange(self, because: str) -> None:
        if self._exchange is not None:
            self._exchange.close()
            self.audit.over(self._exchange, because)
            self._exchange = None

    def _let_out(self, ident: int, data: bytes, of: Exchange | OutputState | None) -> None:
        """The last line before the wire; what passes it is counted here and nowhere else."""
        if self._wire is None or self._wire.listening_only:
            self.audit.block(data, ident, NOT_SENDING)
            return
        with self.audit.giving(data, ident, of):
            self._wire.send(ident, data)

    def _take(self, adapter: Adapter, rate: int | None, *, listen_only: bool) -> None:
        self._let_go()  # first: most adapters can be held only once
        self._wire = self._open_wire(adapter, rate, listen_only=listen_only)

    def _let_go(self) -> None:
        if self._actuation is not None:
            self._part(self._actuation)
        self.audit.press_over()
        self._close_exchange("The adapter or the craft went away.")
        wire, self._wire = self._wire, None
        if wire is not None:
            self._bad_before += wire.bad
            wire.close()

    def _part(self, actuation: Actuation) -> None:
        """The wire goes: one release of what may be live, if it still takes one; then nothing is known."""
        cause = "The adapter or the craft went away."
        with contextlib.suppress(Exception):  # whatever fails here, the rest must still happen
            actuation.stop(cause)
            for ident, data in actuation.last_words():
                if actuation.allowed(ident, data):
                    self._let_out(ident, data, actuation.state)
        actuation.wire_lost(cause)
