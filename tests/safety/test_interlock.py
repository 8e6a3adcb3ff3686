"""The interlock against tables written by hand from the safety notes; its own tables are never the oracle."""

import copy
import dataclasses
import itertools
import math
import pickle

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app import interlock
from app.interlock import Fact, Interlock, Kind, Need, Permit, PermitDenied, lacking, missing

BY_FINGER = "injector coil fuel_pump bilge_pump throttle_plate fan horn lamp gauges reverse_gate trim"
INHIBITS = "fuel_inhibit spark_inhibit"
EVERY_KIND = f"{BY_FINGER} {INHIBITS}"

TABLE = {  # need: kinds that must have it.  Design = the design's section 4, matrix = trade facts, table 2.2
    "released": EVERY_KIND,  # a kind this version does not fire is not fired
    "role": EVERY_KIND,  # design 1: what acts is for an operator with the role
    "bus_alive": EVERY_KIND,  # design 1: nothing before valid traffic; matrix: bus lost > 0.5 s stops
    "controller_known": EVERY_KIND,  # design 3: booked "on this controller serial"
    "alone": EVERY_KIND,  # design 4: another tester on the bus: release, lock, say so
    "lanyard_in": EVERY_KIND,  # design 3: the lanyard pulled stops at once; matrix: lanyard state known
    "lanyard_proved": EVERY_KIND,  # design, below 8: the lanyard is proved once a visit (pull seen)
    "start_released": EVERY_KIND,  # design 3: a start switch pressed stops at once
    "speed_known": EVERY_KIND,  # design 3: missing, sentinel, in disagreement, too old: refused, and stopped
    "engine_stopped": EVERY_KIND,  # matrix: rpm 0 by two signals, no crank activity for 2 s, in every row
    "speed_proved": EVERY_KIND,  # design 3: seen above 150 rev/min on this controller serial
    "manifold_at_rest": EVERY_KIND,  # design 3: manifold pressure equal to barometer, where offered
    "battery": EVERY_KIND,  # matrix: battery >= 11.8 V
    "outputs_free": EVERY_KIND,  # design 4: while live or unconfirmed nothing else goes to that controller
    "vented": EVERY_KIND,  # design, below 8: within 4 min of a fuel test or a leak only a blower
    "no_smell": EVERY_KIND,  # design, below 8: every output needs "hatch open, no smell of fuel"
    "fuel_room": "injector",  # matrix: cc total < 3 per cylinder; design 5: and per craft and visit
    "spark_ago": "injector",  # matrix, injector: no spark test in last 4 min
    "purged": "coil",  # matrix, coil: injector total > 0 since last purge must be false
    "spark_safe": "coil",  # design, below 8: clamped tester, jet area clear, nobody with a pacemaker near
    "pump_quiet": "coil",  # design, below 8: coils: pump not run since venting
    "no_leak": "fuel_pump",  # matrix, fuel pump: leak seen must be false
    # matrix; trade facts 2.1: moving parts; design 8: the person cranks, and what turns then turns near hands
    "hands_clear": f"throttle_plate fan reverse_gate trim {INHIBITS}",
    "aft_clear": "reverse_gate trim",  # matrix: craft in water with people aft must be false
    "jet_clear": INHIBITS,  # design 8: the engine may start if the link breaks: jet area clear
    "settled": "",  # for writing only
    "not_under_way": "",  # for reading only: every output needs the engine stopped anyway
    "battery_for_writing": "",  # for writing only
}

READING = "bus_alive alone outputs_free not_under_way"
"""Design 1 (valid traffic), 4 (another tester; nothing else while live) and the line on being under way."""

WRITING = READING + " role controller_known speed_known engine_stopped settled battery_for_writing"
"""Design 1: operator with the role, engine speed zero for 2 s, battery >= 12.2 V; 7: locked until re-read."""

MEND_ORDER = """released role bus_alive controller_known alone lanyard_in lanyard_proved start_released
    speed_known engine_stopped speed_proved manifold_at_rest battery outputs_free settled fuel_room purged
    spark_ago vented pump_quiet no_smell no_leak hands_clear aft_clear jet_clear spark_safe
    not_under_way battery_for_writing"""
"""First who and what, then the craft, its switches, its engine, the battery; the person's word last."""

CEILINGS = {  # kind: longest s, burst s, pulses, width ms.  Matrix, last column; bursts: design 4 (<= 500 ms)
    "injector": (10, 0, 20, 5.0),  # 20 pulses x 5 ms; no time in the matrix: ten seconds as for the others
    "coil": (10, 0, 10, 5.0),  # 10 sparks
    "fuel_pump": (5, 0.5, 0, 0),  # 5 s
    "bilge_pump": (10, 0.5, 0, 0),  # 10 s
    "throttle_plate": (10, 0.5, 0, 0),  # 10 s
    "fan": (10, 0.5, 0, 0),  # 10 s
    "horn": (10, 0.5, 0, 0),  # 10 s
    "lamp": (10, 0.5, 0, 0),  # lights: 10 s
    "gauges": (10, 0.5, 0, 0),  # 10 s
    "reverse_gate": (10, 0.5, 0, 0),  # one sweep; ten seconds as for the others
    "trim": (10, 0.5, 0, 0),  # the same
    "fuel_inhibit": (120, 0, 0, 0),  # our own: no source; long enough for two compression tests
    "spark_inhibit": (120, 0, 0, 0),  # the same
}

SWEEPS = {"reverse_gate", "trim"}  # matrix: one sweep

STATES = (True, False, None)
FACTS = {state: Fact(state, "seen", "do") for state in STATES}
KINDS = EVERY_KIND.split()


def wanted(kind):
    return [need for need in MEND_ORDER.split() if kind in TABLE[need].split()]


def world(**states):
    """Facts by need, everything true but what is given."""
    return {Need(name): FACTS[states.get(name, True)] for name in TABLE}


def test_the_hand_written_table_speaks_of_every_need_and_every_kind():
    assert set(TABLE) == {need.value for need in Need} == set(MEND_ORDER.split())
    assert set(KINDS) == {kind.value for kind in Kind} == set(CEILINGS)


def test_needs_stand_in_the_order_to_mend_them_whoever_asks():
    assert [need.value for need in Need] == MEND_ORDER.split()
    assert [need.value for need in lacking(interlock.WRITING, {})] == [
        name for name in MEND_ORDER.split() if name in WRITING.split()
    ]


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_known_means_every_need_is_missing_in_the_order_to_mend(kind):
    assert [need.value for need in missing(Kind(kind), {})] == wanted(kind)
    unknown = dict.fromkeys(Need, FACTS[None])
    assert [need.value for need in missing(Kind(kind), unknown)] == wanted(kind)


@pytest.mark.parametrize("kind", KINDS)
def test_each_single_need_stops_exactly_the_kinds_of_the_table(kind):
    assert missing(Kind(kind), world()) == ()
    for name in TABLE:
        for state in (False, None):
            got = [need.value for need in missing(Kind(kind), world(**{name: state}))]
            assert got == ([name] if name in wanted(kind) else []), (name, state)
        absent = world()
        del absent[Need(name)]
        assert [need.value for need in missing(Kind(kind), absent)] == (
            [name] if name in wanted(kind) else []
        )


@pytest.mark.parametrize("kind", KINDS)
def test_every_pair_of_needs_in_all_nine_states_gives_what_the_table_says(kind):
    needed = wanted(kind)
    for one, two in itertools.combinations(TABLE, 2):
        for first, second in itertools.product(STATES, repeat=2):
            states = {one: first, two: second}
            want = [name for name in needed if states.get(name, True) is not True]
            assert [need.value for need in missing(Kind(kind), world(**states))] == want, states


@given(
    kind=st.sampled_from(KINDS),
    states=st.dictionaries(st.sampled_from(sorted(TABLE)), st.sampled_from(STATES)),
    absent=st.sets(st.sampled_from(sorted(TABLE))),
)
def test_any_world_lets_fire_only_what_the_table_lets_fire(kind, states, absent):
    facts = {need: fact for need, fact in world(**states).items() if need.value not in absent}
    known = {name: states.get(name, True) for name in TABLE if name not in absent}
    want = [name for name in wanted(kind) if known.get(name) is not True]
    assert [need.value for need in missing(Kind(kind), facts)] == want
    lock = Interlock(lambda output: facts, lambda: 5.0)
    if not want:
        assert lock.grant("x", Kind(kind), 1, 5.0).kind is Kind(kind)
        return
    with pytest.raises(PermitDenied) as denied:
        lock.grant("x", Kind(kind), 1, 5.0)
    assert [need.value for need in denied.value.needs] == want
    assert denied.value.exit_code == 3


@pytest.mark.parametrize("truthy", [1, "yes", [0], object()])
def test_only_true_itself_counts_as_true(truthy):
    facts = world()
    facts[Need.BATTERY] = Fact(truthy, "seen")
    assert missing(Kind.HORN, facts) == (Need.BATTERY,)


@pytest.mark.parametrize(
    ("needs", "names"), [(interlock.READING, READING), (interlock.WRITING, WRITING)], ids=["read", "write"]
)
def test_reading_and_writing_need_exactly_what_the_table_says(needs, names):
    assert {need.value for need in needs} == set(names.split())
    for name in TABLE:
        for state in (False, None):
            got = [need.value for need in lacking(needs, world(**{name: state}))]
            assert got == ([name] if name in names.split() else [])


def test_at_rest_means_not_cranked_and_zero_by_both_sources_for_two_seconds():
    """Design 8: an inhibit ends only at zero speed for 2 s; 3: unknown is unsafe, and a start switch too."""
    names = {"bus_alive", "start_released", "speed_known", "engine_stopped"}
    assert {need.value for need in interlock.AT_REST} == names


@pytest.mark.parametrize("kind", KINDS)
def test_the_ceilings_are_those_of_the_safety_notes(kind):
    rule = interlock.RULES[Kind(kind)]
    assert (rule.longest_s, rule.burst_s, rule.pulses, rule.width_ms) == CEILINGS[kind]
    assert rule.sweep is (kind in SWEEPS)
    assert rule.latched is (kind in INHIBITS.split())  # design 8: a kind of its own


def test_the_figures_are_those_of_the_safety_notes():
    assert interlock.PERMIT_S == 0.3  # design 2: older than 300 ms: dead
    assert interlock.STOPPED_FOR_S == 2.0  # design 1, matrix: no crank activity for 2 s
    assert interlock.PROVED_ABOVE == 150.0  # design 3
    assert interlock.MANIFOLD_WITHIN_KPA == 4.0  # design 3
    assert interlock.SPEED_AGREES_WITHIN == 60.0  # our own: no source
    assert interlock.BATTERY_FLOOR_V == 11.8  # matrix
    assert interlock.BATTERY_WRITING_V == 12.2  # design 1
    assert interlock.NO_SMELL_HOLDS_S == 600.0  # design, below 8: within 10 min
    assert interlock.VENT_S == 240.0  # design, below 8: within 4 min of a fuel test
    assert interlock.LIFTED_S == 0.5  # design, below 8
    assert interlock.FUEL_PER_CYLINDER_CM3 == 3.0  # design 5
    assert interlock.FUEL_PER_VISIT_CM3 == 4.0  # design 5
    assert interlock.HANDS_CLEAR_HOLDS_S == 30.0  # style notes 4.4 (c): an attestation expires within 30 s
    assert interlock.SPARK_SAFE_HOLDS_S == 30.0  # the same
    assert interlock.AFT_CLEAR_HOLDS_S == 30.0  # the same
    assert interlock.JET_CLEAR_HOLDS_S == 30.0  # the same
    assert interlock.NO_LEAK_HOLDS_S == 600.0  # our own: no source
    assert interlock.CRANKED_FOR_S == 5.0  # design 6: cranked >= 5 s
    assert interlock.CRANKED_WITHIN_S == 120.0  # our own: no source
    assert interlock.LARGEST_DUTY == 0.5  # our own: no source
    assert {str(kind) for kind in interlock.LETS_FUEL_IN} == {"injector", "fuel_pump", "spark_inhibit"}


@pytest.mark.parametrize("kind", KINDS)
def test_what_moved_rests_before_it_moves_again(kind):
    # trade facts 1.7: 10 s after sparks; two seconds for all others are our own
    assert interlock.RULES[Kind(kind)].rest_s == (10.0 if kind == "coil" else 2.0)


def test_every_kind_whose_row_of_the_matrix_stands_above_is_released_and_a_new_one_is_not_by_itself():
    released = {str(kind) for kind, rule in interlock.RULES.items() if rule.released}
    assert released == set(KINDS)
    assert not interlock.Rule(interlock.ALWAYS, 1.0).released


@pytest.mark.parametrize("told", [interlock.RULES[Kind.HORN], FACTS[True]], ids=["rule", "fact"])
def test_neither_a_rule_nor_a_fact_can_be_changed_by_who_holds_it(told):
    for field in dataclasses.fields(told):
        with pytest.raises(dataclasses.FrozenInstanceError):
            setattr(told, field.name, True)


def test_a_fact_that_asks_for_nothing_to_be_done_says_nothing_of_it():
    assert Fact(True, "Engine stopped").do == ""


class Time:
    def __init__(self):
        self.now = 100.0

    def __call__(self):
        return self.now


@pytest.fixture
def time():
    return Time()


@pytest.fixture
def facts():
    return world()


@pytest.fixture
def lock(time, facts):
    return Interlock(lambda output: facts, time)


def dead(lock, permit):
    try:
        lock.check(permit)
    except PermitDenied as denied:
        return denied.dead
    return False


def test_a_permit_that_was_granted_is_good_now(lock, time):
    permit = lock.grant("fan", Kind.FAN, 7, time.now)
    lock.check(permit)
    assert (permit.output, permit.kind, permit.press) == ("fan", Kind.FAN, 7)


@pytest.mark.parametrize(
    "copied",
    [
        copy.copy,
        copy.deepcopy,
        lambda it: pickle.loads(pickle.dumps(it)),
        lambda it: Permit("fan", Kind.FAN, 7),
    ],
    ids=["copy", "deepcopy", "pickle", "same_words"],
)
def test_a_look_alike_is_worthless_and_kills_the_true_one_too(lock, time, copied):
    permit = lock.grant("fan", Kind.FAN, 7, time.now)
    assert copied(permit) != permit
    assert dead(lock, copied(permit))
    assert dead(lock, permit)


def test_a_permit_of_another_interlock_is_worthless(lock, time, facts):
    other = Interlock(lambda output: facts, time)
    permit = other.grant("fan", Kind.FAN, 7, time.now)
    lock.grant("fan", Kind.FAN, 7, time.now)
    assert dead(lock, permit)
    other.check(permit)


def test_an_interlock_that_granted_nothing_knows_no_permit(time, facts):
    permit = Interlock(lambda output: facts, time).grant("fan", Kind.FAN, 7, time.now)
    fresh = Interlock(lambda output: facts, time)
    fresh.renew(permit, time.now)
    assert dead(fresh, permit)


def test_a_newer_permit_kills_the_older(lock, time):
    old = lock.grant("fan", Kind.FAN, 1, time.now)
    lock.grant("fan", Kind.FAN, 2, time.now)
    assert dead(lock, old)


def test_a_refused_grant_kills_the_older_permit_too(lock, time, facts):
    old = lock.grant("fan", Kind.FAN, 1, time.now)
    facts[Need.BATTERY] = FACTS[False]
    with pytest.raises(PermitDenied):
        lock.grant("fan", Kind.FAN, 2, time.now)
    facts[Need.BATTERY] = FACTS[True]
    assert dead(lock, old)


@pytest.mark.parametrize("name", ["output", "kind", "press", "until"])
def test_whoever_holds_a_permit_cannot_change_it(lock, time, name):
    permit = lock.grant("fan", Kind.FAN, 1, time.now)
    with pytest.raises((AttributeError, TypeError)):
        setattr(permit, name, 10**9)


def test_a_permit_is_dead_at_300_ms_and_not_before(lock, time):
    permit = lock.grant("fan", Kind.FAN, 1, 100.0)
    time.now = math.nextafter(100.0 + 0.3, 0)
    lock.check(permit)
    time.now = 100.0 + 0.3
    assert dead(lock, permit)


@pytest.mark.parametrize("beat", [99.7, 99.0, -math.inf], ids=["300_ms", "1_s", "never"])
def test_a_touch_too_old_asks_in_vain(lock, beat):
    with pytest.raises(PermitDenied) as denied:
        lock.grant("fan", Kind.FAN, 1, beat)
    assert denied.value.dead
    assert denied.value.needs == ()


@pytest.mark.parametrize("beat", [100.001, 1e9, math.inf, math.nan], ids=["soon", "late", "inf", "nan"])
def test_a_touch_from_the_future_or_of_no_time_asks_in_vain(lock, beat):
    with pytest.raises(PermitDenied) as denied:
        lock.grant("fan", Kind.FAN, 1, beat)
    assert denied.value.dead


def test_beats_carry_a_permit_on_for_as_long_as_they_come(lock, time):
    permit = lock.grant("fan", Kind.FAN, 1, 100.0)
    for _ in range(200):
        time.now += 0.05
        lock.renew(permit, time.now)
        lock.check(permit)
    time.now += 0.31
    assert dead(lock, permit)


def test_a_beat_counts_from_its_touch_and_not_from_its_arrival(lock, time):
    permit = lock.grant("fan", Kind.FAN, 1, 100.0)
    time.now = 100.25
    lock.renew(permit, 100.05)
    time.now = 100.34
    lock.check(permit)
    time.now = 100.36
    assert dead(lock, permit)


@pytest.mark.parametrize("beat", [100.3, 1e9, math.inf, math.nan], ids=["soon", "late", "inf", "nan"])
def test_a_beat_from_the_future_or_of_no_time_carries_nothing(lock, time, beat):
    permit = lock.grant("fan", Kind.FAN, 1, 100.0)
    time.now = 100.2
    lock.renew(permit, beat)
    time.now = 100.31
    assert dead(lock, permit)


def test_an_older_beat_takes_nothing_away(lock, time):
    permit = lock.grant("fan", Kind.FAN, 1, 100.0)
    time.now = 100.1
    lock.renew(permit, 100.1)
    lock.renew(permit, 99.0)
    time.now = 100.39
    lock.check(permit)


def test_a_beat_that_comes_after_the_death_revives_nothing(lock, time):
    permit = lock.grant("fan", Kind.FAN, 1, 100.0)
    time.now = 100.31
    lock.renew(permit, time.now)
    assert dead(lock, permit)


def test_a_beat_for_a_permit_that_is_not_the_live_one_carries_neither(lock, time):
    old = lock.grant("fan", Kind.FAN, 1, 100.0)
    new = lock.grant("fan", Kind.FAN, 2, 100.0)
    time.now = 100.2
    lock.renew(old, 100.2)
    time.now = 100.31
    assert dead(lock, new)


def test_good_facts_later_revive_nothing(lock, time, facts):
    permit = lock.grant("fan", Kind.FAN, 1, time.now)
    facts[Need.LANYARD_IN] = FACTS[False]
    with pytest.raises(PermitDenied) as denied:
        lock.check(permit)
    assert denied.value.needs == (Need.LANYARD_IN,)
    assert not denied.value.dead
    facts[Need.LANYARD_IN] = FACTS[True]
    assert dead(lock, permit)
    lock.renew(permit, time.now)
    assert dead(lock, permit)


def test_revoking_kills_and_nothing_revives(lock, time):
    permit = lock.grant("fan", Kind.FAN, 1, time.now)
    lock.revoke()
    lock.renew(permit, time.now)
    assert dead(lock, permit)


def test_the_facts_are_asked_for_the_output_of_the_permit(time):
    asked = []
    lock = Interlock(lambda output: asked.append(output) or world(), time)
    permit = lock.grant("horn", Kind.HORN, 1, time.now)
    lock.check(permit)
    assert asked == ["horn", "horn"]


def test_a_refusal_says_what_was_seen_of_every_missing_need(time):
    seen = {Need.BATTERY: Fact(False, "Battery 11.2 V"), Need.LANYARD_IN: Fact(None, "Lanyard: not known")}
    lock = Interlock(lambda output: world() | seen, time)
    with pytest.raises(PermitDenied) as denied:
        lock.grant("horn", Kind.HORN, 1, time.now)
    assert str(denied.value) == "Lanyard: not known. Battery 11.2 V."
    with pytest.raises(PermitDenied, match=r"^The finger's hold was not seen in time\.$"):
        Interlock(lambda output: world(), time).grant("horn", Kind.HORN, 1, 0.0)
    with pytest.raises(PermitDenied, match=r"^Not known\."):
        Interlock(lambda output: {}, time).grant("horn", Kind.HORN, 1, time.now)
