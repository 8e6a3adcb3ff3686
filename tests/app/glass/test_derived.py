"""Signals that are worked out: against examples from outside, and never out of anything that is not good.

Injector duty: worked examples and the limit of 100 % are those of two public calculator pages for four-stroke
engines (stealth316.com, "2-calc-idc": 15 ms at 3000 and at 6000 rev/min; axiscalc.com: 120000 / rev/min ms).
The others have no outside source: they follow from the definition of the quantity, worked out here by hand.
"""

from __future__ import annotations

import pytest
from msgspec import structs

from app.derived import BY_NAME, offers
from app.derived_table import ROWS
from app.engine_data import EngineData
from app.messages import LinkState
from app.reading import Quality
from app.show import Look

ENGINE = EngineData(4, 3, 300.0, 0.9, "Pulse", "Rail")
GIVEN = {"Speed": 6000.0, "Pulse": 15.0, "Rail": 300.0, "Inlet": 60.0, "Outside": 100.0, "Craft": 90.0}
ROLES = {
    "engine_speed": "Speed",
    "manifold_pressure": "Inlet",
    "barometric_pressure": "Outside",
    "craft_speed": "Craft",
}
WORKED = {
    "=injector_duty": "75.0 %",
    "=injector_flow": "38.1 L/h",  # 3 × 300 × 14.1 / 60000 × 3000 × 60 / 1000
    "=injector_pressure": "340 kPa",
    "=boost": "-40.0 kPa",
    "=speed_per_1000": "15.0 km/h",
}
GROUPS = {"Pulse": "Fuel", "Rail": "Fuel", "Inlet": "Air", "Outside": "Air", "Craft": "Display"}


def craft(make, *, engine=ENGINE, units=(), ages=(), without=()):
    units = {"Pulse": "ms", "Craft": "km/h", "Speed": "rev/min"} | dict(units)
    signals = [
        structs.replace(
            make.info(name, units.get(name, "kPa"), 1, group=GROUPS.get(name, "Engine")),
            max_age=dict(ages).get(name, 0.5),
        )
        for name in GIVEN
        if name not in without
    ]
    made = make.catalogue(signals, ride=("Speed",), groups=("Engine", "Fuel", "Air", "Display"))
    return structs.replace(made, roles=ROLES, engine=engine)


def board(make, catalogue=None, *, changed=(), qualities=(), aged=(), silent=(), **view):
    """A board that has seen one moment of a craft."""
    from app.messages import Value

    catalogue = catalogue or craft(make)
    seen = make.view(catalogue=catalogue, **view)
    given = GIVEN | dict(changed)
    values = [
        Value(
            number,
            given[info.name],
            make.now - dict(aged).get(info.name, 0.0),
            dict(qualities).get(info.name, Quality.GOOD),
            1,
        )
        for number, info in enumerate(catalogue.signals)
        if info.name not in silent
    ]
    made = make.board()
    made.take(structs.replace(seen, snapshot=structs.replace(seen.snapshot, values=values)), make.now)
    return made


def test_every_row_is_worked_out_as_by_hand(make):
    seen = board(make)
    assert {name: seen.tile(name).text for name in BY_NAME} == WORKED


@pytest.mark.parametrize(
    ("pulse", "speed", "strokes", "duty"),
    [(15.0, 3000.0, 4, 37.5), (15.0, 6000.0, 4, 75.0), (16.0, 7500.0, 4, 100.0), (8.0, 7500.0, 2, 100.0)],
)
def test_injector_duty_against_public_calculators(pulse, speed, strokes, duty):
    assert BY_NAME["=injector_duty"].work(EngineData(strokes), pulse, speed) == pytest.approx(duty)


def test_fuel_of_a_closed_injector_is_nothing_and_of_an_open_one_its_static_flow():
    flow = BY_NAME["=injector_flow"].work
    assert flow(ENGINE, 0.5, 6000.0) == 0.0
    # Open all the time (20 ms of 20 ms): 3 × 300 cm³/min = 54 L/h, whatever the formula's factors are.
    assert flow(EngineData(4, 3, 300.0, 0.0), 20.0, 6000.0) == pytest.approx(54.0)
    assert flow(EngineData(2, 3, 300.0, 0.0), 10.0, 6000.0) == pytest.approx(54.0)


def test_a_rail_counted_from_vacuum_needs_no_barometer():
    across = BY_NAME["=injector_pressure"].work
    assert across(EngineData(rail_absolute=True), 400.0, 60.0, 100.0) == 340.0
    assert across(EngineData(rail_absolute=False), 300.0, 60.0, 100.0) == 340.0


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
@pytest.mark.parametrize("quality", [quality for quality in Quality if quality is not Quality.GOOD])
def test_nothing_good_comes_of_a_bad_input(make, row, quality):
    catalogue = craft(make)
    offer = next(offer for offer in offers(catalogue) if offer.row is row)
    for info in offer.inputs:
        seen = board(make, qualities={info.name: quality})
        value = seen.moment.value(row.name)
        assert (value.value, value.quality) == (None, quality)
        assert seen.moment.quality(row.name) is quality
        tile = seen.tile(row.name)
        assert not tile.figure
        assert tile.look is not Look.GOOD
        assert tile.note.startswith(f"{info.label}: ")


def test_a_sensor_fault_is_told_before_an_old_value(make):
    seen = board(make, qualities={"Pulse": Quality.STALE, "Speed": Quality.ERROR})
    assert seen.tile("=injector_duty").note == "speed: sensor fault"


def test_it_is_as_old_as_its_oldest_input_and_stale_with_the_first(make):
    seen = board(make, craft(make, ages={"Rail": 2.0}), aged={"Rail": 1.2, "Inlet": 0.1})
    assert seen.moment.value("=injector_pressure").at == pytest.approx(make.now - 1.2)
    assert seen.moment.quality("=injector_pressure") is Quality.GOOD
    seen = board(make, craft(make, ages={"Rail": 2.0}), aged={"Rail": 0.1, "Inlet": 0.6})
    assert seen.moment.quality("=injector_pressure") is Quality.STALE
    assert seen.tile("=injector_pressure").look is Look.STALE


def test_it_waits_for_an_input_that_never_came(make):
    seen = board(make, silent=("Outside",))
    assert seen.tile("=boost").look is Look.WAITING
    assert seen.tile("=injector_duty").look is Look.GOOD


def test_when_the_craft_is_lost_all_of_it_is_old(make):
    seen = board(make, state=LinkState.LOST)
    assert {seen.tile(name).look for name in BY_NAME} == {Look.STALE}


@pytest.mark.parametrize(
    ("said", "missing"),
    [
        ({"without": ("Pulse",)}, {"=injector_duty", "=injector_flow"}),
        ({"without": ("Outside",)}, {"=boost", "=injector_pressure"}),
        ({"without": ("Speed",)}, {"=injector_duty", "=injector_flow", "=speed_per_1000"}),
        ({"engine": None}, {"=injector_duty", "=injector_flow", "=injector_pressure"}),
        ({"engine": structs.replace(ENGINE, injectors=0)}, {"=injector_flow"}),
        ({"units": {"Inlet": "mmHg"}}, {"=boost", "=injector_pressure"}),
        ({"units": {"Pulse": "deg"}}, {"=injector_duty", "=injector_flow"}),
    ],
)
def test_only_what_the_craft_has_the_inputs_for_is_offered(make, said, missing):
    catalogue = craft(make, **said)
    assert set(BY_NAME) - {offer.row.name for offer in offers(catalogue)} == missing


def test_pascal_and_metres_a_second_are_turned(make):
    units = {"Rail": "Pa", "Inlet": "Pa", "Outside": "Pa", "Craft": "m/s", "Speed": "rpm"}
    given = {"Rail": 300_000.0, "Inlet": 60_000.0, "Outside": 100_000.0, "Craft": 25.0}
    seen = board(make, craft(make, units=units), changed=given)
    assert {name: seen.tile(name).text for name in BY_NAME} == WORKED


def test_at_rest_the_speed_for_each_thousand_has_no_meaning(make):
    tile = board(make, changed={"Speed": 0.0}).tile("=speed_per_1000")
    assert (tile.main, tile.note, tile.look) == ("not known", "engine too slow", Look.NOT_AVAILABLE)


def test_it_stands_on_the_page_of_its_subsystem_and_says_that_it_is_worked_out(make):
    seen = board(make)
    places = {name: page.title for page in seen.pages for name in page.signals}
    assert {name: places[name] for name in BY_NAME} == {
        "=injector_duty": "Fuel",
        "=injector_flow": "Fuel",
        "=injector_pressure": "Fuel",
        "=boost": "Air",
        "=speed_per_1000": "Display",
    }
    for row in ROWS:
        tile = seen.tile(row.name)
        assert tile.label.startswith("= ")
        assert tile.note == row.formula
        assert row.source


def test_a_duty_over_its_limit_is_a_watch_with_a_generic_source(make):
    tile = board(make, changed={"Pulse": 18.0}).tile("=injector_duty")
    assert (tile.look, tile.note) == (Look.WATCH, "max 85 · generic default")
