"""What a controller can be asked to move: pulses of fuel and spark, bursts of everything else.

Each has an end in the controller itself: a count of pulses, or the time of a burst. An inhibit has none: it
holds fuel or spark off while a person cranks, until it is given back or the session or the supply ends. The
controller's own limits can be switched off ("trusting"), so that a tool's refusals are seen alone.
"""

from __future__ import annotations

import dataclasses
import math
from typing import TYPE_CHECKING, Any

from simulator.fluids import FUEL_DENSITY, RAIL_TARGET
from simulator.negative import (
    CONDITIONS_NOT_CORRECT,
    ENGINE_IS_RUNNING,
    OUT_OF_RANGE,
    VOLTAGE_TOO_LOW,
    WRONG_LENGTH,
    Refused,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from simulator.bench import Bench

MOST_PULSES, WIDEST_MS, LONGEST_BURST_S = 30, 10.0, 1.0
LOWEST_V = 9.0
SUPPLY_LOST_V = 6.0
"""Below it the controller forgets what it held off."""
RAIL_KPA_PER_CM3 = 75.0
"""Pressure lost by a cm³ that leaves the closed rail: invented, 20 pulses of 5 ms take about a tenth."""
AIRED_S, CRANKED_OUT_S = 30.0, 5.0
"""A cylinder is free of test fuel after the engine ran, or was cranked, for so long."""
KEPT = 2000
"""Entries of the history."""


@dataclasses.dataclass(frozen=True)
class Output:
    """One output of a controller.

    Attributes:
        key: its name.
        did: data identifier.
        kind: "injector", "coil", "burst" or "inhibit".
        period_ms: from pulse to pulse; 0 for the others.
        cylinder: of an injector or coil.
        flow_cm3_min: static flow of an injector at the rail's target.
        amps: current while it is live.
        plate: percent the throttle plate opens.
        holds_off: "fuel" or "spark" of an inhibit, else empty.
        module: key of the controller that owns it.
        moves: part of the stern that it drives, and which way; see simulator.stern.
        width_first: of pulses, the request carries their width before their count.
        status_did: of an inhibit, the data identifier by which it is read back; 0 = its own.
        held_value: what stands there while it holds.
    """

    key: str
    did: int
    kind: str = "burst"
    period_ms: float = 0.0
    cylinder: int = 0
    flow_cm3_min: float = 0.0
    amps: float = 0.0
    plate: float = 0.0
    holds_off: str = ""
    module: str = "engine"
    moves: tuple[str, float] | None = None
    width_first: bool = False
    status_did: int = 0
    held_value: int = 1

    @property
    def status(self) -> int:
        """See status_did."""
        return self.status_did or self.did

    @property
    def pulsed(self) -> bool:
        """Fuel or spark."""
        return self.kind in {"injector", "coil"}

    @property
    def parameters(self) -> int:
        """Bytes that follow in the request."""
        return {"burst": 1, "inhibit": 0}.get(self.kind, 2)


@dataclasses.dataclass(eq=False)
class Run:
    """An output while it is live.

    Attributes:
        began: by the ledger's clock; ends_at (infinite for an inhibit) and next_at are seconds of the bus.
        count, width_ms: of pulses; given: those that are over.
        cm3: fuel that went into the cylinder.
    """

    output: Output
    began: float
    ends_at: float
    count: int = 0
    width_ms: float = 0.0
    given: int = 0
    next_at: float = 0.0
    cm3: float = 0.0


def read_back(table: Mapping[int, Output], did: int) -> Output | None:
    """The inhibit that is read back by this data identifier, if there is one."""
    return next((one for one in table.values() if one.kind == "inhibit" and one.status == did), None)


class Outputs:
    """All outputs of one craft, each of its own controller.

    Attributes:
        table: by data identifier.
        trusting: the controller fires whatever is asked.
        holds_nothing: it says yes to an inhibit and holds nothing off.
        live: what is live now, by data identifier.
        history: what was live, oldest first.
        film: test fuel, and fuel that nothing burnt, in the cylinders, cm³ by cylinder.
        health: share of its effect by key; 1 = sound, not in it = sound.
        events: (key, what happened, details) since the owner last took them out.
    """

    def __init__(
        self,
        table: Sequence[Output],
        bench: Bench,
        *,
        clock: Callable[[], float],
        speed_seen: Callable[[], float | None],
    ) -> None:
        """Make them.

        Args:
            table: what there is.
            bench: the craft they are built into.
            clock: of the ledger, for the history.
            speed_seen: engine speed as the controller has it, rev/min; None = it does not know.
        """
        self.table = {output.did: output for output in table}
        self.trusting = self.holds_nothing = False
        self.live: dict[int, Run] = {}
        self.history: list[dict[str, Any]] = []
        self.film: dict[int, float] = {}
        self.health: dict[str, float] = {}
        self.events: list[tuple[str, str, dict[str, Any]]] = []
        self._bench, self._clock, self._speed_seen = bench, clock, speed_seen
        self._aired = self._cranked = 0.0

    def start(self, did: int, parameters: bytes, now: float) -> None:
        """Make an output live; a burst that is live already is renewed, an inhibit stays.

        Raises:
            Refused: the controller's own limits.
        """
        output = self.table[did]
        if len(parameters) != output.parameters:
            raise Refused(WRONG_LENGTH)
        if output.width_first:
            parameters = parameters[::-1]
        if not self.trusting:
            self._check(output, parameters)
        if output.kind == "inhibit":
            self._hold(output)
            return
        old = self.live.get(did)
        if old is not None and not output.pulsed:
            old.ends_at = now + parameters[0] / 10.0
            self.events.append((output.key, "renewed", {}))
            return
        if old is not None:
            self._end(old, "it was started anew")
        if not output.pulsed:
            run = Run(output, self._clock(), now + parameters[0] / 10.0)
        else:
            count, width_ms = parameters[0], parameters[1] / 10.0
            lasts = max(count - 1, 0) * output.period_ms / 1000.0 + width_ms / 1000.0
            run = Run(output, self._clock(), now + lasts, count, width_ms, next_at=now)
        self.live[did] = run
        self.events.append((output.key, "live", {}))
        self._drive()

    def _hold(self, output: Output) -> None:
        """Hold fuel or spark off from now on."""
        if self.holds_nothing:
            self.events.append((output.key, "said to hold; holds nothing, on order", {}))
        elif output.did not in self.live:
            self.live[output.did] = Run(output, self._clock(), math.inf)
            self.events.append((output.key, "live", {"held_off": output.holds_off}))
            self._drive()

    def owned(self, did: int, module: str) -> Output | None:
        """The output of that identifier, if it is this controller's."""
        output = self.table.get(did)
        return output if output is not None and output.module == module else None

    def held(self, did: int, module: str) -> int | None:
        """What is read back of an inhibit by its status identifier: 0 = it does not hold.

        None = this controller has none of that identifier.
        """
        output = read_back(self.table, did)
        if output is None or output.module != module:
            return None
        return output.held_value if output.did in self.live else 0

    def drop(self) -> bool:
        """The controller lets go of what it holds off, by itself; whether it held anything."""
        runs = [run for run in self.live.values() if run.output.kind == "inhibit"]
        for run in runs:
            self._end(run, "the controller dropped it by itself")
        return bool(runs)

    def _check(self, output: Output, parameters: bytes) -> None:
        if output.kind == "inhibit":
            sound = True
        elif output.pulsed:
            sound = 0 < parameters[0] <= MOST_PULSES and 0 < parameters[1] / 10.0 <= WIDEST_MS
        else:
            sound = 0 < parameters[0] / 10.0 <= LONGEST_BURST_S
        if not sound:
            raise Refused(OUT_OF_RANGE)
        if any(did != output.did for did in self.live) or (output.pulsed and output.did in self.live):
            raise Refused(CONDITIONS_NOT_CORRECT)
        if (reason := self._own_limit(output)) is not None:
            raise Refused(reason[0])

    def _own_limit(self, output: Output) -> tuple[int, str] | None:
        """What speaks against it by what the controller knows: negative code and words."""
        speed = self._speed_seen()
        if speed is None:
            return CONDITIONS_NOT_CORRECT, "the controller does not know the engine speed"
        if speed > 0.0:
            inhibit = output.kind == "inhibit"
            return CONDITIONS_NOT_CORRECT if inhibit else ENGINE_IS_RUNNING, "the engine turned"
        if self._bench.engine.battery.volts < LOWEST_V:
            return VOLTAGE_TOO_LOW, "the battery was low"
        if output.kind == "injector" and self._bench.engine.driver.start:
            return CONDITIONS_NOT_CORRECT, "the start switch was pressed"
        return None

    def release(self, did: int) -> None:
        """Give one output back to the controller."""
        run = self.live.get(did)
        if run is not None:
            self._end(run, "released")

    def release_all(self, why: str, module: str | None = None) -> None:
        """Give all back, or all of one controller."""
        for run in list(self.live.values()):
            if module is None or run.output.module == module:
                self._end(run, why)

    def _end(self, run: Run, why: str) -> None:
        del self.live[run.output.did]
        entry = {
            "output": run.output.key,
            "held_off": run.output.holds_off,
            "start": run.began,
            "stop": self._clock(),
            "why": why,
            "pulses": run.given,
            "cm3": round(run.cm3, 4),
        }
        self.history.append(entry)
        del self.history[:-KEPT]
        self.events.append((run.output.key, f"ended: {why}", {"pulses": run.given, "cm3": entry["cm3"]}))
        self._drive()

    def step(self, now: float, dt_s: float) -> None:
        """Move on to ``now``, seconds of the bus."""
        self._air(dt_s)
        for run in list(self.live.values()):
            inhibit = run.output.kind == "inhibit"
            reason = None if self.trusting or inhibit else self._own_limit(run.output)
            if not self._bench.engine.driver.key:
                self._end(run, "the key was turned off")
            elif inhibit and self._bench.engine.battery.volts < SUPPLY_LOST_V:
                self._end(run, "the supply was lost")
            elif reason is not None:
                self._end(run, reason[1])
            else:
                self._pulse(run, now)
                if now >= run.ends_at - 1e-9:
                    self._end(
                        run, "all pulses given" if run.output.pulsed else "the time of its burst was over"
                    )

    def _pulse(self, run: Run, now: float) -> None:
        output = run.output
        while run.given < run.count and now >= run.next_at - 1e-9:
            run.given += 1
            run.next_at += output.period_ms / 1000.0
            if output.kind != "injector":
                continue
            rail = self._bench.engine.rail
            flow = output.flow_cm3_min * (max(rail.pressure, 0.0) / RAIL_TARGET) ** 0.5
            cm3 = flow / 60_000.0 * run.width_ms * self.health.get(output.key, 1.0)
            rail.pressure = max(0.0, rail.pressure - RAIL_KPA_PER_CM3 * cm3)
            run.cm3 += cm3
            self.film[output.cylinder] = self.film.get(output.cylinder, 0.0) + cm3

    def _air(self, dt_s: float) -> None:
        """Test fuel leaves with the engine running or cranked for long enough; unburnt fuel comes in."""
        engine = self._bench.engine
        unburnt = engine.sprays and not engine.fires
        self._aired = self._aired + dt_s if engine.state == "Running" else 0.0
        self._cranked = self._cranked + dt_s if engine.state == "Cranking" and not unburnt else 0.0
        if unburnt:
            cylinders = engine.kind.cylinders
            cm3 = engine.fuel_g_s * dt_s / FUEL_DENSITY * 1000.0 / cylinders
            for cylinder in range(1, cylinders + 1):
                self.film[cylinder] = self.film.get(cylinder, 0.0) + cm3
        if self._aired >= AIRED_S or self._cranked >= CRANKED_OUT_S:
            self.film.clear()

    def _drive(self) -> None:
        """What is live acts on the craft."""
        live = [run.output for run in self.live.values()]
        bench = self._bench
        bench.stern.driven = dict(output.moves for output in live if output.moves is not None)
        bench.fan_driven = any(output.key == "fan" for output in live)
        bench.engine.rail.forced = any(output.key == "fuel_pump" for output in live)
        bench.engine.battery.extra_a = sum(o.amps * self.health.get(o.key, 1.0) for o in live)
        plates = [o.plate * self.health.get(o.key, 1.0) for o in live if o.plate]
        bench.engine.governor.driven = plates[0] if plates else None
        bench.engine.held_off = frozenset(output.holds_off for output in live if output.holds_off)

    def said(self) -> dict[str, Any]:
        """For the control socket."""
        now = self._clock()
        live = [
            {
                "output": r.output.key,
                "held_off": r.output.holds_off,
                "start": r.began,
                "for_s": now - r.began,
                "pulses": r.given,
            }
            for r in self.live.values()
        ]
        film = {str(cylinder): round(cm3, 4) for cylinder, cm3 in self.film.items()}
        return {"t": now, "live": live, "history": self.history, "film": film, "trusting": self.trusting}
