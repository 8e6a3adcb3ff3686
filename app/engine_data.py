"""What a family says about its engine, so that the glass can work out signals that no controller sends."""

from __future__ import annotations

import msgspec


class EngineData(msgspec.Struct, frozen=True):
    """Facts of one engine; all are family data, and what needs a missing one is not offered.

    Attributes:
        strokes: 4 or 2.
        injectors: how many; 0 = not known.
        injector_flow: static flow of one at its usual pressure, cm³/min; 0 = not known.
        injector_dead: part of a pulse in which nothing flows at charging voltage, ms.
        injector_pulse: signal of the pulse width, ms, one pulse a working cycle; empty = not sent.
        fuel_rail: signal of the rail pressure; empty = not sent.
        rail_absolute: True if it is counted from vacuum, False if from the air outside.
        rated_speed: rev/min of full power; 0 = not known.
        dry_run: seconds it may run without cooling water; 0 = not said.
    """

    strokes: int = 4
    injectors: int = 0
    injector_flow: float = 0.0
    injector_dead: float = 0.0
    injector_pulse: str = ""
    fuel_rail: str = ""
    rail_absolute: bool = False
    dry_run: float = 0.0
    rated_speed: float = 0.0
