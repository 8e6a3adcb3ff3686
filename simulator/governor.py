"""What the engine controller does with air, spark and mixture: idle, limits, limiter, knock, closed loop."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from simulator.physics import Engine

IDLE_WARM, IDLE_COLD = 1300.0, 1750.0
"""rev/min, at 60 degC and above, at 0 degC and below; in between on a line."""
LIMITER, LIMITER_BACK = 8000.0, 7900.0
"""rev/min at which fuel is cut, and comes back."""
TOP_SPEED = 7600.0
"""rev/min that a key of 100 % stands for."""
LEVER_CURVE = 1.6
CLOSED_PLATE, OPEN_PLATE = 2.5, 16.0
"""Percent between which the idle control moves the plate."""
RICH, COLD_RICH = 0.87, 0.88
CLOSED_LOOP_COOLANT, CLOSED_LOOP_LOAD = 45.0, 75.0


class Governor:
    """The controller's loops.

    Attributes:
        command: what the plate is told, percent open.
        limit: highest speed allowed by key and protection, rev/min; LIMITER = no special limit.
        cut: the limiter holds the fuel back.
        timing: degrees before top dead centre; spark_efficiency is what is left of the torque.
        knock: retard taken out of it, degrees; rattle is added by a fault.
        mixture: lambda burnt; lean is what a fault makes of it (0.1 = 10 % too lean before correction).
        correction: percent of fuel the closed loop adds.
        load: filling relative to the fullest, percent.
        driven: percent open that the plate is held at from outside; None = it is not.
    """

    def __init__(self) -> None:
        self.command = 0.0
        self.limit = LIMITER
        self.cut = False
        self.timing, self.spark_efficiency = 10.0, 1.0
        self.knock = self.rattle = 0.0
        self.mixture, self.lean, self.correction = 1.0, 0.0, 0.0
        self.load = 0.0
        self.idle_plate = 7.0
        self.driven: float | None = None
        self._ceiling = 100.0

    def idle_target(self, coolant: float) -> float:
        """Idle speed wanted, rev/min, at a coolant temperature in degC."""
        warm = min(max(coolant / 60.0, 0.0), 1.0)
        return IDLE_COLD + (IDLE_WARM - IDLE_COLD) * warm

    def step(self, dt_s: float, engine: Engine) -> None:
        """Look at the engine, set plate, spark and mixture for the next step."""
        speed = engine.speed
        runs = engine.state == "Running"
        error = self.idle_target(engine.heat.coolant) - speed
        lever = engine.driver.lever
        idles = runs and lever < 2.0
        if idles and abs(error) < 400.0:
            self.idle_plate += dt_s * 0.004 * error
            self.idle_plate = min(max(self.idle_plate, CLOSED_PLATE), OPEN_PLATE)
        base = self.idle_plate + (min(max(0.0025 * error, -2.0), 2.0) if idles else 0.0)
        wanted = base + (100.0 - base) * (lever / 100.0) ** LEVER_CURVE
        self.command = self._limited(dt_s, wanted, speed) if engine.driver.key else 4.0
        if self.driven is not None:
            self.command = self.driven
        if speed > LIMITER:
            self.cut = True
        elif speed < LIMITER_BACK:
            self.cut = False
        self._spark(dt_s, engine, error if idles else 0.0)
        self._mix(dt_s, engine)

    def _limited(self, dt_s: float, wanted: float, speed: float) -> float:
        """The plate that keeps the speed under the limit."""
        if self.limit >= LIMITER:
            self._ceiling = 100.0
            return wanted
        over = speed - self.limit
        self._ceiling = min(max(self._ceiling - dt_s * 0.03 * over, CLOSED_PLATE), 100.0)
        if wanted < self._ceiling:
            self._ceiling = min(self._ceiling, wanted + 5.0)
        return max(CLOSED_PLATE, min(wanted, self._ceiling - 0.01 * over))

    def _spark(self, dt_s: float, engine: Engine, idle_error: float) -> None:
        speed = engine.speed
        full = engine.manifold.pressure / engine.baro
        fullest = engine.baro + engine.kind.boost_kpa
        self.load = 100.0 * max(0.0, engine.manifold.pressure - 9.0) / (fullest - 9.0)
        if speed < 50.0:
            self.load = 0.0
        if self.load > 85.0 and speed > 5000.0 and engine.t % 4.0 < 0.05:
            self.knock = max(self.knock, 1.5)
        self.knock += dt_s * (self.rattle - self.knock) / 0.8 if engine.fires else -self.knock * dt_s / 0.8
        best = 14.0 + 22.0 * (1.0 - math.exp(-speed / 2500.0)) - 8.0 * (full - 0.4)
        if engine.state != "Running":
            self.timing = 10.0
        elif engine.driver.lever < 2.0 and speed < 2500.0:
            self.timing = 9.0 + min(max(0.04 * idle_error, -8.0), 8.0)
        else:
            self.timing = best - 2.0
        self.timing -= self.knock
        late = best - self.timing
        self.spark_efficiency = max(0.3, 1.0 - 0.00045 * late * late)

    def _mix(self, dt_s: float, engine: Engine) -> None:
        """Mixture wanted, and the loop that holds it once the engine is warm and not at full load."""
        if engine.heat.coolant < CLOSED_LOOP_COOLANT:
            wanted = COLD_RICH + (1.0 - COLD_RICH) * max(engine.heat.coolant, 0.0) / CLOSED_LOOP_COOLANT
        else:
            wanted = RICH if self.load > CLOSED_LOOP_LOAD else 1.0
        if not engine.fires:
            return
        closed = wanted == 1.0
        sway = 0.012 * math.sin(4.8 * engine.t) if closed else 0.0
        if closed:
            missing = 100.0 * (self.lean + sway)
            self.correction += dt_s * (missing - self.correction) / 1.2
            self.correction = min(max(self.correction, -25.0), 25.0)
        else:
            self.correction += dt_s * (0.0 - self.correction) / 1.2
        self.mixture = wanted * (1.0 + self.lean + sway) / (1.0 + self.correction / 100.0)
