"""Temperatures: metal, coolant, oil, wet exhaust, engine space, fuel. Kelvin differences, degC, watts.

Closed-loop cooling with a thermostat that opens from 71 to 82 degC (a usual range of marine closed-loop
engines); the jet pump feeds the raw-water side, so there is no cooling water while the pump stands still or
sucks air. Masses and conductances are invented for an engine of this size; the tests hold the outcome
against workshop figures.
"""

from __future__ import annotations

import math

THERMOSTAT_OPENS, THERMOSTAT_OPEN = 71.0, 82.0

METAL_J_K, COOLANT_J_K, OIL_J_K, EXHAUST_J_K = 16_000.0, 10_000.0, 7_000.0, 1_200.0
METAL_TO_COOLANT_W_K = 3_000.0
"""While the coolant is pumped; a tenth of it by itself."""
EXCHANGER_W_K = 1_000.0
"""Coolant to raw water, thermostat fully open, at full raw-water flow."""
OIL_TO_COOLANT_W_K = 180.0
EXHAUST_TO_WATER_W_K = 300.0
TO_AIR_W_K = 8.0
EXHAUST_TO_AIR_W_K = 5.0

HEAT_SHARE = 0.27
"""Of the fuel's power that goes into the metal."""
EXHAUST_SHARE, EXHAUST_IDLE_W = 0.06, 150.0
"""Of the fuel's power that reaches the exhaust sensor, and what it gets as soon as the engine runs."""
FRICTION_TO_OIL = 0.5

LONGEST_STEP_S = 0.5
"""Longer ones would swing: the exhaust follows its water within seconds."""

FULL_FLOW_SPEED = 7600.0
"""rev/min of the pump at which the raw-water flow counts as 1."""


class Heat:
    """All temperatures of the craft, degC.

    Attributes:
        air: outside air.
        water: the water it floats in, before the small drift that ``sea`` adds.
        raw_water: 0 to 1, how much of the cooling water gets through (weed in the intake: less).
    """

    def __init__(self, *, air: float = 22.0, water: float = 18.0, soaked: float | None = None) -> None:
        start = air if soaked is None else soaked
        self.air, self.water = air, water
        self.raw_water = 1.0
        self.metal = self.coolant = self.oil = start
        self.exhaust = air + 0.3 * (start - air)
        self.intake = air + 0.15 * (start - air)
        self.controller = air + 0.3 * (start - air)
        self.fuel = air
        self._age = 0.0

    @property
    def sea(self) -> float:
        """Water temperature at the hull: currents and depth make it drift a little."""
        return self.water + 0.4 * math.sin(self._age / 20.0)

    def step(
        self, dt_s: float, *, fuel_w: float, friction_w: float, air_g_s: float, speed: float, afloat: bool
    ) -> None:
        """Move on.

        Args:
            dt_s: seconds, at most LONGEST_STEP_S.
            fuel_w: power of the fuel burnt.
            friction_w: power lost in friction.
            air_g_s: air drawn by the engine.
            speed: engine speed, rev/min.
            afloat: whether the pump has water.
        """
        self._age += dt_s
        turning = speed > 50.0
        flow = self.raw_water * (speed / FULL_FLOW_SPEED) ** 0.8 if turning and afloat else 0.0
        stirred = METAL_TO_COOLANT_W_K * (1.0 if turning else 0.1)
        opening = min(max((self.coolant - THERMOSTAT_OPENS) / (THERMOSTAT_OPEN - THERMOSTAT_OPENS), 0.0), 1.0)

        to_coolant = stirred * (self.metal - self.coolant)
        oil_to_coolant = OIL_TO_COOLANT_W_K * (self.oil - self.coolant) * (1.0 if turning else 0.1)
        to_water = EXCHANGER_W_K * flow * opening * (self.coolant - self.sea)
        self.metal += dt_s * (HEAT_SHARE * fuel_w - to_coolant) / METAL_J_K
        self.coolant += (
            dt_s
            * (to_coolant + oil_to_coolant - to_water - TO_AIR_W_K * (self.coolant - self.air))
            / COOLANT_J_K
        )
        self.oil += dt_s * (FRICTION_TO_OIL * friction_w - oil_to_coolant) / OIL_J_K

        exhaust_w = EXHAUST_SHARE * fuel_w + (EXHAUST_IDLE_W if fuel_w > 0 else 0.0)
        exhaust_w -= EXHAUST_TO_WATER_W_K * flow * (self.exhaust - self.sea)
        exhaust_w -= EXHAUST_TO_AIR_W_K * (self.exhaust - self.air)
        self.exhaust += dt_s * exhaust_w / EXHAUST_J_K

        rise = self.coolant - self.air
        share = 0.25 / (1.0 + air_g_s / 15.0)
        self.intake += dt_s * (self.air + share * rise - self.intake) / (60.0 / (1.0 + air_g_s / 5.0))
        self.controller += dt_s * (self.air + 6.0 + 0.3 * rise - self.controller) / 300.0
        self.fuel += dt_s * (self.air + 0.15 * rise - self.fuel) / 900.0
