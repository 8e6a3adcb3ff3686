"""What one simulated engine differs in from another: size, cylinders, charger, jet pump, bands of hours."""

from __future__ import annotations

import dataclasses

REFERENCE_M3 = 0.0009
"""Displacement of the engine that heat, starter and friction are made for; others are scaled by ``size``."""


@dataclasses.dataclass(frozen=True)
class EngineKind:
    """An invented four-stroke engine. The tests hold the outcome against workshop figures.

    Attributes:
        cylinders: how many.
        displacement_m3: of all of them.
        plate_m2: effective area of the open throttle plate.
        inertia: kg·m², crank, shaft, impeller and the water in it.
        pump_nm_s2: torque of the full jet pump, N·m per (rad/s)².
        injector_cm3_min: static flow of one injector at the rail's target.
        boost_kpa: pressure a mechanical charger adds at 7600 rev/min; it rises with the square of the speed
            (trade reference 1.10, common practice). 0 = there is none.
        edges: rev/min where the bands of its hours begin; the last has no end.
        past: share of its hours in each band before the simulation began (much idling, some full throttle).
    """

    cylinders: int
    displacement_m3: float
    plate_m2: float
    inertia: float
    pump_nm_s2: float
    injector_cm3_min: float
    boost_kpa: float
    edges: tuple[int, ...]
    past: tuple[float, ...]

    @property
    def size(self) -> float:
        """Full charge of this engine to that of the reference, without unit."""
        return self.displacement_m3 / REFERENCE_M3 * (1.0 + self.boost_kpa / 101.3)


THREE = EngineKind(
    cylinders=3,
    displacement_m3=REFERENCE_M3,
    plate_m2=0.00157,
    inertia=0.06,
    pump_nm_s2=9.3e-5,
    injector_cm3_min=300.0,
    boost_kpa=0.0,
    edges=(0, 1500, 3000, 4500, 6000, 7000, 8000),
    past=(0.31, 0.12, 0.14, 0.16, 0.12, 0.12, 0.03),
)
"""0.9 l, a plate of 50 mm bore (discharge coefficient 0.8)."""

FOUR = EngineKind(
    cylinders=4,
    displacement_m3=0.0016,
    plate_m2=0.0028,
    inertia=0.11,
    pump_nm_s2=2.62e-4,
    injector_cm3_min=700.0,
    boost_kpa=62.0,
    edges=(0, 2000, 4000, 5500, 6500, 7500),
    past=(0.36, 0.18, 0.20, 0.13, 0.10, 0.03),
)
"""1.6 l with a mechanical charger."""
