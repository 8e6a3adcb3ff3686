"""Fault codes as the controllers store them. Status bits of ISO 14229-1 as udsoncan and scapy read them."""

import pytest

FAILED, THIS_CYCLE, PENDING, CONFIRMED = 0x01, 0x02, 0x04, 0x08


def codes(talk, module="engine"):
    return {one["code"]: one["status"] for one in talk.craft.diagnosis.faults()[module]}


def key_cycle(talk, seconds=3.0):
    talk.do("key", on=False)
    talk.run(1.5)
    talk.do("key", on=True)
    talk.run(seconds)


@pytest.mark.parametrize(
    ("signal", "kind", "value", "code"),
    [
        ("CoolantTemperature", "value", -40, "P0118"),  # open: the resistance of the cold end and more
        ("CoolantTemperature", "value", 148, "P0117"),  # short
        ("CoolantTemperature", "error", None, "P0118"),
        ("CoolantTemperature", "not_available", None, "P0118"),
        ("IntakeAirTemperature", "value", -40, "P0113"),
        ("IntakeAirTemperature", "value", 149, "P0112"),
        ("OilTemperature", "value", -40, "P0198"),
        ("OilTemperature", "value", 179, "P0197"),
        ("ManifoldPressure", "value", 0, "P0107"),
        ("ManifoldPressure", "value", 299, "P0108"),
        ("Throttle1", "error", None, "P0122"),
        ("Throttle2", "error", None, "P0222"),
        ("Throttle2", "shift", 10, "P2135"),
        ("OilPressure", "value", 950, "P0523"),
        ("FuelRailPressure", "value", 790, "P0190"),
        ("SensorSupply", "value", 4.5, "P0641"),
        ("EngineSpeed", "error", None, "P0335"),
        ("BatteryVoltage", "value", 19, "P0563"),
        ("BatteryVoltage", "value", 11.0, "P0562"),
        ("CoolantTemperature", "value", 110, "P0217"),
    ],
)
def test_a_planted_fault_stores_its_code(talk, signal, kind, value, code):
    talk.do("plant", signal=signal, kind=kind, **({} if value is None else {"value": value}))
    talk.run(0.8)
    assert codes(talk) == {}
    talk.run(0.6)
    assert codes(talk) == {code: FAILED | THIS_CYCLE | PENDING | 0x20}
    assert talk.craft.broadcast.value("ActiveFaults") == len(talk.craft.bench.protection.active)


def test_a_sound_craft_stores_nothing_through_start_and_run(board):
    talk = board("start_and_stop")
    talk.run(20.0)
    assert talk.craft.diagnosis.faults() == {"engine": [], "display": []}


def test_a_fault_is_pending_after_one_trip_and_confirmed_after_two(talk):
    talk.do("plant", signal="CoolantTemperature", kind="value", value=-40)
    talk.run(1.5)
    assert codes(talk)["P0118"] & CONFIRMED == 0
    key_cycle(talk)
    assert codes(talk)["P0118"] == 0x2F
    assert talk.ask("1906011800ff") == ["59060118002f01020200"]  # twice, 0 trips ago


def test_a_fault_that_stays_away_ages_and_a_pending_one_is_forgotten(talk):
    talk.do("plant", signal="CoolantTemperature", kind="value", value=-40)
    talk.do("fault", code="P0201", on=True)
    talk.do("fault", code="P0201", on=False)
    talk.run(1.5)
    talk.do("mend")
    for _ in range(3):
        key_cycle(talk)
    # The cycle of the failure itself is not a trip without it: two have ended since.
    assert codes(talk) == {"P0201": CONFIRMED | 0x20}
    assert talk.ask("1906020100ff") == ["5906020100280102" + "0202"]
    talk.craft.diagnosis.controllers["engine"].memory.stored["P0201"].age = 39
    key_cycle(talk)
    assert codes(talk) == {}


def test_the_first_snapshot_is_kept_with_the_values_of_its_moment(board):
    talk = board("idle")
    talk.run(3.0)
    hours = round(talk.engine.hours / 0.05)
    talk.do("plant", signal="Throttle1", kind="value", value=40)
    talk.run(1.5)
    answer = bytes.fromhex(talk.ask("1904213500ff", seconds=0.3)[0])
    assert answer[:8].hex() == "5904213500270107"
    values, rest = {}, answer[8:]
    for size in (2, 1, 2, 1, 1, 4, 2):
        values[rest[:2].hex()] = int.from_bytes(rest[2 : 2 + size], "big")
        rest = rest[2 + size :]
    assert rest == b""
    # Codings of SAE J1979: speed 0.25 rev/min, coolant offset 40, volts 0.001, throttle 100/255 %, kPa.
    assert 1100 < values["f40c"] * 0.25 < 1900
    assert values["f405"] - 40 == pytest.approx(talk.engine.heat.coolant, abs=2)
    assert values["f442"] / 1000 == pytest.approx(talk.engine.battery.volts, abs=0.2)
    assert values["f411"] * 100 / 255 == pytest.approx(40, abs=0.5)
    assert 20 < values["f40b"] < 60
    assert values["d010"] == hours
    assert values["d011"] == pytest.approx(talk.craft.bench.key_age, abs=2.0)
    first = talk.craft.diagnosis.controllers["engine"].memory.stored["P2135"].snapshot
    talk.do("mend")
    talk.run(1.0)
    talk.do("plant", signal="Throttle1", kind="value", value=60)
    talk.run(2.0)
    stored = talk.craft.diagnosis.controllers["engine"].memory.stored["P2135"]
    assert (stored.count, stored.snapshot) == (2, first)


def test_what_the_controller_does_not_know_is_all_ones_in_the_snapshot(talk):
    talk.do("plant", signal="CoolantTemperature", kind="error")
    talk.run(1.5)
    answer = talk.ask("1904011800ff", seconds=0.3)[0]
    assert "f405ff" in answer


def test_a_clear_leaves_status_50_and_a_hard_fault_is_back_within_two_seconds_of_key_on(talk):
    talk.do("fault", code="P0201", on=True, hard=True)
    talk.do("fault", code="P0300", on=True, hard=False)
    talk.do("fault", code="P0506", on=True, hard=True)
    talk.do("fault", code="P0506", on=False)
    assert codes(talk) == {"P0201": 0x2F, "P0300": 0x2F, "P0506": 0x2E}
    assert talk.ask("14ffffff") == ["54"]
    assert talk.ask("1902ff", seconds=0.3) == ["5902ff" + "02010050" + "03000050" + "05060050"]
    assert talk.ask("1904020100ff") == ["590402010050"]
    assert talk.ask("1906020100ff") == ["590602010050"]
    talk.run(5.0)
    assert set(codes(talk).values()) == {0x50}
    key_cycle(talk, seconds=0.9)
    assert codes(talk) == {"P0201": 0x50, "P0300": 0x50, "P0506": 0x50}
    talk.run(1.0)
    assert codes(talk) == {"P0201": 0x27, "P0300": 0x50, "P0506": 0x00}
    assert talk.ask("1902ff", seconds=0.3) == ["5902ff" + "02010027" + "03000050"]


def test_a_fault_of_the_running_engine_comes_back_only_when_it_runs(talk):
    talk.do("fault", code="P0300", on=True, hard=False)
    talk.ask("14ffffff")
    key_cycle(talk, seconds=5.0)
    assert codes(talk) == {"P0300": 0x50}
    talk.do("start", pressed=True)
    talk.run(2.0)
    talk.do("start", pressed=False)
    talk.run(4.0)
    assert talk.engine.state == "Running"
    assert codes(talk)["P0300"] == 0x27


def test_a_pressure_too_low_while_running_is_a_fault_of_the_running_engine(board):
    talk = board("oil_pressure_low")
    for _ in range(60):
        talk.run(1.0)
        if "P0524" in codes(talk):
            break
    stored = talk.craft.diagnosis.controllers["engine"].memory.stored["P0524"]
    assert not stored.hard


def test_codes_are_not_cleared_while_the_engine_turns(board):
    talk = board("idle")
    talk.run(1.0)
    talk.do("fault", code="P0201", on=True)
    assert talk.ask("14ffffff") == ["7f1422"]
    assert codes(talk) == {"P0201": 0x2F}
    assert talk.ask("14ffffff", ident=0x7E1) == ["54"]


def test_the_display_misses_an_engine_controller_that_falls_silent(talk):
    talk.do("plant", signal="EngineFast", kind="missing")
    talk.run(0.9)
    assert codes(talk, "display") == {}
    talk.run(0.4)
    assert codes(talk, "display") == {"U0100": 0x27}
    assert talk.ask("1902ff", ident=0x7E1) == ["5902ffc1000027"]
    answer = bytes.fromhex(talk.ask("1904c10000ff", ident=0x7E1)[0])
    assert answer[:8].hex() == "5904c10000270102"
    assert len(answer) == 8 + 8


@pytest.mark.parametrize("scenario", ["dock", "key_off", "start_and_stop", "ride"])
def test_waking_and_starting_is_no_reason_to_miss_the_engine_controller(board, scenario):
    talk = board(scenario)
    key_cycle(talk, seconds=12.0)
    assert codes(talk, "display") == {}


def test_every_supported_code_is_listed_with_its_status(talk):
    talk.do("fault", code="P0118", on=True, trips=1)
    answer = bytes.fromhex(talk.ask("190a", seconds=0.5)[0])
    assert answer[:3].hex() == "590aff"
    statuses = {answer[at : at + 3].hex(): answer[at + 3] for at in range(3, len(answer), 4)}
    assert len(statuses) == 41
    assert [code for code, status in statuses.items() if status] == ["011800"]
    assert statuses["011800"] == 0x27


def test_a_code_can_be_ordered_on_either_controller_and_taken_away_again(talk):
    talk.do("fault", code="B1002", on=True)
    talk.do("fault", code="U0100", on=True, module="engine")
    talk.do("fault", code="P3FFF", on=True)
    assert codes(talk, "display") == {"B1002": 0x2F}
    assert codes(talk) == {"U0100": 0x2F, "P3FFF": 0x2F}
    talk.do("fault", code="P3FFF", on=False)
    assert codes(talk)["P3FFF"] == 0x2E


def test_the_scenario_of_stored_faults_has_one_of_each_kind(board):
    talk = board("stored_faults")
    talk.run(1.0)
    assert codes(talk) == {"P0117": 0x2F, "P0301": 0x27}
    assert codes(talk, "display") == {"B1001": 0x2E}
