"""What the gate heard, judged: exactly how old a value may be, and what makes a promise worthless.

Figures by hand from the design, 3 and the lines below 8, and the periods of the family's DBC file.
"""

import math

import pytest

from app.interlock import Need
from bus.facts import FactTable
from bus.frame import Frame

EPS = 0.001
TESTER = 0x7DF


@pytest.fixture
def craft(craft_kit):
    return craft_kit.craft().say().pull().run(3.0)


FROM_THE_BUS = """bus_alive controller_known alone lanyard_in lanyard_proved start_released speed_known
    engine_stopped speed_proved manifold_at_rest battery battery_for_writing not_under_way no_smell
    hands_clear spark_safe pump_quiet no_leak aft_clear"""


def test_a_craft_at_rest_that_was_heard_long_enough_offers_everything(craft):
    for what in WORDS:
        assert craft.confirm(what)
    needs = FROM_THE_BUS.split()
    assert {need: craft.holds(need) for need in needs} == dict.fromkeys(needs, True)


def test_before_anything_was_heard_nothing_is_true_but_that_nobody_says_it_moves(craft_kit):
    craft = craft_kit.craft()
    true = {need.value for need, fact in craft.table.facts(craft.now).items() if fact.holds is True}
    # A dead speed sensor must not keep its own fault from being read; without frames nothing is read anyway.
    assert true == {"not_under_way"}
    assert "not known" in craft.seen("not_under_way") or "no engine speed" in craft.seen("not_under_way")


UNKNOWN_AS_SENTINEL = {  # all ones = not available, one less = error: the family's rule
    "EngineSpeed": (0xFFFF * 0.25, 0xFFFE * 0.25),
    "EngineSpeedDisplay": (0xFFFF, 0xFFFE),
    "BatteryVoltage": (65.535, 65.534),
    "ManifoldPressure": (655.35, 655.34),
    "BarometricPressure": (204.75, 204.70),
    "Lanyard": ("Not available", "Error"),
    "StartSwitch": ("Not available", "Error"),
    "ControllerSerial": (0xFFFFFFFF, 0xFFFFFFFE),
    "FuelPumpRelay": ("Not available", "Error"),
}

HANGS_ON = {  # signal: what is not known without it
    "EngineSpeed": {"speed_known", "engine_stopped"},
    "EngineSpeedDisplay": {"speed_known", "engine_stopped"},
    "BatteryVoltage": {"battery", "battery_for_writing"},
    "ManifoldPressure": {"manifold_at_rest"},
    "BarometricPressure": {"manifold_at_rest"},
    "Lanyard": {"lanyard_in"},
    "StartSwitch": {"start_released"},
    "ControllerSerial": {"controller_known", "speed_proved"},
    "FuelPumpRelay": {"pump_quiet"},
}


@pytest.mark.parametrize("which", [0, 1], ids=["not_available", "error"])
@pytest.mark.parametrize("signal", HANGS_ON)
def test_a_sentinel_makes_unknown_what_hangs_on_it_at_once_and_nothing_else(craft, signal, which):
    craft.say(**{signal: UNKNOWN_AS_SENTINEL[signal][which]})
    for need in HANGS_ON[signal]:
        assert craft.holds(need) is None, need
    rest = set(FROM_THE_BUS.split()) - HANGS_ON[signal] - set(WORDS)
    assert {need for need in rest if craft.holds(need) is not True} == set()


MAX_AGE = {  # message: (longest age in s, what goes unknown).  3 periods, speed at most 250 ms, others 1 s
    "EngineFast": (0.15, {"speed_known", "engine_stopped"}),  # 50 ms
    "DisplayMain": (0.25, {"speed_known", "engine_stopped"}),  # 100 ms: 250 ms is less than 300
    "EngineAir": (0.06, {"manifold_at_rest"}),  # 20 ms
    "EngineFluids": (0.3, {"battery", "battery_for_writing"}),  # 100 ms
    "EngineSwitches": (0.15, {"lanyard_in", "start_released"}),  # 50 ms
}


@pytest.mark.parametrize("message", MAX_AGE)
def test_a_value_is_good_up_to_its_longest_age_and_unknown_after(craft, message):
    age, needs = MAX_AGE[message]
    craft.now += 0.02
    craft.say()
    until = craft.now + age - EPS
    while craft.now < until:
        craft.now = min(until, craft.now + 0.02)
        craft.say(*craft.others(message))
    assert {need: craft.holds(need) for need in needs} == dict.fromkeys(needs, True)
    assert {need: craft.holds(need, after=2 * EPS) for need in needs} == dict.fromkeys(needs)


def test_silence_is_not_a_live_bus_after_half_a_second(craft):
    # matrix: bus lost > 0.5 s; the counter of the controller says so sooner: 3 periods of 50 ms
    assert craft.holds("bus_alive", after=0.15 - EPS) is True
    assert craft.holds("bus_alive", after=0.15 + EPS) is False
    assert "counter is not heard" in craft.table.facts(craft.now + 0.4)[Need.BUS_ALIVE].seen
    assert "not heard" in craft.table.facts(craft.now + 0.51)[Need.BUS_ALIVE].seen


def test_who_asks_during_silence_is_told_of_no_controller_and_of_no_persons_word(craft):
    for what in WORDS:
        assert craft.confirm(what)
    needs = ("controller_known", *WORDS)
    assert {craft.holds(need) for need in needs} == {True}
    craft.table.facts(craft.now + 0.51)
    assert craft.table.serial is None
    assert True not in {craft.holds(need) for need in needs}


def test_a_controller_that_repeats_old_messages_is_not_alive(craft):
    craft.run(0.14, AliveCounter=5)
    assert craft.holds("bus_alive") is True
    craft.run(0.1, AliveCounter=5)
    assert craft.holds("bus_alive") is False
    assert "repeats old messages" in craft.seen(Need.BUS_ALIVE)
    craft.run(0.1)
    assert craft.holds("bus_alive") is True


def test_frames_of_strangers_make_no_bus_alive(craft):
    for _ in range(12):
        craft.now += 0.05
        craft.table.feed(Frame(craft.now, 0x555, bytes(8)))
    assert craft.holds("bus_alive") is False


@pytest.mark.parametrize("one", ["EngineSpeed", "EngineSpeedDisplay"])
@pytest.mark.parametrize(("by", "agrees"), [(60, True), (61, False)])
def test_the_two_sources_of_speed_must_agree(craft, one, by, agrees):
    values = {"EngineSpeed": 1000.0, "EngineSpeedDisplay": 1000.0}
    craft.run(0.2, **(values | {one: 1000.0 + by}))
    assert craft.holds("speed_known") is agrees


@pytest.mark.parametrize("signal", ["EngineSpeed", "EngineSpeedDisplay"])
def test_one_source_alone_that_says_the_engine_turns_is_believed(craft, signal):
    craft.say(**{signal: 1.0})
    assert craft.holds("engine_stopped") is False


@pytest.mark.parametrize("signal", ["EngineSpeed", "EngineSpeedDisplay"])
@pytest.mark.parametrize("value", [1.0, 800.0, 12500.0], ids=["creep", "idle", "beyond_its_range"])
def test_the_two_seconds_begin_again_after_any_turn(craft, signal, value):
    craft.now += 0.05
    craft.say(**{signal: value})
    craft.now += 0.05
    craft.say()
    began = craft.now
    craft.run(1.9)
    assert craft.holds("engine_stopped") is False
    craft.run(0.2)
    assert craft.holds("engine_stopped") is True
    assert 2.0 <= craft.now - began <= 2.2


def test_the_engine_stands_after_two_seconds_and_not_before(craft):
    craft.table.forget()
    craft.now += 0.05
    craft.say()  # the first of each source proves no gap-free stand yet
    craft.now += 0.05
    craft.say()
    began = craft.now
    craft.run(1.95)
    assert craft.table.facts(began + 2.0 - EPS)[Need.ENGINE_STOPPED].holds is False
    assert craft.table.facts(began + 2.0)[Need.ENGINE_STOPPED].holds is True


@pytest.mark.parametrize(
    ("message", "gap", "restarts"),
    [
        ("EngineFast", 0.14, False),
        ("EngineFast", 0.16, True),
        ("DisplayMain", 0.24, False),
        ("DisplayMain", 0.26, True),
    ],
)
def test_a_gap_in_the_speed_messages_begins_the_two_seconds_again(craft, message, gap, restarts):
    end = craft.now + gap
    while craft.now + 0.02 < end:
        craft.now += 0.02
        craft.say(*craft.others(message))
    craft.now = end
    craft.say()
    craft.run(0.1)
    assert (craft.holds("engine_stopped") is True) is not restarts
    craft.run(2.2)
    assert craft.holds("engine_stopped") is True


def test_a_sentinel_begins_the_two_seconds_again(craft):
    craft.now += 0.05
    craft.say(EngineSpeed=0xFFFF * 0.25)
    craft.run(1.5)
    assert craft.holds("engine_stopped") is False


@pytest.mark.parametrize(
    ("signal", "value", "need", "holds"),
    [
        ("Lanyard", "Pulled", "lanyard_in", False),
        ("StartSwitch", "Pressed", "start_released", False),
        ("BatteryVoltage", 11.79, "battery", False),  # matrix: >= 11.8 V
        ("BatteryVoltage", 11.8, "battery", True),
        ("BatteryVoltage", 12.19, "battery_for_writing", False),  # design 1: >= 12.2 V
        ("BatteryVoltage", 12.2, "battery_for_writing", True),
        ("ManifoldPressure", 97.0, "manifold_at_rest", True),  # design 3: barometer +- 4 kPa
        ("ManifoldPressure", 96.9, "manifold_at_rest", False),
        ("ManifoldPressure", 105.0, "manifold_at_rest", True),
        ("ManifoldPressure", 105.1, "manifold_at_rest", False),
        ("FuelPumpRelay", "On", "pump_quiet", False),
        ("EngineSpeed", 2000.0, "not_under_way", True),  # the family's idle_below, or the default
        ("EngineSpeed", 2001.0, "not_under_way", False),
        ("EngineSpeedDisplay", 2001.0, "not_under_way", False),
    ],
)
def test_limits_hold_exactly(craft, signal, value, need, holds):
    craft.now += 0.02
    craft.say(**{signal: value})
    assert craft.holds(need) is holds


def test_what_a_family_does_not_tell_is_not_known(craft_kit):
    family = craft_kit.family_without("start_switch", "engine_speed_second", "lanyard", "battery")
    craft = craft_kit.craft()
    craft.table = FactTable(family, frozenset(), set(), print, print)
    craft.say().run(3.0)
    for need in ("start_released", "speed_known", "engine_stopped", "lanyard_in", "battery"):
        assert craft.holds(need) is None, need
    less = craft_kit.family_without("barometric_pressure", "fuel_pump")
    craft.table = FactTable(less, frozenset(), set(), print, print)
    craft.run(1.0, FuelPumpRelay="On")
    assert craft.holds("pump_quiet") is True  # our own runs of it begin the venting all the same
    assert craft.holds("manifold_at_rest") is True  # design 3: further witnesses only where offered


# --- confirmations --------------------------------------------------------------------------------------

WORDS = {  # design: 10 min; style notes: 30 s
    "no_smell": 600.0,
    "no_leak": 600.0,
    "hands_clear": 30.0,
    "aft_clear": 30.0,
    "jet_clear": 30.0,
    "spark_safe": 30.0,
}


@pytest.mark.parametrize("what", WORDS)
def test_a_persons_word_holds_for_its_time_and_not_longer(craft, what):
    assert craft.confirm(what)
    said = craft.now
    craft.run(WORDS[what] - 0.2, step=0.1)
    assert craft.table.facts(said + WORDS[what])[Need(what)].holds is True
    assert craft.table.facts(said + WORDS[what] + EPS)[Need(what)].holds is False


@pytest.mark.parametrize("age", [-0.001, -60.0, 1.001, 600.0, math.inf, -math.inf, math.nan])
def test_a_word_of_another_time_counts_for_nothing(craft, age):
    assert not craft.table.confirm("no_smell", craft.now - age, craft.now)
    assert craft.holds("no_smell") is None


@pytest.mark.parametrize("age", [0.0, 1.0])
def test_a_word_of_just_now_counts(craft, age):
    assert craft.table.confirm("no_smell", craft.now - age, craft.now)


@pytest.mark.parametrize(
    "what", ["", "smell", "engine_stopped", "lanyard_in", "leak_seen", "purged", "purged_by_cranking"]
)
def test_a_person_cannot_confirm_what_is_for_the_craft_to_tell(craft, what):
    before = {need: fact.holds for need, fact in craft.table.facts(craft.now).items()}
    assert not craft.confirm(what)
    assert {need: fact.holds for need, fact in craft.table.facts(craft.now).items()} == before


def all_said(craft):
    for what in WORDS:
        assert craft.confirm(what)


def left(craft):
    return {what for what in WORDS if craft.holds(what) is True}


@pytest.mark.parametrize("signal", ["EngineSpeed", "EngineSpeedDisplay"])
@pytest.mark.parametrize("value", [1.0, 900.0, 12500.0], ids=["creep", "idle", "beyond_its_range"])
def test_an_engine_that_turns_voids_every_word(craft, signal, value):
    all_said(craft)
    craft.say(**{signal: value})
    craft.run(3.0)
    assert left(craft) == set()


def test_a_short_gap_voids_no_word(craft):
    all_said(craft)
    craft.now += 0.49
    craft.say()
    assert left(craft) == set(WORDS)


def test_key_off_voids_every_word(craft):
    all_said(craft)
    craft.now += 0.51
    craft.say().run(3.0)
    assert left(craft) == set()


def test_key_off_voids_every_word_though_the_display_goes_on(craft):
    all_said(craft)
    craft.run(0.6, "DisplayMain", "DisplayPages")
    craft.run(3.0)
    assert left(craft) == set()


def test_key_off_while_the_loop_hung_voids_every_word(craft):
    all_said(craft)
    craft.table.forget()
    craft.now += 2.0
    craft.say().run(3.0)
    assert left(craft) == set()


def test_another_serial_voids_every_word_and_the_lanyard_and_the_two_seconds(craft):
    all_said(craft)
    craft.values["ControllerSerial"] = 20418
    craft.run(0.1)
    assert left(craft) == set()
    assert craft.holds("lanyard_proved") is False
    assert craft.holds("engine_stopped") is not True
    assert craft.holds("speed_proved") is False
    assert craft.table.serial == "auk 20418"


def test_no_word_counts_while_the_craft_is_silent_or_has_no_serial(craft, craft_kit):
    craft.now += 0.51
    assert not craft.confirm()
    nameless = craft_kit.craft()
    nameless.run(3.0, *nameless.others("DisplayPages"))
    assert not nameless.confirm()


@pytest.mark.parametrize("signal", ["EngineSpeed", "EngineSpeedDisplay"])
@pytest.mark.parametrize(
    "value", [1.0, 12500.0, 16383.75], ids=["creep", "beyond_its_range", "not_available"]
)
def test_no_word_counts_while_the_engine_is_not_known_to_be_still(craft, signal, value):
    craft.say(**{signal: value if signal == "EngineSpeed" or value < 16000 else 65535.0})
    assert not craft.confirm()
    craft.say()
    assert craft.confirm()


def test_what_is_doubted_counts_no_more(craft):
    all_said(craft)
    craft.table.doubt("no_smell")
    craft.table.doubt("no_smell")
    assert left(craft) == set(WORDS) - {"no_smell"}


def test_a_fuel_pump_that_runs_unasked_voids_the_nose_and_the_word_about_the_plugs(craft):
    all_said(craft)
    craft.say(FuelPumpRelay="On")
    assert craft.holds("pump_quiet") is False
    craft.say()
    assert craft.holds("pump_quiet") is True
    assert left(craft) == set(WORDS) - {"no_smell", "spark_safe"}


def test_a_fuel_pump_that_runs_in_a_press_of_our_own_voids_nothing_meanwhile(craft):
    all_said(craft)
    craft.table.fuel_is_ours = True
    craft.say(FuelPumpRelay="On")
    assert left(craft) == set(WORDS)


# --- whose controller, and what was seen of it ------------------------------------------------------------


def test_after_a_gap_the_serial_is_unknown_until_it_is_said_again(craft):
    craft.now += 0.51
    craft.run(0.3, *craft.others("DisplayPages"))
    assert craft.table.serial is None
    assert craft.holds("controller_known") is None
    assert craft.holds("speed_proved") is None
    craft.say()
    assert craft.holds("controller_known") is True


def test_a_controller_whose_serial_is_zero_is_not_known(craft_kit):
    craft = craft_kit.craft()
    craft.values["ControllerSerial"] = 0
    craft.run(3.0)
    assert craft.holds("controller_known") is None


def running(craft, seconds, speed=1300.0, **more):
    return craft.run(seconds, **({"EngineSpeed": speed, "EngineSpeedDisplay": speed} | more))


@pytest.mark.parametrize(
    ("one", "two", "proved"),
    [(150.0, 150.0, False), (151.0, 151.0, True), (1300.0, 0.0, False), (0.0, 1300.0, False)],
)
def test_a_controller_is_proved_above_150_by_both_sources(craft_kit, one, two, proved):
    craft = craft_kit.craft(proved=False).run(1.0)
    assert craft.holds("speed_proved") is False
    craft.run(0.5, EngineSpeed=one, EngineSpeedDisplay=two)
    assert craft.holds("speed_proved") is proved
    assert len(craft.booked) == proved


def test_a_proof_is_booked_once_with_the_serial_and_a_mark_of_the_family(craft_kit):
    craft = craft_kit.craft(proved=False).run(1.0)
    running(craft, 1.0)
    running(craft, 1.0)
    assert len(craft.booked) == 1
    assert craft.booked[0].startswith("auk 20417 ")


def test_a_proof_of_one_controller_is_none_of_another(craft_kit):
    craft = craft_kit.craft(proved=False).run(1.0)
    running(craft, 0.5)
    craft.values["ControllerSerial"] = 20418
    craft.run(1.0)
    assert craft.holds("speed_proved") is False


def test_an_engine_heard_before_its_serial_proves_no_earlier_controller(craft_kit):
    craft = craft_kit.craft(proved=False).run(1.0)
    craft.now += 1.0  # unplugged from one craft, plugged into another whose engine runs
    craft.run(0.4, *craft.others("DisplayPages"), EngineSpeed=1300.0, EngineSpeedDisplay=1300.0)
    assert craft.booked == []


def test_a_family_whose_data_changed_must_be_proved_again(craft, craft_kit):
    assert craft.holds("speed_proved") is True
    craft.table = FactTable(craft_kit.changed_family(), frozenset(), craft.proved, print, print)
    craft.run(1.0)
    assert craft.table.serial == "auk 20417"  # the craft is the same: its fuel stays booked
    assert craft.holds("speed_proved") is False


def test_the_lanyard_is_proved_by_being_seen_pulled_on_this_visit(craft_kit):
    craft = craft_kit.craft().run(3.0)
    assert craft.holds("lanyard_in") is True
    assert craft.holds("lanyard_proved") is False
    craft.say(Lanyard="Error").say(Lanyard="Not available").say()
    assert craft.holds("lanyard_proved") is False
    craft.pull()
    assert craft.holds("lanyard_proved") is True
    craft.now += 30.0  # key off and on: the same visit
    craft.say()
    assert craft.holds("lanyard_proved") is True
    craft.now += 601.0
    craft.say()
    assert craft.holds("lanyard_proved") is False


def test_an_engine_that_ran_for_thirty_seconds_has_purged(craft):
    running(craft, 29.9)
    assert craft.purged == []
    running(craft, 0.3)
    assert craft.purged == ["auk 20417"]


@pytest.mark.parametrize("how", ["gap", "slow", "one_source", "other", "sentinel", "forgotten"])
def test_a_run_with_a_break_in_it_purges_nothing(craft, how):
    running(craft, 20.0)
    if how == "gap":
        craft.now += 0.3
    elif how == "slow":
        running(craft, 0.1, speed=500.0)
    elif how == "one_source":
        running(craft, 20.0, EngineSpeedDisplay=0.0)
    elif how == "other":
        craft.values["ControllerSerial"] = 20418
    elif how == "sentinel":
        running(craft, 0.1, EngineSpeed=0xFFFE * 0.25)
    else:
        craft.table.forget()
    running(craft, 29.0)
    assert craft.purged == []


# --- other testers, and a loop that hung -------------------------------------------------------------------


def test_another_tester_keeps_us_away_for_five_seconds(craft):
    craft.table.feed(Frame(craft.now, TESTER, bytes(8)))
    at = craft.now
    assert craft.holds("alone") is False
    assert craft.table.another_tester(at)
    craft.run(5.1)
    assert craft.table.facts(at + 5.0)[Need.ALONE].holds is False
    assert craft.table.facts(at + 5.0 + EPS)[Need.ALONE].holds is True


def test_we_are_alone_only_after_having_listened_for_two_seconds(craft_kit):
    craft = craft_kit.craft().say()
    at = craft.now
    craft.run(2.1)
    assert craft.table.facts(at + 2.0 - EPS)[Need.ALONE].holds is None
    assert craft.table.facts(at + 2.0)[Need.ALONE].holds is True


def test_a_loop_that_hung_forgets_what_speaks_for_safety_and_nothing_against_it(craft):
    craft.table.feed(Frame(craft.now, TESTER, bytes(8)))
    craft.table.forget()
    heard = "bus_alive lanyard_in start_released speed_known engine_stopped manifold_at_rest battery"
    assert [need for need in heard.split() if craft.holds(need) is True] == []
    craft.run(2.5)
    assert craft.holds("alone") is False


WORDS_SEEN = [  # what is so, which need, what a person reads, what to do
    ({"Lanyard": "Pulled"}, "lanyard_in", "Lanyard: pulled", "Put the lanyard in"),
    ({"Lanyard": "Error"}, "lanyard_in", "Lanyard: not known", "Read the faults, check its wiring"),
    ({"StartSwitch": "Pressed"}, "start_released", "Start switch: pressed", "Let go of the start switch"),
    ({"EngineSpeed": 840.0}, "engine_stopped", "Engine is turning, 840 rev/min", "Stop it, wait 2 s"),
    ({"EngineSpeed": 840.0}, "speed_known", "Engine speed disagrees: 840 and 0 rev/min", "Find out which is"),
    ({"EngineSpeed": 5000.0}, "not_under_way", "Under way, 5000 rev/min", "Let the engine idle"),
    ({"BatteryVoltage": 11.24}, "battery", "Battery 11.2 V", "Charge it above 11.8 V"),
    ({"BatteryVoltage": 12.0}, "battery_for_writing", "Battery 12.0 V", "Charge it above 12.2 V"),
    (
        {"ManifoldPressure": 40.0},
        "manifold_at_rest",
        "Manifold and barometer differ by 61.0 kPa",
        "With the eng",
    ),
]


@pytest.mark.parametrize(("values", "need", "seen", "do"), WORDS_SEEN, ids=[row[1] for row in WORDS_SEEN])
def test_a_person_reads_what_was_seen_and_what_to_do(craft, values, need, seen, do):
    craft.now += 0.02
    craft.say(**values)
    fact = craft.table.facts(craft.now)[Need(need)]
    assert fact.seen == seen
    assert fact.do.startswith(do)


def test_every_fact_says_what_was_seen_and_what_to_do_if_it_does_not_hold(craft, craft_kit):
    untold = craft_kit.craft()
    roles = craft_kit.family().roles
    untold.table = FactTable(craft_kit.family_without(*roles), frozenset(), set(), print, print)
    craft.table.feed(Frame(craft.now, TESTER, bytes(8)))
    worlds = [craft_kit.craft(), untold.say(), craft, craft_kit.craft().run(0.5, AliveCounter=3)]
    for world in worlds:
        for fact in world.table.facts(world.now).values():
            assert fact.seen[0].isupper()
            assert fact.holds is True or fact.do[0].isupper()
    assert craft.seen("lanyard_proved") == "Lanyard: seen pulled on this visit"
    assert craft_kit.craft().seen("lanyard_proved") == "Lanyard: not seen pulled on this visit"


def test_a_family_without_an_alive_counter_is_alive_while_it_is_heard(craft_kit):
    craft = craft_kit.craft()
    craft.table = FactTable(craft_kit.family_without("alive"), frozenset(), set(), print, print)
    craft.run(1.0, AliveCounter=3)
    assert craft.holds("bus_alive") is True
    assert craft.holds("bus_alive", after=0.51) is False
