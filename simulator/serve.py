"""A craft in real time: the clock, the transport, the control socket and the ledger round it."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, Any

from simulator.control import ControlServer
from simulator.craft import STEP_MS, STEP_S
from simulator.errors import Misunderstood
from simulator.ledger import Ledger
from simulator.wire import open_transport

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from simulator.craft import Craft

SENDS_UNTIL_LATE_S = 0.05
"""A loop that is later than this makes up for the physics but not for the frames: no bursts."""
GIVES_UP_LATE_S = 2.0
"""Later than this (the machine slept) time is not made up for at all."""


class Server:
    """One craft served to whoever listens; used by one thread.

    Attributes:
        craft: the craft.
        transport: where its frames go.
        ledger: what came back.
    """

    def __init__(
        self,
        craft: Craft,
        *,
        interface: str = "slcan",
        channel: str | None = None,
        control: Path | None = None,
        ledger: Path | None = None,
        nodes: int | None = None,
        listen_only: bool | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        """Open everything.

        Args:
            craft: what is served.
            interface: "slcan", "virtual" or "socketcan".
            channel: see wire.open_transport.
            control: path of the control socket; None = no control.
            ledger: file the ledger is written to as well; None = memory only.
            nodes: controllers that confirm frames; None = as the scenario says.
            listen_only: whether the adapter has that mode; None = as the scenario says.
            clock: seconds on CLOCK_MONOTONIC.

        Raises:
            Forbidden: an interface that could reach a craft.
            SimulatorError: something cannot be opened.
        """
        self.craft = craft
        self._clock = clock
        self._nodes, self._listen_only = nodes, listen_only
        self._ended = False
        self._control: ControlServer | None = None
        self.ledger = Ledger(self._engine, ledger, clock=clock)
        craft.note, craft.clock, self.ledger.hear = self.ledger.enter, clock, craft.hear
        try:
            self.transport = open_transport(
                interface,
                channel,
                bitrate=craft.bitrate,
                ledger=self.ledger,
                awake=lambda: self.craft.awake,
                **self._bus(),
            )
            if control is not None:
                try:
                    self._control = ControlServer(control, self.handle)
                except BaseException:
                    self.transport.close()
                    raise
        except BaseException:
            self.ledger.close()
            raise

    def _engine(self) -> dict[str, Any]:
        """The engine for an entry of the ledger."""
        engine = self.craft.engine
        return {
            "rev_min": round(engine.speed, 1),
            "key": engine.driver.key,
            "lanyard_pulled": engine.driver.lanyard_pulled,
            "start_pressed": engine.driver.start,
            "rev_min_said": self.craft.broadcast.value("EngineSpeed"),
            "battery": round(engine.battery.volts, 3),
        }

    def _bus(self) -> dict[str, Any]:
        """Who is on the bus and what the adapter can: as asked for, else as the scenario says."""
        scenario = self.craft.scenario
        return {
            "nodes": scenario.nodes if self._nodes is None else self._nodes,
            "listen_only": scenario.listen_only if self._listen_only is None else self._listen_only,
        }

    def run(self, stop: Callable[[], bool] = lambda: False) -> None:
        """Serve until ``stop`` says so or a client asks for the end; then close everything."""
        deadline = self._clock() + STEP_S
        try:
            while not (self._ended or stop()):
                wait = deadline - self._clock()
                if self._control is not None:
                    self._control.wait(wait)
                elif wait > 0:
                    time.sleep(wait)
                now = self._clock()
                if now < deadline:
                    continue
                self.transport.listen()
                if now - deadline > GIVES_UP_LATE_S:
                    deadline = now
                while deadline <= now:
                    self._step(send=now - deadline < SENDS_UNTIL_LATE_S)
                    deadline += STEP_S
        finally:
            self.close()

    def _step(self, *, send: bool) -> None:
        craft = self.craft
        frames = craft.step()
        self.transport.plugged(is_in=not craft.adapter_pulled)
        if send:
            frames += craft.diagnosis.take()
            if craft.crowd is not None and not craft.cut:
                frames = craft.crowd.fill(frames)
            self.transport.carry(frames, craft.bus_ms, STEP_MS)

    def handle(self, request: dict[str, Any]) -> dict[str, Any]:
        """Answer one request of the control socket.

        Raises:
            SimulatorError: the request makes no sense.
        """
        match request:
            case {"do": "state", **rest} if not rest:
                return {"t": self._clock(), **self.craft.state(), "transport": self.transport.state()}
            case {"do": "ledger", **rest} if not rest:
                ledger = self.ledger
                return {
                    "entries": ledger.entries,
                    "violations": ledger.violations,
                    "count": ledger.count,
                    "violation_count": ledger.violation_count,
                }
            case {"do": "sent", **rest} if not rest:
                made = self.craft.broadcast.frames
                return {"sent": self.transport.sent, "dropped": self.transport.dropped, "made": made}
            case {"do": "faults", **rest} if not rest:
                return self.craft.diagnosis.faults()
            case {"do": "outputs", **rest} if not rest:
                return self.craft.diagnosis.outputs.said()
            case {"do": "scenario", "name": str(name), **rest} if not rest:
                self.craft.play(name)
                self.transport.arrange(**self._bus())
            case {"do": "quit", **rest} if not rest:
                self._ended = True
            case {"do": "state" | "ledger" | "sent" | "faults" | "outputs" | "quit" | "scenario"}:
                raise Misunderstood(f"'{request['do']}' has other arguments than these.")
            case _:
                self.craft.act(request)
        return {"ok": True}

    def close(self) -> None:
        """Take socket and link away; never raises."""
        if self._control is not None:
            self._control.close()
        self.transport.close()
        self.ledger.close()
