"""Family auk: which number of the engine goes into which signal of its DBC file."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from simulator.fluids import FUEL_DENSITY, TANK_L
from simulator.sensors import crank_speed, noise, throttle_track

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from simulator.bench import Bench

Values = dict[str, float | str | None]

SERVICE_EVERY_H = 50.0


def fast(bench: Bench) -> Values:
    """EngineFast."""
    engine = bench.engine
    return {
        "EngineSpeed": crank_speed(engine),
        "Throttle1": throttle_track(engine, 1),
        "Throttle2": throttle_track(engine, 2),
        "ThrottleLever": engine.driver.lever,
        "EngineState": engine.state,
        "EngineLoad": engine.governor.load,
    }


def air(bench: Bench) -> Values:
    """EngineAir."""
    engine = bench.engine
    return {
        "ManifoldPressure": engine.manifold.pressure + 0.05 * noise(engine.tick, 4),
        "BarometricPressure": engine.baro,
        "IntakeAirTemperature": engine.heat.intake + 0.05 * noise(engine.tick, 5),
        "AirMassFlow": engine.manifold.drawn,
        "ThrottleCommand": engine.governor.command,
    }


def pulse_ms(bench: Bench) -> float:
    """Injector pulse: the fuel of one cylinder and cycle, and the dead time that grows as voltage falls."""
    engine = bench.engine
    if not engine.sprays or engine.omega <= 0.0:
        return 0.0
    grams = engine.fuel_g_s / engine.kind.cylinders * (4.0 * math.pi / engine.omega)
    return 1000.0 * grams / FUEL_DENSITY / engine.kind.injector_cm3_min * 60_000.0 + max(
        0.7, 2.9 - 0.145 * engine.battery.volts
    )


def spark(bench: Bench) -> Values:
    """EngineSpark; the lambda sensor reads the end of its scale while nothing burns."""
    engine = bench.engine
    return {
        "IgnitionTiming": engine.governor.timing,
        "KnockRetard": engine.governor.knock,
        "InjectorPulseWidth": pulse_ms(bench),
        "Lambda": engine.governor.mixture if engine.fires else 2.0,
        "LambdaCorrection": engine.governor.correction,
    }


def thermal(bench: Bench) -> Values:
    """EngineThermal."""
    heat, tick = bench.engine.heat, bench.engine.tick
    return {
        "CoolantTemperature": heat.coolant + 0.05 * noise(tick, 6),
        "OilTemperature": heat.oil + 0.05 * noise(tick, 7),
        "ExhaustTemperature": heat.exhaust + 0.1 * noise(tick, 8),
        "ControllerTemperature": heat.controller,
        "FuelTemperature": heat.fuel,
    }


def fluids(bench: Bench) -> Values:
    """EngineFluids; the sensor supply sags with the ground while cranking."""
    engine = bench.engine
    return {
        "OilPressure": engine.oil.pressure,
        "FuelRailPressure": engine.rail.pressure + (0.6 * noise(engine.tick, 9) if engine.rail.pump else 0.0),
        "BatteryVoltage": engine.battery.volts + 0.012 * noise(engine.tick, 10),
        "SensorSupply": 4.95 if engine.state == "Cranking" else 5.0,
        "FuelRate": engine.litres_h,
    }


def switches(bench: Bench) -> Values:
    """EngineSwitches."""
    hands, protection = bench.engine.driver, bench.protection
    return {
        "Lanyard": "Pulled" if hands.lanyard_pulled else "In place",
        "StartSwitch": "Pressed" if hands.start else "Released",
        "StopSwitch": "Pressed" if hands.stop else "Released",
        "ReverseSwitch": "Reverse" if hands.reverse else "Forward",
        "KeyLevel": float(hands.key_level),
        "LimitedPower": protection.reason,
        "FuelPumpRelay": "On" if bench.engine.rail.pump else "Off",
        "FanRelay": "On" if protection.fan or bench.fan_driven else "Off",
        "ActiveFaults": float(protection.count),
        "SpeedLimit": bench.engine.governor.limit,
    }


def display(bench: Bench) -> Values:
    """DisplayMain, by the display itself."""
    engine = bench.engine
    volts = engine.battery.volts - 0.15
    slosh = 1.0 + 0.02 * math.sin(2.1 * engine.t) * min(1.0, engine.craft_speed / 10.0)
    awake = "Starting" if bench.key_age < 2.0 else "Low power" if volts < 10.8 else "Ready"
    return {
        "EngineSpeedDisplay": bench.tachometer.shown,
        "CraftSpeed": engine.craft_speed,
        "FuelLevel": 100.0 * engine.tank * slosh / TANK_L,
        "DisplayVoltage": volts,
        "DisplayState": awake,
    }


def pages(bench: Bench) -> Values:
    """DisplayPages, all of them."""
    engine = bench.engine
    return {
        "EngineHours": engine.hours,
        "ControllerSerial": float(bench.serial),
        "TripHours": engine.trip_hours,
        "TripFuel": engine.trip_litres,
        "WaterTemperature": engine.heat.sea,
        "ServiceHoursLeft": float(math.floor(bench.service_at - engine.hours)),
    }


READ: Mapping[str, Callable[[Bench], Values]] = {
    "EngineFast": fast,
    "EngineAir": air,
    "EngineSpark": spark,
    "EngineThermal": thermal,
    "EngineFluids": fluids,
    "EngineSwitches": switches,
    "DisplayMain": display,
    "DisplayPages": pages,
}
"""Message to the function that reads its signals from the engine."""

COUNTERS = frozenset({"AliveCounter"})
"""Signals that rise by one with every frame."""
PLAIN = frozenset({"Page", "AliveCounter"})
"""Signals without reserved codes."""

WATCHED: Mapping[str, str] = {
    "coolant": "CoolantTemperature",
    "oil_pressure": "OilPressure",
    "exhaust": "ExhaustTemperature",
    "rail": "FuelRailPressure",
    "battery": "BatteryVoltage",
    "knock": "KnockRetard",
    "supply": "SensorSupply",
    "throttle_1": "Throttle1",
    "throttle_2": "Throttle2",
    "speed": "EngineSpeed",
    "intake": "IntakeAirTemperature",
    "manifold": "ManifoldPressure",
    "oil": "OilTemperature",
}
"""What the controller's protection looks at, by the signal that shows it."""
