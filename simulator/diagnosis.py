"""The controllers of one craft on its bus: what they hear and answer, and what the witness makes of it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from simulator import uds_auk, uds_skua
from simulator.broadcast import BOOT_OTHERS_S, BOOT_S
from simulator.codec import EXTENDED
from simulator.errors import Misunderstood
from simulator.other_tester import OtherTester
from simulator.outputs import Outputs
from simulator.uds_shared import NOBODY, speed_seen
from simulator.witness import Before, Witness

if TYPE_CHECKING:
    from collections.abc import Mapping

    from simulator.craft import Craft
    from simulator.uds import Controller
    from simulator.uds_shared import Answering

TOOL, OTHER = "the tool", "another tester"
JUDGES_EVERY = 20
"""Steps of the physics between two looks at the faults."""
BOOTS: Mapping[str, float] = {"display": BOOT_S["Display"]}
"""Seconds from key-on until a controller can be asked; the others as BOOT_OTHERS_S."""
ANSWERING: Mapping[str, Answering] = {"auk": uds_auk.ANSWERING, "skua": uds_skua.ANSWERING}
"""Families whose controllers answer."""
PRETENDED: dict[str, float | str] = {"EngineSpeed": 0, "EngineSpeedDisplay": 0, "EngineState": "Stopped"}
"""What the bus goes on saying while the engine turns unseen."""


class Diagnosis:
    """Everything on a craft that answers requests. A family without any has no controllers here.

    Attributes:
        controllers: by key.
        outputs: what can be moved.
        witness: what must never happen.
        hull: hull number stored in the engine controller.
        began_ms: time of the bus at which this craft began.
    """

    def __init__(self, craft: Craft) -> None:
        self._craft = craft
        self.began_ms = craft.bus_ms
        self._answering = ANSWERING.get(craft.family, NOBODY)
        self.hull = self._answering.hull
        self.witness = Witness(craft.engine)
        self.outputs = Outputs(
            self._answering.outputs,
            craft.bench,
            clock=self._clock,
            speed_seen=lambda: speed_seen(craft),
        )
        made = self._answering.controllers(craft, lambda: self.hull, self.outputs)
        self.controllers: dict[str, Controller] = {one.module.key: one for one in made}
        self._asleep: set[str] = set()
        self._key = craft.engine.driver.key
        self._running_s = 0.0
        self._last = craft.bus_ms / 1000.0
        self._other: OtherTester | None = None
        self._out: list[tuple[int, bytes]] = []
        self._spin: tuple[float, float, list[str]] | None = None

    def _clock(self) -> float:
        """By the ledger's clock, whoever set it last."""
        return self._craft.clock()

    def controller(self, key: str) -> Controller:
        """A controller by key.

        Raises:
            Misunderstood: there is none of that name.
        """
        if key not in self.controllers:
            known = ", ".join(self.controllers) or "none in this family"
            raise Misunderstood(f"There is no controller {key!r}; there are {known}.")
        return self.controllers[key]

    def _now(self) -> float:
        return self._craft.bus_ms / 1000.0

    def _sleeps(self, controller: Controller) -> bool:
        craft = self._craft
        boots = craft.engine.driver.key and craft.bench.key_age < BOOTS.get(
            controller.module.key, BOOT_OTHERS_S
        )
        return boots or not craft.broadcast.awake(craft.bench)

    def hear(
        self, ident: int, data: bytes, *, extended: bool = False, remote: bool = False, by: str = TOOL
    ) -> None:
        """Take a frame that somebody put on the bus, and make the ledger's entries.

        Args:
            ident: identifier, 11 or 29 bits.
            data: 0 to 8 bytes.
            extended: the identifier has 29 bits.
            remote: it is a remote frame.
            by: who sent it; only the tool is judged.
        """
        details = {"ident": ident, "extended": extended, "remote": remote, "data": data.hex(), "by": by}
        note = self._craft.note
        if self._craft.cut:
            note("frame", "nothing: the bus is cut", **details)
            return
        whole = ident | EXTENDED if extended else ident
        voice = self._craft.broadcast.voice
        if voice is not None and not remote:
            did, wrong = "nothing: nobody is awake", None
            if self._craft.broadcast.awake(self._craft.bench):
                did, wrong = voice.asked.hear(whole, data, self._craft.bus_ms)
            note("request", did, violation=wrong if by == TOOL else None, **details)
            return
        modules = [
            one
            for one in self.controllers.values()
            if whole in (one.module.request, one.module.functional) and not remote
        ]
        if not modules:
            note("frame", "nothing: it is not offered", violation="frame received", **details)
            return
        taken = [one for one in modules if not self._sleeps(one)]
        problems: set[str] = set()
        for one in taken:
            one.endpoint.receive(whole, data, self._now())
            problems.update(one.endpoint.problems)
            one.endpoint.problems.clear()
        names = " and ".join(one.module.key for one in taken)
        wrong = f"not ISO-TP: {'; '.join(sorted(problems))}" if problems and by == TOOL else None
        did = f"taken by {names}" if names else "nothing: nobody is awake"
        note("frame", did, violation=wrong, **details)
        for one in taken:
            self._work(one, by)

    def _work(self, one: Controller, by: str) -> None:
        outputs = one.outputs
        while one.endpoint.requests:
            request = one.endpoint.requests.popleft()
            before = Before(
                module=one.module.key,
                extended=one.session != 1,
                live={} if outputs is None else dict(outputs.live),
                outputs={} if outputs is None else outputs.table,
                offered=one.module.offered,
                film={} if outputs is None else outputs.film,
            )
            wrong = (
                self.witness.request(request.payload, before, self._now(), functional=request.functional)
                if by == TOOL
                else []
            )
            did = one.handle(request, self._now())
            self._craft.note(
                "request",
                did,
                violation="; ".join(wrong) or None,
                module=one.module.key,
                request=request.payload.hex(),
                functional=request.functional,
                by=by,
            )
            self._tell_outputs()

    def _tell_outputs(self) -> None:
        for key, did, details in self.outputs.events:
            self._craft.note("output", did, output=key, **details)
        self.outputs.events.clear()

    def move(self, dt_s: float) -> None:
        """Let the physics' time pass; called after the engine has moved."""
        craft = self._craft
        key = craft.engine.driver.key
        if self._spin is not None:
            self._turn()
        if key and not self._key:
            for one in self.controllers.values():
                one.memory.new_cycle()
        self._key = key
        self._running_s = self._running_s + dt_s if craft.engine.state == "Running" else 0.0
        if key and craft.engine.tick % JUDGES_EVERY == 0:
            for name, one in self.controllers.items():
                failing = self._answering.faults[name](craft)
                one.memory.judge(failing, key_s=craft.bench.key_age, running_s=self._running_s)

    def step(self) -> None:
        """Let the bus's time pass."""
        now = self._now()
        dt_s, self._last = now - self._last, now
        self._live(now)
        self.outputs.step(now, dt_s)
        self._tell_outputs()
        for key, wrong in self.witness.step(now, self.outputs.live.values(), self.outputs.film):
            self._craft.note("output", "is live", violation=f"{key}: {wrong}", output=key)
        for start in self.witness.inhibits.step(now, self.outputs.live, self.outputs.table):
            self._craft.note("engine", start.did, violation=start.wrong, output=start.output)
        self._step_other(now)
        for one in self.controllers.values():
            self._speak(one, now)
        if self._craft.cut:
            self._out.clear()

    def _live(self, now: float) -> None:
        """Controllers work while they are awake."""
        for name, one in self.controllers.items():
            if not self._sleeps(one):
                self._asleep.discard(name)
                for did in one.step(now):
                    self._craft.note("controller", did, module=name)
            elif name not in self._asleep:
                self._asleep.add(name)
                one.sleep()

    def _speak(self, one: Controller, now: float) -> None:
        """Put what a controller says on the bus; the witness minds what the tool can hear of it."""
        heard = not (self._craft.cut or self._craft.adapter_pulled)
        for ident, data in one.poll(now):
            self._out.append((ident, data))
            if heard and one.outputs is not None:
                self.witness.inhibits.answer(data, one.outputs.table, now)
            if self._other is not None:
                self._other.hear(ident, data)

    def _step_other(self, now: float) -> None:
        if self._other is None:
            return
        for ident, data in self._other.poll(now):
            self._out.append((ident, data))
            self.hear(ident & ~EXTENDED, data, extended=bool(ident & EXTENDED), by=OTHER)
        if self._other.over(now):
            self._other = None

    def take(self) -> list[tuple[int, bytes]]:
        """Frames to put on the bus, oldest first; each is given once."""
        frames, self._out = self._out, []
        return frames

    def close(self, why: str) -> None:
        """The craft is gone; nothing stays live."""
        self.outputs.release_all(why)
        self._tell_outputs()

    def second_tester(self, seconds: float) -> None:
        """Another tester asks the engine controller for so long."""
        module = self.controller("engine").module
        self._other = OtherTester(module.request, module.response, self._now(), seconds)

    def spin(self, rev: float, seconds: float, *, broadcast: bool) -> None:
        """Turn the engine from outside.

        Args:
            rev: rev/min; 0 ends it.
            seconds: how long.
            broadcast: False = the bus goes on saying that it stands still.
        """
        craft = self._craft
        self._stop_spin()
        if rev <= 0.0 or seconds <= 0.0:
            return
        planted = []
        if not broadcast:
            for signal, value in PRETENDED.items():
                craft.plant(signal, "value", value)
                planted.append(signal)
        self._spin = (rev * math.pi / 30.0, self._now() + seconds, planted)
        self._turn()

    def _turn(self) -> None:
        """Hold the crank at its speed until the time is over."""
        if self._spin is None:
            return
        omega, until, _ = self._spin
        if self._now() >= until:
            self._stop_spin()
            return
        self._craft.engine.omega = omega

    def _stop_spin(self) -> None:
        if self._spin is None:
            return
        for signal in self._spin[2]:
            if signal in self._craft.broadcast.plants.signals:
                self._craft.broadcast.plants.mend(signal)
        self._spin = None
        self._craft.engine.omega = 0.0

    def faults(self) -> dict[str, Any]:
        """Stored codes of every controller, for the control socket."""
        return {name: one.memory.said() for name, one in self.controllers.items()}

    def said(self) -> dict[str, Any]:
        """For the control socket."""
        return {name: one.said() for name, one in self.controllers.items()}
