"""What a family may ask for: its data can tighten the ceilings in code, never loosen them."""

import dataclasses
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.interlock import Kind
from bus.outputs import OutputData, OutputError, OutputPlan, plan, single_frame, unwrap_single

INJECTOR = OutputData(
    key="injector_1",
    label="Injector 1",
    kind=Kind.INJECTOR,
    module="engine",
    did=0xD101,
    parameters=("count", "width_100us"),
    count=20,
    width_ms=5.0,
    period_ms=200.0,
    cylinder=1,
    flow_cm3_min=300.0,
)
COIL = dataclasses.replace(INJECTOR, key="coil_1", kind=Kind.COIL, did=0xD111, count=10, width_ms=3.0)
FAN = OutputData("fan", "Fan", Kind.FAN, "engine", 0xD121, ("burst_100ms",), burst_s=0.5)
PUMP = dataclasses.replace(FAN, key="fuel_pump", kind=Kind.FUEL_PUMP)
GATE = dataclasses.replace(FAN, key="gate", kind=Kind.REVERSE_GATE, longest_s=4.0)
TRIM = dataclasses.replace(GATE, key="trim", kind=Kind.TRIM)
FUEL_OFF = OutputData("fuel_off", "Fuel off", Kind.FUEL_INHIBIT, "engine", 0xD141, (), status_did=0xD141)
SPARK_OFF = dataclasses.replace(FUEL_OFF, key="spark_off", kind=Kind.SPARK_INHIBIT, did=0xD142)


def made(data, **change):
    return plan(dataclasses.replace(data, **change), 0x7E0, 0x7E8, 0)


@pytest.mark.parametrize(
    ("data", "start", "release"),
    [
        # ISO 14229-1, service 2F: identifier, then 03 (short term adjustment) or 00 (return control)
        (INJECTOR, "2fd101031432", "2fd10100"),  # 20 pulses, 50 x 100 us
        (COIL, "2fd111030a1e", "2fd11100"),
        (FAN, "2fd1210305", "2fd12100"),  # 5 x 100 ms
        (FUEL_OFF, "2fd14103", "2fd14100"),  # nothing to say beside that it is to hold
    ],
    ids=["injector", "coil", "fan", "fuel_off"],
)
def test_the_requests_are_those_of_the_standard_byte_for_byte(data, start, release):
    assert made(data).start == bytes.fromhex(start)
    assert made(data).release == bytes.fromhex(release)


def test_an_inhibit_is_read_back_by_the_request_of_the_standard():
    # ISO 14229-1, service 22: identifier; its answer 62, identifier, record
    assert made(FUEL_OFF).status == bytes.fromhex("22d141")
    assert made(FUEL_OFF).held == bytes.fromhex("62d14101")
    other = made(SPARK_OFF, status_did=0xD1F2, status_held=0xA5)
    assert (other.status.hex(), other.held.hex()) == ("22d1f2", "62d1f2a5")
    assert made(FAN).status == made(FAN).held == b""


def test_an_inhibit_lasts_two_minutes_at_most_and_spark_held_off_counts_as_all_the_fuel_that_is_allowed():
    assert made(FUEL_OFF).longest_s == 120.0
    assert made(FUEL_OFF, longest_s=30.0).longest_s == 30.0
    assert made(FUEL_OFF).fuel_cm3 == 0
    assert made(SPARK_OFF).fuel_cm3 == 4.0  # design 5: per craft and visit; nobody can tell how much it is


def test_the_fuel_of_a_press_is_counts_times_width_times_flow():
    # 20 x 5 ms = 0.1 s at 300 cm3/min = 5 cm3/s: by hand 0.5 cm3
    assert made(INJECTOR).fuel_cm3 == pytest.approx(0.5)
    assert made(COIL).fuel_cm3 == 0
    assert made(FAN).fuel_cm3 == 0


def test_a_press_lasts_as_long_as_its_pulses_or_the_time_the_family_gives():
    assert made(INJECTOR).longest_s == 4.0  # 20 x 200 ms
    assert made(FAN).longest_s == 10.0  # matrix: 10 s
    assert made(FAN, longest_s=3.0).longest_s == 3.0
    assert made(PUMP).longest_s == 5.0  # matrix: 5 s


LOOSER = {  # each one number beyond the safety notes, or one that is no number
    "pulses": (INJECTOR, {"count": 21}),
    "no_pulses": (INJECTOR, {"count": 0}),
    "width": (INJECTOR, {"width_ms": 5.1}),
    "no_width": (INJECTOR, {"width_ms": 0.0}),
    "width_of_no_number": (INJECTOR, {"width_ms": math.nan}),
    "width_between_two_bytes": (INJECTOR, {"width_ms": 4.96}),
    "width_that_rounds_to_nothing": (INJECTOR, {"width_ms": 0.04}),
    "duty": (INJECTOR, {"period_ms": 9.9}),
    "period_of_no_number": (INJECTOR, {"period_ms": math.nan}),
    "endless_period": (INJECTOR, {"period_ms": math.inf}),
    "too_long_by_its_period": (INJECTOR, {"period_ms": 501.0}),
    "sparks": (COIL, {"count": 11}),
    "no_count_in_the_request": (INJECTOR, {"parameters": ("width_100us",)}),
    "no_width_in_the_request": (INJECTOR, {"parameters": ("count",)}),
    "renewed_fuel": (INJECTOR, {"burst_s": 0.5}),
    "renewed_fuel_in_its_request": (INJECTOR, {"parameters": ("count", "width_100us", "burst_100ms")}),
    "fuel_with_a_time": (INJECTOR, {"longest_s": 1.0}),
    "no_cylinder": (INJECTOR, {"cylinder": 0}),
    "no_flow": (INJECTOR, {"flow_cm3_min": 0.0}),
    "flow_of_no_number": (INJECTOR, {"flow_cm3_min": math.nan}),
    "flow_below_zero": (INJECTOR, {"flow_cm3_min": -300.0}),
    "burst": (FAN, {"burst_s": 0.6}),
    "no_burst": (FAN, {"burst_s": 0.0}),
    "burst_of_no_number": (FAN, {"burst_s": math.nan}),
    "burst_that_rounds_to_nothing": (FAN, {"burst_s": 0.04}),
    "burst_between_two_bytes": (FAN, {"burst_s": 0.45}),
    "no_burst_in_the_request": (FAN, {"parameters": ()}),
    "time": (FAN, {"longest_s": 10.1}),
    "time_of_the_pump": (PUMP, {"longest_s": 5.1}),
    "no_time_of_a_sweep": (GATE, {"longest_s": 0.0}),
    "time_of_a_sweep": (TRIM, {"longest_s": 10.1}),
    "time_of_no_number": (FAN, {"longest_s": math.nan}),
    "endless_time": (FAN, {"longest_s": math.inf}),
    "time_below_zero": (FAN, {"longest_s": -1.0}),
    "pulses_of_a_fan": (FAN, {"count": 2}),
    "unknown_parameter": (FAN, {"parameters": ("burst_100ms", "for_ever")}),
    "parameter_twice": (FAN, {"parameters": ("burst_100ms", "burst_100ms")}),
    "inhibit_that_nobody_can_read_back": (FUEL_OFF, {"status_did": None}),
    "inhibit_read_back_too_large": (FUEL_OFF, {"status_did": 0x1_0000}),
    "inhibit_read_back_below_zero": (FUEL_OFF, {"status_did": -1}),
    "inhibit_told_by_nothing": (FUEL_OFF, {"status_held": 0}),
    "inhibit_told_by_more_than_a_byte": (FUEL_OFF, {"status_held": 256}),
    "inhibit_with_a_parameter": (FUEL_OFF, {"parameters": ("burst_100ms",), "burst_s": 0.5}),
    "inhibit_with_a_burst": (FUEL_OFF, {"burst_s": 0.5}),
    "inhibit_with_pulses": (SPARK_OFF, {"count": 1}),
    "inhibit_with_a_width": (SPARK_OFF, {"width_ms": 1.0}),
    "inhibit_with_a_period": (SPARK_OFF, {"period_ms": 1.0}),
    "inhibit_of_one_cylinder": (SPARK_OFF, {"cylinder": 1}),
    "inhibit_with_a_flow": (FUEL_OFF, {"flow_cm3_min": 300.0}),
    "time_of_an_inhibit": (FUEL_OFF, {"longest_s": 120.1}),
    "fan_that_is_read_back": (FAN, {"status_did": 0xD121}),
    "identifier_too_large": (FAN, {"did": 0x1_0000}),
    "identifier_below_zero": (FAN, {"did": -1}),
}


@pytest.mark.parametrize("name", LOOSER)
def test_looser_data_are_refused_with_what_was_seen_and_what_to_do(name):
    data, change = LOOSER[name]
    made(data)
    with pytest.raises(OutputError) as refused:
        made(data, **change)
    assert str(refused.value)
    assert refused.value.mend


BURST = {"burst_s": 0.6, "longest_s": 10.1, "count": 1, "width_ms": 1.0}
SPARK = {"count": 11, "width_ms": 5.1, "period_ms": 9.9, "burst_s": 0.1, "longest_s": 0.1}
HOLD = {"count": 1, "width_ms": 0.1, "period_ms": 0.1, "burst_s": 0.1, "longest_s": 120.1}
FIRST_TOO_LOOSE = {  # kind: each number a family can give, the smallest step over its row of the matrix
    "injector": SPARK | {"count": 21},
    "coil": SPARK,
    "fuel_pump": BURST | {"longest_s": 5.1},
    "bilge_pump": BURST,
    "throttle_plate": BURST,
    "fan": BURST,
    "horn": BURST,
    "lamp": BURST,
    "gauges": BURST,
    "reverse_gate": BURST,
    "trim": BURST,
    "fuel_inhibit": HOLD,
    "spark_inhibit": HOLD,
}


def strictest_of(kind):
    """An output of this kind as loose as it may be."""
    if kind in ("injector", "coil"):
        fixed = {"width_ms": 5.0, "period_ms": 10.0}
        return dataclasses.replace(INJECTOR if kind == "injector" else COIL, **fixed)
    if "inhibit" in kind:
        return dataclasses.replace(FUEL_OFF, kind=Kind(kind), longest_s=120.0)
    return dataclasses.replace(FAN, kind=Kind(kind), longest_s=5.0 if kind == "fuel_pump" else 10.0)


def test_every_kind_and_every_number_is_tried():
    assert set(FIRST_TOO_LOOSE) == {kind.value for kind in Kind}
    names = {name for numbers in FIRST_TOO_LOOSE.values() for name in numbers}
    assert names == {"count", "width_ms", "period_ms", "burst_s", "longest_s"}


@pytest.mark.parametrize(
    ("kind", "name"), [(kind, name) for kind, numbers in FIRST_TOO_LOOSE.items() for name in numbers]
)
def test_each_number_of_each_kind_may_reach_its_ceiling_and_not_pass_it(kind, name):
    made(strictest_of(kind))
    with pytest.raises(OutputError) as refused:
        made(strictest_of(kind), **{name: FIRST_TOO_LOOSE[kind][name]})
    assert refused.value.mend


@pytest.mark.parametrize("kind", list(Kind))
@pytest.mark.parametrize("name", ["count", "width_ms", "period_ms", "burst_s", "longest_s", "flow_cm3_min"])
@pytest.mark.parametrize("value", [-1.0, math.nan, math.inf], ids=["below_zero", "no_number", "endless"])
def test_no_number_of_any_kind_may_be_below_zero_or_none_at_all(kind, name, value):
    with pytest.raises(OutputError):
        made(strictest_of(kind), **{name: value})


@pytest.mark.parametrize("kind", ["injector", "coil"])
@pytest.mark.parametrize("parameters", [(), ("count",), ("width_100us",), ("burst_100ms",)])
def test_fuel_and_spark_without_count_and_width_are_not_offered(kind, parameters):
    with pytest.raises(OutputError, match="cannot carry count and width"):
        made(strictest_of(kind), parameters=parameters)


NUMBERS = st.floats(-1, 1000) | st.sampled_from([math.nan, math.inf, 0.0, 0.1, 0.5, 3.0, 5.0, 100.0, 200.0])


@given(
    kind=st.sampled_from(list(Kind)),
    parameters=st.lists(st.sampled_from(["count", "width_100us", "burst_100ms"]), max_size=3).map(tuple),
    whole=st.fixed_dictionaries({"count": st.integers(-1, 40), "cylinder": st.integers(0, 1)}),
    status_did=st.none() | st.integers(-1, 0x1_0000),
    numbers=st.fixed_dictionaries(
        dict.fromkeys(("width_ms", "period_ms", "burst_s", "longest_s", "flow_cm3_min"), NUMBERS)
    ),
)
def test_whatever_a_family_says_a_plan_stays_under_the_ceilings(kind, parameters, whole, status_did, numbers):
    data = OutputData("x", "X", kind, "engine", 0xD101, parameters, status_did=status_did, **whole, **numbers)
    try:
        made_plan = plan(data, 0x7E0, 0x7E8, 0)
    except OutputError:
        return
    values = dict(zip(parameters, made_plan.start[4:], strict=True))
    ceiling = {"fuel_pump": 5, "fuel_inhibit": 120, "spark_inhibit": 120}.get(kind, 10)
    assert made_plan.longest_s <= ceiling
    if "inhibit" in kind:
        assert values == {}
        assert made_plan.status == b"\x22" + status_did.to_bytes(2, "big")
    elif kind in ("injector", "coil"):
        assert set(values) == {"count", "width_100us"}
        assert 1 <= values["count"] <= (20 if kind == "injector" else 10)
        assert 1 <= values["width_100us"] <= 50
        assert made_plan.pulsed
    else:
        assert set(values) == {"burst_100ms"}
        assert 1 <= values["burst_100ms"] <= 5
    if kind == "injector":
        seconds = values["count"] * values["width_100us"] / 10_000
        assert made_plan.fuel_cm3 == pytest.approx(seconds * data.flow_cm3_min / 60)


@pytest.mark.parametrize("longest", [10.1, -0.1, math.nan, math.inf])
def test_no_plan_can_be_made_by_hand_that_lasts_longer_either(longest):
    with pytest.raises(OutputError):
        OutputPlan(FAN, 0x7E0, 0x7E8, 0, b"\x2f\xd1\x21\x03\x05", b"\x2f\xd1\x21\x00", longest, 0.0)


@given(pdu=st.binary(min_size=1, max_size=7), padding=st.integers(0, 255))
def test_what_is_framed_comes_out_as_it_went_in(pdu, padding):
    frame = single_frame(pdu, padding)
    assert len(frame) == 8
    assert unwrap_single(frame) == pdu


@pytest.mark.parametrize("data", ["", "00", "0811223344556677", "1014590201020304", "21aa", "300000", "0350"])
def test_what_is_no_whole_single_frame_is_not_taken_for_one(data):
    assert unwrap_single(bytes.fromhex(data)) is None
