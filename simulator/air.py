"""Air into the engine: throttle plate, manifold, cylinders. kPa, degC, grams a second.

A mean-value model: flow through the plate against flow into the cylinders fills or empties the manifold.
"""

from __future__ import annotations

import math

from simulator.kinds import THREE, EngineKind

GAS_J_KG_K = 287.05
"""Of air."""
MANIFOLD_M3 = 0.002
PLATE_CURVE, PLATE_LEAK = 1.8, 0.0008
CHOKED_FLOW = 0.6847
"""Flow function of air (ratio of specific heats 1.4) at and below the critical pressure ratio."""
CRITICAL_RATIO, STEEP_RATIO = 0.528, 0.97
RESIDUAL_KPA = 9.0
"""Manifold pressure at which nothing new would fit beside the burnt gas."""


def flow_function(ratio: float) -> float:
    """Flow through a throat by pressure ratio (downstream/upstream), without unit.

    An ellipse between the critical ratio and 1, which is close to the exact isentropic curve; a straight line
    just before 1, where the exact slope has no end.
    """
    if ratio <= CRITICAL_RATIO:
        return CHOKED_FLOW
    if ratio >= 1.0:
        return 0.0
    inside = min(ratio, STEEP_RATIO)
    share = (inside - CRITICAL_RATIO) / (1.0 - CRITICAL_RATIO)
    flow = CHOKED_FLOW * math.sqrt(1.0 - share * share)
    return flow if ratio <= STEEP_RATIO else flow * (1.0 - ratio) / (1.0 - STEEP_RATIO)


def filling(speed: float) -> float:
    """Volumetric efficiency by engine speed (rev/min), without unit."""
    return max(0.5, 1.0 - 0.17 * ((speed - 5800.0) / 4800.0) ** 2)


def plate_flow(open_m2: float, plate: float, outside_kpa: float, manifold_kpa: float, kelvin: float) -> float:
    """Air through a plate of effective area ``open_m2``, g/s; ``plate`` in percent open."""
    area = open_m2 * (PLATE_LEAK + (1.0 - PLATE_LEAK) * math.pow(max(plate, 0.0) / 100.0, PLATE_CURVE))
    through = area * outside_kpa * 1e3 / math.sqrt(GAS_J_KG_K * kelvin)
    return 1e3 * through * flow_function(manifold_kpa / outside_kpa)


def cylinder_flow(displacement_m3: float, speed: float, manifold_kpa: float, kelvin: float) -> float:
    """Air into the cylinders, g/s: one filling of the displacement every two turns."""
    pressure = max(manifold_kpa - RESIDUAL_KPA, 0.0) * 1e3
    return 1e3 * filling(speed) * pressure * displacement_m3 * speed / (120.0 * GAS_J_KG_K * kelvin)


class Manifold:
    """The intake manifold.

    Attributes:
        pressure: absolute, kPa.
        drawn: air into the cylinders, g/s.
    """

    def __init__(self, pressure: float, kind: EngineKind = THREE) -> None:
        self._kind = kind
        self.pressure = pressure
        self.drawn = 0.0

    def step(self, dt_s: float, *, plate: float, speed: float, outside_kpa: float, celsius: float) -> None:
        """Move on; implicit in the pressure, so that an open plate needs no tiny steps."""
        kind, kelvin = self._kind, celsius + 273.15
        gain = 1e-6 * GAS_J_KG_K * kelvin / MANIFOLD_M3  # kPa per gram

        def slope(pressure: float) -> float:
            return gain * (
                plate_flow(kind.plate_m2, plate, outside_kpa, pressure, kelvin)
                - cylinder_flow(kind.displacement_m3, speed, pressure, kelvin)
            )

        rate = slope(self.pressure)
        stiffness = min(0.0, (rate - slope(self.pressure - 0.01)) / 0.01)
        self.pressure += dt_s * rate / (1.0 - dt_s * stiffness)
        self.pressure = min(max(self.pressure, 5.0), outside_kpa)
        self.drawn = cylinder_flow(kind.displacement_m3, speed, self.pressure, kelvin)
