"""The derived signals: what each needs, its formula in words, and where the formula comes from."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from app.messages import Limit

if TYPE_CHECKING:
    from collections.abc import Callable

    from app.engine_data import EngineData

TOO_SLOW = 500.0
"""rev/min; below it the speed for each 1,000 rev/min says nothing (our own figure: under any idle speed)."""


class Row(NamedTuple):
    """One derived signal.

    Attributes:
        name: begins with "=", which no name in a DBC file can.
        label: words for the glass.
        unit: of the result; "" = that of the first input.
        decimals: digits after the point.
        low, high: ends of a drawn scale.
        inputs: roles, or fields of EngineData that name a signal; it stands on the page of the first.
        units: that ``work`` counts the inputs in, see derived.FACTORS; "" = as they come.
        formula: in words, short enough to stand below the figure.
        source: where the formula comes from.
        work: the result out of family data and the good inputs, None where it has no meaning.
        instead: why it has none, in words.
        offered: whether the family data suffice.
        limits: generic ones, judged like those of any signal.
    """

    name: str
    label: str
    unit: str
    decimals: int
    low: float
    high: float
    inputs: tuple[str, ...]
    units: tuple[str, ...]
    formula: str
    source: str
    work: Callable[..., float | None]
    instead: str = ""
    offered: Callable[[EngineData], bool] = lambda _engine: True
    limits: tuple[Limit, ...] = ()


def duty(engine: EngineData, pulse: float, speed: float) -> float:
    """Share of the time an injector is open, %.

    Args:
        engine: how many strokes make a cycle, in which there is one pulse.
        pulse: ms.
        speed: rev/min.
    """
    return pulse * speed / (300.0 * engine.strokes)


def boost(_engine: EngineData, manifold: float, outside: float) -> float:
    """Pressure in the manifold above the air outside; both absolute, kPa. Below zero it is a vacuum."""
    return manifold - outside


def flow(engine: EngineData, pulse: float, speed: float) -> float:
    """Fuel that all injectors let through, L/h: open time without the dead part, times the static flow.

    Args:
        engine: injectors, their static flow (cm³/min) and dead time (ms).
        pulse: ms.
        speed: rev/min.
    """
    open_ms = max(0.0, pulse - engine.injector_dead)
    cycles_min = speed * 2.0 / engine.strokes
    cm3_min = engine.injectors * engine.injector_flow * open_ms / 60_000.0 * cycles_min
    return cm3_min * 60.0 / 1000.0


def across(engine: EngineData, rail: float, manifold: float, outside: float) -> float:
    """Pressure that drives the fuel through an injector, kPa; manifold and outside are absolute."""
    return rail - manifold if engine.rail_absolute else rail + outside - manifold


def speed_per_1000(_engine: EngineData, craft: float, engine_speed: float) -> float | None:
    """Craft speed for each 1,000 rev/min, in the unit of the craft speed; None at rest."""
    return None if engine_speed < TOO_SLOW else 1000.0 * craft / engine_speed


ROWS = (
    Row(
        "=injector_duty",
        "Injector duty",
        "%",
        1,
        0.0,
        100.0,
        ("injector_pulse", "engine_speed"),
        ("ms", "rev/min"),
        "pulse time × engine speed",
        "handbook formula: pulse in ms × rev/min / 1200 (four-stroke), / 600 (two-stroke)",
        duty,
        limits=(
            Limit("watch", "above", 85.0, None, "generic default, common practice: 80 to 85 % at most", True),
        ),
    ),
    Row(
        "=injector_flow",
        "Injector fuel",
        "L/h",
        1,
        0.0,
        80.0,
        ("injector_pulse", "engine_speed"),
        ("ms", "rev/min"),
        "open time × rated flow",
        "handbook formula: injectors × static flow × (pulse - dead time, charging) × cycles",
        flow,
        offered=lambda engine: engine.injectors > 0 and engine.injector_flow > 0,
    ),
    Row(
        "=injector_pressure",
        "Across injector",
        "kPa",
        0,
        0.0,
        500.0,
        ("fuel_rail", "manifold_pressure", "barometric_pressure"),
        ("kPa", "kPa", "kPa"),
        "fuel rail − manifold",
        "common practice, no source: rail (gauge) + barometer - manifold",
        across,
    ),
    Row(
        "=boost",
        "Boost",
        "kPa",
        1,
        -100.0,
        150.0,
        ("manifold_pressure", "barometric_pressure"),
        ("kPa", "kPa"),
        "manifold − barometer",
        "gauge pressure: absolute less ambient (ISO 80000-4, from memory)",
        boost,
    ),
    Row(
        "=speed_per_1000",
        "Per 1000 rev/min",
        "",
        1,
        0.0,
        30.0,
        ("craft_speed", "engine_speed"),
        ("", "rev/min"),
        "craft speed / engine speed",
        "common practice, no source",
        speed_per_1000,
        instead="engine too slow",
    ),
)
"""In the order in which they stand behind the signals of their page."""
