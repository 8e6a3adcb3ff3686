"""The invented engine: a four-stroke that drives a jet pump.

A mean-value model without bus, clock or chance: the same steps give the same engine. A jet pump takes a
torque that rises with the square of its speed, so power with the cube; it does so tied up as under way.
"""

from __future__ import annotations

import math

from simulator import air as airways
from simulator.driver import Driver
from simulator.electrics import Battery, starter_torque
from simulator.fluids import FUEL_DENSITY, TANK_L, Oil, Rail
from simulator.governor import Governor
from simulator.heat import LONGEST_STEP_S, Heat
from simulator.kinds import REFERENCE_M3, THREE, EngineKind
from simulator.usage import Usage

BOOSTED_AT = 7600.0
"""rev/min at which a charger gives what its engine kind says."""
FUEL_J_G = 43_500.0
STOICHIOMETRIC = 14.7
EFFICIENCY = 0.345
"""Of the indicated cycle at high speed."""
FIRES_AFTER_S = 0.6
"""The controller must have found its cylinder first."""
RUNS_ABOVE, STALLS_BELOW = 700.0, 450.0
HEAT_EVERY = 10
"""Steps between two steps of the slow things."""

STOPPED, CRANKING, RUNNING, STOPPING = "Stopped", "Cranking", "Running", "Stopping"


class Engine:
    """Engine, craft and the person on it. All attributes may be read; ``step`` alone moves time.

    Attributes:
        kind: what it is.
        driver: what hands do: throttle, key, switches, lanyard.
        governor: the controller's air, spark and mixture.
        t: seconds since it was made; tick counts the steps.
        omega: crank speed, rad/s.
        state: "Stopped", "Cranking", "Running" or "Stopping".
        held_off: "fuel", "spark" or both, held off from outside: it cranks and does not fire up.
        sprays: whether fuel is injected in this step; fires, whether it is burnt too.
        afloat: the pump has water; grip is how much of its load it takes (air in it: less).
        waves: 0 flat to 1 rough.
        belt: 0 to 1, how much of the charger's boost there is (a slipping clutch or a leak: less).
        boost: pressure before the plate above the barometer, kPa.
        pace: how many times faster than real the slow things go (heat, hours, fuel).
    """

    def __init__(
        self, kind: EngineKind = THREE, *, heat: Heat | None = None, battery: Battery | None = None
    ) -> None:
        self.kind = kind
        self.driver = Driver()
        self.governor = Governor()
        self.heat = heat or Heat()
        self.battery = battery or Battery()
        self.rail = Rail()
        self.oil = Oil()
        self.baro = 101.3
        self.manifold = airways.Manifold(self.baro, kind)
        self.t, self.tick = 0.0, 0
        self.omega = self.angle = 0.0
        self.state = STOPPED
        self.held_off: frozenset[str] = frozenset()
        self.sprays = self.fires = False
        self.afloat, self.grip, self.waves = True, 1.0, 0.0
        self.belt, self.boost = 1.0, 0.0
        self.pace = 1.0
        self.plate = 0.0
        self.cranked_for = 0.0
        self.fuel_g_s = self.friction_w = self.indicated_nm = 0.0
        self.trip_hours, self.trip_litres, self.tank = 0.0, 0.0, 38.0
        self.has_run(123.4)
        self.craft_speed = 0.0

    def has_run(self, hours: float) -> None:
        """Count from so many hours on."""
        self.hours, self.usage = hours, Usage(self.kind, hours)

    @property
    def speed(self) -> float:
        """Crank speed, rev/min."""
        return self.omega * 30.0 / math.pi

    @property
    def litres_h(self) -> float:
        """Fuel injected, l/h."""
        return self.fuel_g_s * 3600.0 / FUEL_DENSITY

    @property
    def pump_nm(self) -> float:
        """Torque the jet pump takes."""
        return self.kind.pump_nm_s2 * self.omega * self.omega * (self.grip if self.afloat else 0.01)

    @property
    def may_run(self) -> bool:
        """Key valid, lanyard in place, stop switch not pressed."""
        hands = self.driver
        return hands.key and hands.key_level > 0 and not hands.lanyard_pulled and not hands.stop

    def step(self, dt_s: float) -> None:
        """Move on by ``dt_s`` seconds; made for 0.005, sound up to 0.01."""
        self.t += dt_s
        self.tick += 1
        self.driver.step(dt_s)
        speed = self.speed
        self.baro = 101.3 + 0.08 * math.sin(self.t / 9.0)
        self._waves()
        self._switch(dt_s, speed)
        self.governor.step(dt_s, self)
        self.plate += (self.governor.command - self.plate) * min(1.0, dt_s / 0.06)
        self.boost = self.belt * self.kind.boost_kpa * (speed / BOOSTED_AT) ** 2
        self.manifold.step(
            dt_s, plate=self.plate, speed=speed, outside_kpa=self.baro + self.boost, celsius=self.heat.intake
        )
        self._turn(dt_s, speed)
        self.rail.step(
            dt_s,
            key=self.driver.key,
            turns=self.may_run and speed > 100.0,
            volts=self.battery.volts,
            litres_h=self.litres_h,
        )
        self.oil.step(dt_s, speed=speed, temperature=self.heat.oil)
        self.battery.step(
            dt_s,
            speed=speed,
            cranking=self.state == CRANKING,
            key=self.driver.key,
            pump=self.rail.pump,
            runs=self.state == RUNNING,
        )
        self._travel(dt_s)
        if self.tick % HEAT_EVERY == 0:
            self._slow(dt_s * HEAT_EVERY * self.pace)

    def _switch(self, dt_s: float, speed: float) -> None:
        """Which state the engine is in."""
        if self.state == RUNNING and (speed < STALLS_BELOW or not self.may_run):
            self.state = STOPPING
        if self.state in {STOPPED, CRANKING}:
            cranks = self.driver.start and self.may_run and self.battery.volts > 6.0
            self.state = CRANKING if cranks else STOPPING if speed > 0 else STOPPED
        if self.state == CRANKING and speed > RUNS_ABOVE:
            self.state = RUNNING
        if self.state == STOPPING and speed == 0.0 and not self.driver.start:
            self.state = STOPPED
        self.cranked_for = self.cranked_for + dt_s if self.state == CRANKING else 0.0

    def _turn(self, dt_s: float, speed: float) -> None:
        """Torques and the speed that follows."""
        self.sprays = (
            self.may_run
            and not self.governor.cut
            and "fuel" not in self.held_off
            and self.rail.pressure > 150.0
            and self.tank > 0.0
            and (self.state == RUNNING or (self.cranked_for > FIRES_AFTER_S and speed > 150.0))
        )
        self.fires = self.sprays and "spark" not in self.held_off
        drawn = self.manifold.drawn
        self.fuel_g_s = drawn / (STOICHIOMETRIC * self.governor.mixture) if self.sprays else 0.0
        burnt = min(self.fuel_g_s, drawn / STOICHIOMETRIC) if self.fires else 0.0
        cycle = EFFICIENCY * (1.0 - 0.30 * math.exp(-speed / 1500.0)) * self.governor.spark_efficiency
        omega = max(self.omega, 1.0)
        self.indicated_nm = burnt * FUEL_J_G * cycle / omega
        krpm = speed / 1000.0
        sticky = 1.0 + 0.8 * math.exp(-(self.heat.oil + 10.0) / 35.0)
        friction = (0.8 + 0.05 * krpm + 0.018 * krpm * krpm) * 1e5 * self.kind.displacement_m3 * sticky
        friction /= 4.0 * math.pi
        self.friction_w = friction * self.omega
        pumping = (self.baro - self.manifold.pressure) * 1e3 * self.kind.displacement_m3 / (4.0 * math.pi)
        stator = 250.0 / omega if self.state == RUNNING else 0.0
        drive = self.indicated_nm
        if self.state == CRANKING:
            drive += starter_torque(speed, self.battery.volts) * self.kind.displacement_m3 / REFERENCE_M3
        self.omega += dt_s * (drive - friction - pumping - stator - self.pump_nm) / self.kind.inertia
        if self.omega < 4.0 and drive < friction:
            self.omega = 0.0
        self.angle = (self.angle + self.omega * dt_s) % (4.0 * math.pi)

    def _waves(self) -> None:
        """Waves lift the pump out for moments once the craft is fast."""
        if self.waves <= 0.0:
            self.grip = 1.0
            return
        swell = math.sin(3.7 * self.t) + 0.6 * math.sin(8.6 * self.t + 1.0)
        lifted = min(1.0, max(0.0, (swell - 1.15) / 0.35))
        self.grip = 1.0 - 0.55 * self.waves * lifted * min(1.0, self.craft_speed / 60.0)

    def _travel(self, dt_s: float) -> None:
        """Speed over the water: displacement below 3000 rev/min, planing above."""
        speed = self.speed
        if not self.afloat:
            wanted = 0.0
        elif speed < 3000.0:
            wanted = 14.0 * max(speed - 700.0, 0.0) / 2300.0
        else:
            wanted = 14.0 + 74.0 * (speed - 3000.0) / 4600.0
        if self.driver.reverse:
            wanted *= 0.1
        self.craft_speed += dt_s * (wanted * self.grip - self.craft_speed) / 2.5

    def _slow(self, dt_s: float) -> None:
        parts, size = math.ceil(dt_s / LONGEST_STEP_S), self.kind.size
        for _ in range(parts):
            self.heat.step(
                dt_s / parts,
                fuel_w=self.fuel_g_s * FUEL_J_G / size if self.fires else 0.0,
                friction_w=self.friction_w / size,
                air_g_s=self.manifold.drawn / size if self.omega > 0 else 0.0,
                speed=self.speed,
                afloat=self.afloat,
            )
        if self.state == RUNNING:
            litres = self.litres_h * dt_s / 3600.0
            self.hours += dt_s / 3600.0
            self.usage.run(self.speed, dt_s / 3600.0)
            self.trip_hours += dt_s / 3600.0
            self.trip_litres += litres
            self.tank = min(TANK_L, max(0.0, self.tank - litres))
