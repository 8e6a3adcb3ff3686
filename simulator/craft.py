"""A simulated craft without transport or clock: steps of 5 ms in, frames out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from simulator import scenario as scenarios
from simulator.actions import understand
from simulator.bench import Bench
from simulator.broadcast import Broadcast, family_named
from simulator.crowd import Crowd
from simulator.diagnosis import Diagnosis
from simulator.electrics import Battery
from simulator.errors import Misunderstood
from simulator.heat import Heat
from simulator.physics import RUNNING, Engine

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from simulator.kinds import EngineKind
    from simulator.scenario import Scenario

STEP_MS = 5
STEP_S = STEP_MS / 1000.0
PROTECTION_STEPS = 20
SETTLE_S = 8.0
"""An engine that begins running has run so long before the first frame."""


class Craft:
    """An engine, its display and its bus.

    Attributes:
        family: name of the family; bitrate is its bus's, bit/s.
        scenario: what it plays.
        bench, engine, broadcast: its parts.
        diagnosis: its controllers as a tester finds them.
        note: gets the entries of the ledger; clock gives their time in seconds.
        held: time stands still for everything but the frames.
        crowd: strangers that fill what its frames leave of the bus, None while there are none.
        bus_ms: time of the bus in ms; runs on while held.
    """

    scenario: Scenario
    bench: Bench
    engine: Engine
    broadcast: Broadcast
    diagnosis: Diagnosis

    def __init__(self, family: str = "auk", scenario: str = "dock", *, pace: float | None = None) -> None:
        """Make a craft.

        Args:
            family: "auk", "nmea2000", "skua" or "tern".
            scenario: name of a file in the folder scenarios.
            pace: how many times faster than real the slow things go; None = as the scenario says.

        Raises:
            Misunderstood: there is no such family or scenario, or they do not fit each other.
        """
        self.family = family
        self._speech = family_named(family)
        self.bitrate = self._speech.bitrate
        self._pace = pace
        self.crowd: Crowd | None = None
        self.bus_ms = 0
        self.note: Callable[..., None] = _nowhere
        self.clock: Callable[[], float] = lambda: self.bus_ms / 1000.0
        self.play(scenario)

    def play(self, name: str) -> None:
        """Begin a scenario; nothing changes if it is refused.

        Raises:
            Misunderstood: there is none of that name, or it is made for another family.
        """
        scenario = scenarios.load(name)
        if scenario.families and self.family not in scenario.families:
            raise Misunderstood(f"The scenario {name} is made for {', '.join(scenario.families)}.")
        if hasattr(self, "diagnosis"):
            self.diagnosis.close("the scenario was changed")
        self.scenario = scenario
        self.broadcast = Broadcast(self._speech)
        self.engine = _engine(scenario, self._speech.kind)
        self.engine.pace = scenario.pace if self._pace is None else self._pace
        self.bench = Bench(self.engine, service_at=scenario.start["service_at"])
        self.diagnosis = Diagnosis(self)
        self.held = False
        self._next_step = 0
        self._steps_began = self._now = 0.0
        self._silent_until_ms = self._pulled_until_ms = self.bus_ms
        if scenario.start["engine"] == "running":
            for _ in range(round(SETTLE_S / STEP_S)):
                self._move()
            self._now = 0.0
            self.engine.has_run(scenario.start["hours"])
        self._run_steps()

    @property
    def awake(self) -> bool:
        """Whether frames are on the bus at all."""
        return not self.cut and self.broadcast.awake(self.bench)

    @property
    def cut(self) -> bool:
        """Whether no frame passes either way."""
        return self.bus_ms < self._silent_until_ms

    @property
    def adapter_pulled(self) -> bool:
        """Whether the adapter is out of its plug."""
        return self.bus_ms < self._pulled_until_ms

    def step(self) -> list[tuple[int, bytes]]:
        """Move on by 5 ms.

        Returns:
            Identifier (bit 31 set for 29 bits) and data of every frame that is sent in it.
        """
        self.bus_ms += STEP_MS
        if not self.held:
            self._run_steps()
            self._move()
        self.diagnosis.step()
        if self.cut:
            return []
        return self.broadcast.due(self.bus_ms, self.bench)

    def hear(self, ident: int, data: bytes, extended: bool = False, remote: bool = False) -> None:  # noqa: FBT001, FBT002 (parts of a frame)
        """A frame that the tool put on the bus; see Diagnosis.hear."""
        self.diagnosis.hear(ident, data, extended=extended, remote=remote)

    def advance(self, seconds: float) -> list[tuple[float, int, bytes]]:
        """Move on without any clock; the same craft gives the same frames every time.

        Args:
            seconds: rounded to whole steps of 5 ms.

        Returns:
            Time of the bus in seconds, identifier and data of every frame.
        """
        frames: list[tuple[float, int, bytes]] = []
        for _ in range(round(seconds / STEP_S)):
            now = [*self.step(), *self.diagnosis.take()]
            frames += [(self.bus_ms / 1000.0, ident, data) for ident, data in now]
        return frames

    def _move(self) -> None:
        self._now += STEP_S
        self.engine.step(STEP_S)
        self.bench.key_age += STEP_S
        self.diagnosis.move(STEP_S)
        self.bench.stern.step(STEP_S, self.engine.driver)
        self.bench.tachometer.step(STEP_S, self.engine.speed)
        if self.engine.tick % PROTECTION_STEPS == 0:
            self.bench.protection.step(self.engine, self.broadcast.seen)
            self.engine.usage.watch(self._counted())

    def _counted(self) -> frozenset[str]:
        """What the controller counts, as far as it is the case now."""
        engine, active = self.engine, self.bench.protection.active
        holds = {
            "starts": engine.state == RUNNING,
            "overspeed": engine.governor.cut,
            "overheat": "coolant high" in active or "exhaust high" in active,
            "low_oil": "oil pressure low" in active,
        }
        return frozenset(what for what, is_so in holds.items() if is_so)

    def _run_steps(self) -> None:
        steps = self.scenario.steps
        while (
            self._next_step < len(steps) and steps[self._next_step].at <= self._now - self._steps_began + 1e-9
        ):
            self.act(steps[self._next_step].request)
            self._next_step += 1
        repeat = self.scenario.repeat
        if repeat is not None and self._now - self._steps_began >= repeat - 1e-9:
            self._steps_began += repeat
            self._next_step = 0

    def act(self, request: Mapping[str, Any]) -> None:
        """Do something to the craft; see actions.DEEDS.

        Raises:
            Misunderstood: the request makes no sense.
        """
        deed, arguments = understand(request)
        deed.run(self, **arguments)

    def turn_key(self, *, on: bool, level: float | None = None) -> None:
        """Turn the key; ``level`` is percent of top engine speed it allows, None = as before."""
        driver = self.engine.driver
        if on != driver.key:
            self.bench.key_age = 0.0
        driver.key = on
        if level is not None:
            driver.key_level = round(level)

    def plant(self, signal: str, kind: str, value: float | str | None) -> None:
        """Plant a fault; see Plants.plant."""
        self.broadcast.plants.plant(signal, kind, value, self.broadcast.raws)

    def be_crowded(self, *, on: bool) -> None:
        """Strangers talk all the time, or leave."""
        self.crowd = Crowd(self.bitrate, STEP_S, self.broadcast.idents) if on else None

    def silence(self, seconds: float) -> None:
        """No frame at all for so long."""
        self._silent_until_ms = self.bus_ms + round(seconds * 1000)

    def pull_adapter(self, seconds: float) -> None:
        """The adapter is out for so long."""
        self._pulled_until_ms = self.bus_ms + round(seconds * 1000)

    def state(self) -> dict[str, Any]:
        """What the bus says and what the engine is, for a person or a test."""
        engine = self.engine
        return {
            "family": self.family,
            "scenario": self.scenario.name,
            "values": self.broadcast.values(),
            "age_ms": {name: self.bus_ms - at for name, at in self.broadcast.sent_ms.items()},
            "engine": {
                "t": round(self._now, 3),
                "state": engine.state,
                "rev_min": round(engine.speed, 1),
                "key": engine.driver.key,
                "lanyard_pulled": engine.driver.lanyard_pulled,
                "throttle": round(engine.driver.lever, 2),
                "coolant": round(engine.heat.coolant, 2),
                "battery": round(engine.battery.volts, 3),
                "craft_speed": round(engine.craft_speed, 2),
                "afloat": engine.afloat,
            },
            "faults": list(self.bench.protection.active),
            "planted": self.broadcast.plants.signals,
            "held": self.held,
            "awake": self.awake,
            "adapter_pulled": self.adapter_pulled,
            "controllers": self.diagnosis.said(),
        }


def _nowhere(what: str, did: str, **details: Any) -> None:
    """Keeps no ledger."""


def _engine(scenario: Scenario, kind: EngineKind) -> Engine:
    start = scenario.start
    if start["engine"] not in {"stopped", "running"}:
        raise Misunderstood(f"An engine begins stopped or running, not {start['engine']!r}.")
    heat = Heat(air=start["air"], water=start["water"], soaked=start["soaked"])
    engine = Engine(kind, heat=heat, battery=Battery(start["battery"]))
    engine.driver.key = start["key"]
    engine.driver.key_level = round(start["level"])
    engine.driver.throttle(start["throttle"])
    engine.afloat, engine.waves = start["afloat"], start["waves"]
    engine.tank = start["fuel"]
    engine.has_run(start["hours"])
    if start["engine"] == "running":
        engine.state = RUNNING
        engine.omega = 140.0
        engine.manifold.pressure = 36.0
        engine.plate = engine.governor.idle_plate
        engine.rail.pressure = 300.0
        engine.oil.pressure = 120.0
    return engine
