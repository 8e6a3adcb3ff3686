"""What moves, for how long, what it does to the craft, and what the controller refuses by itself."""

import pytest

INJECTOR, COIL, FAN, PUMP, PLATE = "2fd101031432", "2fd111030a1e", "2fd1210305", "2fd1230305", "2fd1250305"


def refused(talk, request, code):
    assert talk.ask(request) == [f"7f2f{code}"]
    assert talk.live() == []
    assert talk.outputs.history == []


@pytest.fixture
def open_talk(talk):
    talk.ask("1003")
    return talk


def test_an_injector_gives_its_pulses_and_stops_by_itself(open_talk):
    talk = open_talk
    talk.outputs.health["injector_1"] = 0.6
    assert talk.ask(INJECTOR, seconds=0.01) == ["6fd101031432"]
    assert talk.live() == ["injector_1"]
    for _ in range(4):
        talk.run(0.9)
    talk.run(0.3)
    assert talk.live() == []
    entry = talk.outputs.history[0]
    assert (entry["output"], entry["pulses"], entry["why"]) == ("injector_1", 20, "all pulses given")
    # 20 pulses, one every 200 ms: 19 pauses and the last pulse of 5 ms.
    assert entry["stop"] - entry["start"] == pytest.approx(3.805, abs=0.011)


def test_twenty_pulses_of_five_milliseconds_are_half_a_cubic_centimetre(open_talk):
    # 300 cm³/min × 20 × 5 ms = 0.5 cm³ by arithmetic; a little less, because the rail loses pressure by it.
    talk = open_talk
    before = talk.engine.rail.pressure
    talk.ask(INJECTOR)
    talk.run(4.0)
    assert 0.46 < talk.outputs.film[1] < 0.5
    assert talk.outputs.history[0]["cm3"] == pytest.approx(talk.outputs.film[1], abs=1e-4)
    drop = before - talk.engine.rail.pressure
    assert 30.0 < drop < 40.0
    assert talk.craft.broadcast.value("FuelRailPressure") == pytest.approx(talk.engine.rail.pressure, abs=1.5)


def test_a_worn_injector_shows_in_the_drop_of_rail_pressure(open_talk):
    talk = open_talk
    talk.do("wear", output="injector_2", value=0.5)
    drops = []
    for request in (INJECTOR, "2fd102031432"):
        talk.ask(PUMP, seconds=0.6)
        talk.run(0.5)
        before = talk.engine.rail.pressure
        talk.ask(request)
        talk.run(4.0)
        talk.ask("3e80")
        drops.append(before - talk.engine.rail.pressure)
    assert drops[1] / drops[0] == pytest.approx(0.5, abs=0.06)


@pytest.mark.parametrize("seconds", [0.3, 1.1])
def test_a_release_stops_at_once(open_talk, seconds):
    talk = open_talk
    talk.ask(INJECTOR, seconds=seconds)
    talk.send("042FD10100000000")
    assert talk.live() == []  # before any time has passed
    entry = talk.outputs.history[0]
    assert entry["why"] == "released"
    assert entry["pulses"] == 1 + int(seconds / 0.2)
    film = talk.outputs.film[1]
    talk.run(1.0)
    assert talk.outputs.film[1] == film


def test_what_was_sprayed_is_in_the_craft_it_was_sprayed_into_and_not_in_the_next(open_talk):
    talk = open_talk
    talk.ask(INJECTOR)
    talk.run(4.0)
    talk.do("serial", value=talk.craft.bench.serial)
    assert talk.outputs.film
    talk.do("serial", value=talk.craft.bench.serial + 1)
    assert talk.outputs.film == {}
    assert talk.ask(COIL) == [f"6f{COIL[2:]}"]
    assert talk.violations == []


def test_a_release_of_what_is_not_live_is_answered_too(open_talk):
    assert open_talk.ask("2fd12100") == ["6fd12100"]


def test_a_coil_gives_ten_sparks_and_no_fuel(open_talk):
    open_talk.ask(COIL)
    open_talk.run(2.6)
    entry = open_talk.outputs.history[0]
    assert (entry["output"], entry["pulses"], entry["cm3"]) == ("coil_1", 10, 0.0)
    assert entry["stop"] - entry["start"] == pytest.approx(9 * 0.25 + 0.003, abs=0.011)


def test_a_burst_ends_by_itself_and_can_be_renewed(open_talk):
    talk = open_talk
    talk.ask(FAN, seconds=0.3)
    talk.ask(FAN, seconds=0.3)
    assert talk.live() == ["fan"]
    talk.run(0.3)
    assert talk.live() == []
    assert len(talk.outputs.history) == 1
    entry = talk.outputs.history[0]
    assert entry["stop"] - entry["start"] == pytest.approx(0.8, abs=0.011)
    assert entry["why"] == "the time of its burst was over"


def test_the_fan_draws_current_and_its_relay_is_on_the_bus(open_talk):
    talk = open_talk
    rest = talk.engine.battery.volts
    talk.ask(FAN, seconds=0.2)
    assert talk.craft.broadcast.value("FanRelay") == "On"
    assert 0.1 < rest - talk.engine.battery.volts < 0.3
    talk.ask("2fd12100", seconds=0.2)
    assert talk.craft.broadcast.value("FanRelay") == "Off"
    assert talk.engine.battery.volts == pytest.approx(rest, abs=0.02)
    talk.do("wear", output="fan", value=0)
    talk.ask(FAN, seconds=0.2)
    assert talk.craft.broadcast.value("FanRelay") == "On"
    assert talk.engine.battery.volts == pytest.approx(
        rest, abs=0.02
    )  # a relay that clicks and a fan that is dead


def test_the_fuel_pump_brings_the_rail_back_to_its_pressure(open_talk):
    talk = open_talk
    talk.engine.rail.pressure = 150.0
    for _ in range(5):
        talk.ask(PUMP, seconds=0.3)
    assert talk.craft.broadcast.value("FuelPumpRelay") == "On"
    assert talk.engine.rail.pressure > 280.0
    talk.ask("2fd12300")
    assert talk.craft.broadcast.value("FuelPumpRelay") == "Off"


def test_the_throttle_plate_opens_and_springs_back(open_talk):
    talk = open_talk
    rest = talk.craft.broadcast.value("Throttle1")
    talk.ask(PLATE, seconds=0.45)
    assert talk.craft.broadcast.value("Throttle1") > 35.0
    talk.run(0.6)
    assert talk.craft.broadcast.value("Throttle1") == pytest.approx(rest, abs=1.0)


@pytest.mark.parametrize(
    ("request_", "code"),
    [
        ("2fd101031f32", "31"),  # 31 pulses
        ("2fd101031465", "31"),  # 10.1 ms
        ("2fd101030032", "31"),
        ("2fd101031400", "31"),
        ("2fd111031f1e", "31"),
        ("2fd121030b", "31"),  # 1.1 s
        ("2fd1210300", "31"),
        ("2fd1010314", "13"),
        ("2fd12103", "13"),
        ("2fd121030505", "13"),
        ("2fd1990305", "31"),
        ("2fd1210205", "31"),
        ("2fd1210105", "31"),
    ],
)
def test_the_controller_refuses_what_is_out_of_its_own_range(open_talk, request_, code):
    refused(open_talk, request_, code)


def test_the_controller_refuses_without_a_session(talk):
    refused(talk, INJECTOR, "7f")
    refused(talk, FAN, "7f")


@pytest.mark.parametrize("request_", [INJECTOR, COIL, FAN, PUMP, PLATE])
def test_the_controller_refuses_while_the_engine_turns(open_talk, request_):
    open_talk.do("spin", rev=300, seconds=1.0)
    refused(open_talk, request_, "83")


def test_the_controller_refuses_while_it_does_not_know_the_engine_speed(open_talk):
    open_talk.do("plant", signal="EngineSpeed", kind="error")
    refused(open_talk, INJECTOR, "22")


def test_the_controller_refuses_on_a_flat_battery(open_talk):
    open_talk.engine.battery.extra_a = 300.0
    open_talk.run(0.01)
    assert open_talk.engine.battery.volts < 9.0
    refused(open_talk, FAN, "93")


def test_the_controller_refuses_an_injector_while_the_start_switch_is_pressed(open_talk):
    open_talk.do("lanyard", pulled=True)  # so that nothing turns
    open_talk.do("start", pressed=True)
    refused(open_talk, INJECTOR, "22")
    assert open_talk.ask(FAN) == ["6fd1210305"]


def test_the_controller_refuses_a_second_output(open_talk):
    open_talk.ask(FAN)
    assert open_talk.ask("2fd1220305") == ["7f2f22"]
    assert open_talk.live() == ["fan"]


def test_the_display_moves_nothing(talk):
    assert talk.ask("1003", ident=0x7E1) == ["5003003201f4"]
    assert talk.ask(FAN, ident=0x7E1) == ["7f2f31"]


@pytest.mark.parametrize(
    ("deed", "why"),
    [
        ({"what": "spin", "rev": 300, "seconds": 1.0}, "the engine turned"),
        ({"what": "key", "on": False}, "the key was turned off"),
        (
            {"what": "plant", "signal": "EngineSpeed", "kind": "error"},
            "the controller does not know the engine speed",
        ),
    ],
)
def test_the_controller_stops_by_itself(open_talk, deed, why):
    open_talk.ask(INJECTOR, seconds=0.3)
    open_talk.do(**deed)
    open_talk.run(0.05)
    assert open_talk.live() == []
    assert open_talk.outputs.history[0]["why"] == why


@pytest.mark.parametrize("request_", ["2fd10103ffff", "2fd12103ff", "2fd11103c8ff"])
def test_a_trusting_controller_fires_whatever_is_asked_and_does_not_stop(open_talk, request_):
    talk = open_talk
    talk.do("trusting", on=True)
    talk.do("spin", rev=300, seconds=10.0)
    talk.run(0.1)
    assert talk.ask(request_, seconds=1.0) == [f"6f{request_[2:]}"]
    talk.do("start", pressed=True)
    talk.do("lanyard", pulled=True)
    talk.run(1.0)
    assert len(talk.live()) == 1
    talk.ask(f"{request_[:6]}00")
    assert talk.live() == []


def test_a_trusting_controller_still_needs_a_session_and_ends_its_bursts(talk):
    talk.do("trusting", on=True)
    assert talk.ask(FAN) == ["7f2f7f"]
    talk.ask("1003")
    talk.ask(FAN)
    talk.run(0.5)
    assert talk.outputs.history[0]["why"] == "the time of its burst was over"


@pytest.mark.parametrize(("state", "seconds"), [("Running", 30.0), ("Cranking", 5.0)])
def test_test_fuel_leaves_the_cylinders_by_running_or_cranking_for_long_enough(open_talk, state, seconds):
    talk = open_talk
    talk.ask(INJECTOR, seconds=4.0)
    outputs = talk.outputs
    talk.engine.state = state
    outputs.step(0.0, seconds - 0.5)
    assert outputs.film
    outputs.step(0.0, 0.6)
    assert not outputs.film


def test_test_fuel_stays_through_two_short_runs(open_talk):
    talk = open_talk
    talk.ask(INJECTOR, seconds=4.0)
    for state in ("Running", "Stopped", "Running"):
        talk.engine.state = state
        talk.outputs.step(0.0, 20.0)
    assert talk.outputs.film


def test_the_engine_turns_unseen_where_the_bus_says_that_it_stands(open_talk):
    talk = open_talk
    talk.do("spin", rev=300, seconds=2.0, broadcast=False)
    talk.run(1.0)
    assert talk.engine.speed == pytest.approx(300.0, abs=1.0)
    said = talk.craft.broadcast.values()
    assert (said["EngineSpeed"], said["EngineSpeedDisplay"], said["EngineState"]) == (0.0, 0.0, "Stopped")
    assert talk.ask(FAN) == ["6fd1210305"]  # the controller's own sensor is the one that is dead
    talk.run(2.0)
    assert talk.engine.speed == 0.0
    assert talk.craft.broadcast.plants.signals == []


def test_the_engine_turns_as_seen_where_the_bus_may_say_so(talk):
    talk.do("spin", rev=300, seconds=2.0)
    talk.run(1.0)
    assert talk.craft.broadcast.value("EngineSpeed") == pytest.approx(300.0, abs=8.0)
    talk.do("spin", rev=0)
    talk.run(1.0)
    assert talk.craft.broadcast.value("EngineSpeed") == 0.0
