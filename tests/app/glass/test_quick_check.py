"""The quick check row by row, each at its limit, below, above, unknown and old.

Limits of the battery at rest: the usual table of open-circuit voltages (12.24 V = half charged). 12.8 V while
charging, heat and oil: common practice, no source. That a fault that fails now keeps the craft ashore is our
own rule; bit 0 of the status byte is that of ISO 14229-1.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec import structs
from quick_craft import BEGAN, NAMES, NOW, OFF, RUNS, SOUND, check, limit, report, row, told_moment

from app.diagnosis import Fault, JobState
from app.messages import Craft, LinkState
from app.moment import Moment
from app.ports import View
from app.quick_check import Engine, quick_check
from app.quick_row import State, Verdict
from app.quick_table import TABLE
from app.reading import Quality
from app.settings import Pressure, Settings, Temperature
from app.units import GlassUnits

FAMILIES = Path(__file__).parents[3] / "bus" / "families"
FIT, LOOK, ASHORE = Verdict.FIT, Verdict.LOOK, Verdict.ASHORE


def fault(status=0x28, code="P0301"):
    failed, pending, confirmed = (bool(status & bit) for bit in (0x01, 0x04, 0x08))
    return Fault("engine", 0x030100, code, "Misfire", status, failed, pending, confirmed, status >= 0x80)


def test_a_sound_craft_with_its_engine_off_is_fit(seen):
    made = check(seen)
    assert (made.verdict, made.engine) == (FIT, Engine.OFF)
    assert {row.key for row in made.rows} == {"readings", "faults", "battery", "key", "heat", "oil"}
    assert all(row.known for row in made.rows)


def test_a_sound_craft_with_its_engine_running_is_fit(seen):
    made = check(seen, RUNS)
    assert (made.verdict, made.engine) == (FIT, Engine.RUNNING)
    assert all(one.state is State.FINE for row in made.rows for one in row.seen)


@pytest.mark.parametrize(
    ("key", "value", "at", "verdict"),
    [
        ("battery", 12.2, OFF, FIT),
        ("battery", 12.19, OFF, LOOK),
        ("battery", 11.5, OFF, LOOK),
        ("battery", 11.49, OFF, ASHORE),
        ("battery", 15.0, OFF, FIT),
        ("battery", 15.01, OFF, LOOK),
        ("battery", 12.8, RUNS, FIT),
        ("battery", 12.79, RUNS, LOOK),
        ("battery", 11.49, RUNS, ASHORE),
        ("battery", 15.01, RUNS, LOOK),
        ("coolant", 95.0, OFF, FIT),
        ("coolant", 95.01, OFF, LOOK),
        ("coolant", 102.0, RUNS, LOOK),
        ("coolant", 102.01, RUNS, ASHORE),
        ("exhaust", 80.0, OFF, FIT),
        ("exhaust", 80.01, RUNS, LOOK),
        ("exhaust", 93.0, RUNS, LOOK),
        ("exhaust", 93.01, RUNS, ASHORE),
        ("oil", 100.0, RUNS, FIT),
        ("oil", 99.9, RUNS, LOOK),
        ("oil", 70.0, RUNS, LOOK),
        ("oil", 69.9, RUNS, ASHORE),
        ("oil", 0.0, OFF, FIT),
        ("key", 1.0, OFF, FIT),
        ("key", 0.0, OFF, LOOK),
        ("lanyard", "In place", OFF, FIT),
        ("lanyard", "Pulled", OFF, LOOK),
        ("lanyard", "Somewhere", OFF, LOOK),
        ("limited", "Not limited", RUNS, FIT),
        ("limited", "Overheat", RUNS, ASHORE),
        ("limited", "Anything else", OFF, ASHORE),
        ("level", "On", OFF, LOOK),
        ("level", "Perhaps", OFF, LOOK),
        ("check", "On", OFF, LOOK),
        ("hot", "On", OFF, ASHORE),
        ("warning", "On", RUNS, ASHORE),
        ("warning", "On", OFF, FIT),
    ],
)
def test_every_value_at_its_limit_and_beyond(seen, key, value, at, verdict):
    assert check(seen, at | {key: value}).verdict is verdict


FAMILY = {
    "battery": [limit("watch", "below", 12.4), limit("alarm", "below", 12.0)],
    "coolant": [limit("watch", "above", 85.0), limit("alarm", "above", 90.0)],
    "exhaust": [limit("watch", "above", 60.0), limit("alarm", "above", 70.0)],
    "oil": [limit("watch", "below", 200.0, 2000.0), limit("alarm", "below", 150.0, 2000.0)],
}


@pytest.mark.parametrize(
    ("key", "value", "verdict"),
    [
        ("battery", 12.4, FIT),
        ("battery", 12.39, LOOK),
        ("battery", 11.9, ASHORE),
        ("battery", 15.5, FIT),
        ("coolant", 85.0, FIT),
        ("coolant", 86.0, LOOK),
        ("coolant", 91.0, ASHORE),
        ("exhaust", 65.0, LOOK),
        ("exhaust", 71.0, ASHORE),
    ],
)
def test_limits_of_the_family_stand_in_place_of_generic_ones(seen, key, value, verdict):
    made = check(seen, {key: value}, limits=FAMILY)
    assert made.verdict is verdict
    used = [one for row in made.rows for one in row.seen if one.key == key]
    assert not any(limit.generic for one in used for limit in one.limits)


@pytest.mark.parametrize(("speed", "verdict"), [(2000.0, LOOK), (2001.0, LOOK), (1999.0, LOOK)])
def test_oil_pressure_is_judged_only_above_the_speed_of_its_limits(seen, speed, verdict):
    made = check(seen, RUNS | {"speed": speed}, limits=FAMILY)
    assert made.verdict is verdict
    state = next(one.state for one in row(made, "oil").seen if one.key == "oil_pressure")
    assert state is (State.LOW if speed > 2000.0 else State.TOO_SLOW)


BAD = {
    "error": Quality.ERROR,
    "not available": Quality.NOT_AVAILABLE,
    "out of range": Quality.OUT_OF_RANGE,
}


@pytest.mark.parametrize("key", [key for key in NAMES if key != "state"])
@pytest.mark.parametrize("how", ["old", "none", "error", "not available", "out of range", "not finite"])
def test_whatever_is_not_known_wants_a_look(seen, key, how):
    for engine in (OFF, RUNS):
        given = dict(engine)
        if how == "none":
            given[key] = None
        if how == "not finite":
            given[key] = float("nan")
        made = check(
            seen,
            given,
            ages={key: 0.6} if how == "old" else None,
            qualities={key: BAD[how]} if how in BAD else None,
        )
        assert made.verdict is LOOK, (how, engine)
        assert not all(row.known for row in made.rows)


@pytest.mark.parametrize("key", [key for key in SOUND if key != "state"])
def test_an_old_value_says_that_it_is_old(seen, key):
    made = check(seen, ages={key: 12.0})
    assert row(made, "readings").worst.state is State.OLD
    assert row(made, "readings").worst.text == key


def test_at_half_a_second_a_value_is_not_old_yet(seen):
    assert check(seen, ages=dict.fromkeys(NAMES, 0.5)).verdict is FIT


@pytest.mark.parametrize("speed", [None, 80.0, 300.0])
def test_an_engine_that_is_neither_off_nor_running_leaves_battery_and_oil_unknown(seen, speed):
    made = check(seen, {"speed": speed, "state": None})
    assert (made.engine, made.verdict) == (Engine.NOT_KNOWN, LOOK)
    assert not row(made, "battery").known
    assert not row(made, "oil").known
    assert row(made, "heat").known


def test_speed_zero_and_a_controller_that_says_running_is_not_off(seen):
    assert check(seen, {"state": "Running"}).engine is Engine.NOT_KNOWN


@pytest.mark.parametrize(
    ("told", "verdict", "known"),
    [
        (report(), FIT, True),
        (report(fault(0x28)), LOOK, True),
        (report(fault(0x24)), LOOK, True),
        (report(fault(0x2F)), ASHORE, True),
        (report(fault(0xA8)), ASHORE, True),
        (report(unread=["display"]), LOOK, False),
        (report(fault(0x2F), unread=["display"]), ASHORE, False),
        (report(fault(0x28), unread=["display"]), LOOK, False),
        (report(at=989.9), LOOK, False),
        (report(craft="auk 20418"), LOOK, False),
        (report(trouble="The link broke."), LOOK, False),
        ("none", LOOK, False),
    ],
    ids=str,
)
def test_stored_faults(seen, told, verdict, known):
    made = check(seen, told=told)
    assert (made.verdict, row(made, "faults").known) == (verdict, known)


def test_while_the_faults_are_read_there_is_no_verdict(seen):
    made = check(seen, told="none", job=JobState("scan", "Reading", 1, 9, 990.0))
    assert made.reading
    assert made.verdict is None
    assert row(made, "faults").worst.state is State.READING


def test_a_reading_that_was_just_asked_for_is_waited_for_and_not_for_ever(seen):
    assert check(seen, told="none", began=998.0).reading
    assert check(seen, told=report(at=995.0), began=998.0).reading
    assert not check(seen, told="none", began=990.0).reading


def test_faults_read_before_the_craft_was_lost_and_found_do_not_count(seen):
    made = check(seen, since=996.0)
    assert made.verdict is LOOK
    assert not row(made, "faults").known


@pytest.mark.parametrize("how", [{"state": LinkState.LOST}, {"connected": False}, {"age": 3.0}], ids=str)
def test_a_craft_that_is_not_heard_is_known_in_no_row(seen, how):
    made = check(seen, **how)
    assert made.verdict is LOOK
    assert not any(row.known for row in made.rows)


def test_without_a_craft_there_is_nothing_to_say_and_that_is_not_fit(seen):
    made = check(seen, state=LinkState.SILENT)
    assert (made.rows, made.verdict) == ((), LOOK)


@pytest.mark.parametrize(
    ("without", "gone"),
    [
        (("battery",), "battery"),
        (("coolant", "exhaust", "hot"), "heat"),
        (("oil", "level", "warning"), "oil"),
        (("lanyard", "key", "limited"), "key"),
    ],
)
def test_what_the_family_does_not_offer_is_in_no_row(seen, without, gone):
    made = check(seen, without=without)
    assert made.verdict is FIT
    assert gone not in {row.key for row in made.rows}


def test_a_family_with_nobody_to_ask_has_no_row_of_faults(seen):
    made = check(seen, modules=[], without=("check",))
    assert made.verdict is FIT
    assert "faults" not in {row.key for row in made.rows}


def test_where_nobody_can_be_asked_the_warning_for_faults_stands_in_their_row(seen):
    made = check(seen, {"check": "On"}, modules=[])
    assert made.verdict is LOOK
    assert [one.key for one in row(made, "faults").seen] == ["check_engine"]


@pytest.mark.parametrize("part", [part for _, parts in TABLE for part in parts], ids=lambda part: part.key)
def test_every_signal_of_the_table_is_one_of_a_shipped_family(part):
    tables = [tomllib.loads(path.read_text("utf-8")) for path in FAMILIES.glob("*/family.toml")]
    layouts = [path.read_text("utf-8") for path in FAMILIES.glob("*/signals.dbc")]
    roles = {role for table in tables for role in table["roles"]}
    names = {name for text in layouts for name in re.findall(r"SG_ (\w+)", text)}
    assert part.role in roles if part.role else part.name in names


def test_there_are_never_more_than_six_rows(seen):
    assert len(check(seen).rows) == 6


def test_the_worst_row_stands_first_and_equals_in_the_order_to_mend(seen):
    bad = {"coolant": 103.0, "battery": 12.0, "lanyard": "Pulled"}
    made = check(seen, bad, told=report(fault(0x28)))
    assert [row.key for row in made.rows] == ["heat", "faults", "battery", "key", "readings", "oil"]


def test_a_value_that_trembles_at_its_limit_does_not_blink(seen, make):
    infos = [
        *make.signals()[:2],
        make.info("Volts", "V", 1, limits=[make.limit("watch", "below", 12.2)], scale=(8, 16)),
    ]
    view = {"catalogue": make.catalogue(infos), "speed": 0.0, "said": "Stopped", "modules": []}
    first = quick_check(seen(volts=12.19, **view), 990.0)
    assert first.verdict is LOOK
    assert quick_check(seen(volts=12.21, **view), 990.0, first.held).verdict is LOOK
    assert quick_check(seen(volts=12.21, **view), 990.0).verdict is FIT
    assert quick_check(seen(volts=12.3, **view), 990.0, first.held).verdict is FIT


VALUES = {
    "speed": st.sampled_from([None, 0.0, 80.0, 900.0, 1500.0, float("nan")]),
    "state": st.sampled_from([None, "Stopped", "Cranking", "Running"]),
    "battery": st.sampled_from([None, 11.0, 12.0, 12.6, 14.1, 15.2]),
    "coolant": st.sampled_from([None, 60.0, 97.0, 110.0]),
    "exhaust": st.sampled_from([None, 40.0, 85.0, 99.0]),
    "oil": st.sampled_from([None, 0.0, 62.0, 90.0, 180.0]),
    "key": st.sampled_from([None, 0.0, 40.0]),
    **{
        key: st.sampled_from([None, SOUND[key], "", "On", "Pulled", "Overheat", 3.0])
        for key in ("lanyard", "limited", "level", "check", "hot", "warning")
    },
}
TOLD = [report(), report(fault(0x28)), report(fault(0x2F)), report(unread=["engine"]), report(at=1.0), "none"]


SAID = st.fixed_dictionaries(
    {
        "values": st.fixed_dictionaries({}, optional=VALUES),
        "qualities": st.dictionaries(
            st.sampled_from(list(NAMES)), st.sampled_from(list(Quality)), max_size=3
        ),
        "ages": st.dictionaries(
            st.sampled_from(list(NAMES)), st.sampled_from([0.0, 0.4, 0.7, 30.0]), max_size=3
        ),
        "told": st.sampled_from(TOLD),
    }
)


@given(said=SAID, serial=st.sampled_from(["20417", "7"]))
def test_never_fit_with_anything_unknown_and_never_better_than_the_worst_row(seen, said, serial):
    made = check(seen, craft=Craft("auk", "Auk three-cylinder", serial), **said)
    if not all(row.known for row in made.rows):
        assert made.verdict is not FIT
    assert made.verdict is max((row.verdict for row in made.rows), key=[FIT, LOOK, ASHORE].index)
    unsure = {key for key, quality in said["qualities"].items() if quality is not Quality.GOOD}
    unsure |= {key for key, age in said["ages"].items() if age > 0.5}
    unsure |= {key for key, value in said["values"].items() if value in (None, "")}
    if unsure - {"state"} or said["told"] != report() or serial != "20417":
        assert made.verdict is not FIT


OTHERS = Settings(temperature=Temperature.FAHRENHEIT, pressure=Pressure.PSI)


@pytest.mark.parametrize("family", [None, {"coolant": [limit("alarm", "above", 102.0)]}])
@pytest.mark.parametrize("coolant", [60.0, 94.9, 95.5, 101.9, 102.5])
@pytest.mark.parametrize("oil", [180.0, 99.0, 69.0])
def test_the_verdict_is_the_same_in_whatever_units_a_person_chose(seen, coolant, oil, family):
    told = told_moment(seen, RUNS | {"coolant": coolant, "oil": oil}, limits=family)
    view = View(told.connected, told.snapshot, told.catalogue, report())
    turned = Moment(GlassUnits(OTHERS).turn(view), NOW, waited=60.0)
    assert turned.info("CoolantTemperature").unit == "degF"
    assert turned.info("OilPressure").unit == "psi"
    usual, other = quick_check(told, BEGAN), quick_check(turned, BEGAN)
    assert [(row.key, row.verdict) for row in other.rows] == [(row.key, row.verdict) for row in usual.rows]


def test_a_value_in_a_unit_without_a_limit_is_not_known_to_be_fine(seen):
    told = told_moment(seen)
    infos = [
        structs.replace(info, unit="bananas") if info.name == "CoolantTemperature" else info
        for info in told.catalogue.signals
    ]
    view = View(told.connected, told.snapshot, structs.replace(told.catalogue, signals=infos), report())
    made = quick_check(Moment(view, NOW, waited=60.0), BEGAN)
    assert made.verdict is LOOK
