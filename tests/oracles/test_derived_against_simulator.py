"""Derived signals against the simulated engine, which shares no code with the tool.

The engine burns what air and mixture ask for; its pulse is made from that mass. Worked back from the pulse
the tool must find the same litres again.
"""

from __future__ import annotations

import pytest

from app.derived import BY_NAME
from app.engine_data import EngineData
from bus.family import SHIPPED, load_family
from simulator.auk import pulse_ms
from simulator.bench import Bench
from simulator.kinds import THREE
from simulator.physics import Engine


@pytest.fixture(scope="module")
def running():
    """Pulse (ms), speed (rev/min) and fuel burnt (L/h) at three throttles."""
    engine = Engine()
    engine.driver.key = True
    heat = engine.heat
    heat.coolant = heat.metal = heat.oil = 78.0

    def run(seconds):
        for _ in range(round(seconds / 0.005)):
            engine.step(0.005)

    run(2.0)
    engine.driver.start = True
    run(1.6)
    engine.driver.start = False
    seen = []
    for lever in (0.0, 30.0, 100.0):
        engine.driver.throttle(lever)
        run(8.0)
        seen.append(
            {
                "pulse": pulse_ms(Bench(engine)),
                "speed": engine.speed,
                "litres": engine.litres_h,
            }
        )
    return seen


def test_the_engine_ran_through_its_range(running):
    speeds = [each["speed"] for each in running]
    assert speeds == sorted(speeds)
    assert speeds[0] < 2000
    assert speeds[-1] > 5000


def test_the_fuel_of_the_pulses_is_the_fuel_that_is_burnt(running):
    """Within 8 %: the dead time is one figure for the tool and follows the battery in the simulator."""
    engine = load_family(SHIPPED / "auk").catalogue(1).engine
    assert engine.injector_flow == THREE.injector_cm3_min
    for each in running:
        worked = BY_NAME["=injector_flow"].work(engine, each["pulse"], each["speed"])
        assert worked == pytest.approx(each["litres"], rel=0.08, abs=0.1), each


def test_the_duty_is_the_share_of_a_cycle(running):
    for each in running:
        cycle_ms = 2 * 60_000 / each["speed"]
        assert BY_NAME["=injector_duty"].work(EngineData(4), each["pulse"], each["speed"]) == pytest.approx(
            100 * each["pulse"] / cycle_ms
        )
