"""Every need of every kind of output: alone, in pairs, in combinations of many; true, false, unknown.

The table (``lists/needs.toml``) was written by hand from the safety notes; the interlock is driven, its own
rules are never asked.
"""

import itertools
import random
import tomllib
from pathlib import Path

import pytest

from app.interlock import Fact, Interlock, Kind, Need, PermitDenied

TABLE = tomllib.loads(Path(__file__).with_name("lists").joinpath("needs.toml").read_text())
KNOWN = {kind.value for kind in Kind}
KINDS = [
    pytest.param(name, marks=[] if name in KNOWN else pytest.mark.skip(reason="not known to the tool yet"))
    for name in TABLE
]
STATES = (True, False, None)
FACTS = {state: Fact(state, "seen", "do") for state in STATES}
SEED = 20417


class World:
    """An interlock of one kind, and facts that a test sets by name; everything holds at first."""

    def __init__(self, name):
        self.kind = Kind(name)
        self.facts = dict.fromkeys(Need, FACTS[True])
        self.lock = Interlock(lambda output: self.facts, lambda: 5.0)

    def refusal(self, **states):
        """Names of the needs of a refusal, in its order; None if leave is given."""
        for name, state in states.items():
            self.facts[Need(name)] = FACTS[state]
        try:
            self.lock.grant("it", self.kind, 1, 5.0)
        except PermitDenied as denied:
            return ["the finger", *denied.needs] if denied.dead else [need.value for need in denied.needs]
        finally:
            for name in states:
                self.facts[Need(name)] = FACTS[True]
        return None

    def lapse(self, **states):
        """The same when the press is live already: what its next check says."""
        permit = self.lock.grant("it", self.kind, 1, 5.0)
        for name, state in states.items():
            self.facts[Need(name)] = FACTS[state]
        try:
            self.lock.check(permit)
        except PermitDenied as denied:
            return [need.value for need in denied.needs]
        finally:
            for name in states:
                self.facts[Need(name)] = FACTS[True]
        return None


def wanted(name, states):
    """By the table: what a refusal must name, in order; None for leave."""
    return [need for need in TABLE[name] if states.get(need, True) is not True] or None


def others(name):
    return [need.value for need in Need if need.value not in TABLE[name]]


def blocks_of(needs, many, meet):
    """Sets of so many needs such that any ``meet`` of them are together in one of the sets."""
    chance = random.Random(SEED)
    left = set(itertools.combinations(needs, meet))
    while left:
        seeds = sorted(left)
        tries = []
        for _ in range(40):
            block = set(chance.choice(seeds))
            block |= set(chance.sample([need for need in needs if need not in block], many - len(block)))
            ordered = [need for need in needs if need in block]
            tries.append((len(left & set(itertools.combinations(ordered, meet))), ordered))
        best = max(tries)[1]
        left -= set(itertools.combinations(best, meet))
        yield best


def test_the_table_speaks_of_every_kind_and_of_no_need_that_is_not_known():
    assert set(TABLE) >= KNOWN, "a kind without lines in tests/safety/lists/needs.toml: write them by hand"
    assert {need for needs in TABLE.values() for need in needs} <= {need.value for need in Need}
    assert all(source for needs in TABLE.values() for source in needs.values())


@pytest.mark.parametrize("name", KINDS)
def test_with_all_of_its_needs_leave_is_given_whatever_else_is_so(name):
    world = World(name)
    assert world.refusal() is None
    assert world.lapse() is None
    for state in (False, None):
        everything_else = dict.fromkeys(others(name), state)
        assert world.refusal(**everything_else) is None
        assert world.lapse(**everything_else) is None


@pytest.mark.parametrize("name", KINDS)
def test_a_single_need_that_is_not_true_is_named_and_nothing_else(name):
    world = World(name)
    for need in TABLE[name]:
        for state in (False, None):
            assert world.refusal(**{need: state}) == [need]
            assert world.lapse(**{need: state}) == [need]
        del world.facts[Need(need)]
        assert world.refusal() == [need]
        world.facts[Need(need)] = FACTS[True]


@pytest.mark.parametrize("name", KINDS)
def test_every_pair_in_all_nine_states_names_what_the_table_names_in_its_order(name):
    world = World(name)
    everything = [need.value for need in Need]
    for one, two in itertools.combinations(everything, 2):
        for first, second in itertools.product(STATES, repeat=2):
            states = {one: first, two: second}
            assert world.refusal(**states) == wanted(name, states)


@pytest.mark.parametrize("name", KINDS)
def test_what_the_table_does_not_list_changes_no_answer(name):
    world, chance = World(name), random.Random(SEED)
    rest, own = others(name), list(TABLE[name])
    for _ in range(1500):
        states = {need: chance.choice(STATES) for need in chance.sample(own, chance.randint(0, 5))}
        answer = world.refusal(**states)
        assert answer == wanted(name, states)
        states |= {need: chance.choice(STATES) for need in rest}
        assert world.refusal(**states) == answer


@pytest.mark.parametrize("name", KINDS)
def test_all_combinations_of_six_needs_any_two_of_which_meet(name):
    all_combinations(name, 6, 2)


@pytest.mark.slow
@pytest.mark.timeout(2400)
@pytest.mark.parametrize("name", KINDS)
def test_all_combinations_of_eight_needs_any_three_of_which_meet(name):
    all_combinations(name, 8, 3)


def all_combinations(name, many, meet):
    """All worlds of each block; together any ``meet`` needs are in every state beside each other."""
    world, needs = World(name), list(TABLE[name])
    for block in blocks_of(needs, many, meet):
        for values in itertools.product(STATES, repeat=many):
            states = dict(zip(block, values, strict=True))
            assert world.refusal(**states) == wanted(name, states)


@pytest.mark.slow
@pytest.mark.timeout(2400)
@pytest.mark.parametrize("name", KINDS)
def test_all_combinations_of_true_and_one_other_state_of_all_its_needs(name):
    """2^k worlds: each need holds, or is false or unknown (which of the two is drawn with a fixed seed)."""
    world, needs, chance = World(name), list(TABLE[name]), random.Random(SEED)
    for holds in itertools.product((True, False), repeat=len(needs)):
        states = {
            need: chance.choice((False, None)) for need, held in zip(needs, holds, strict=True) if not held
        }
        assert world.refusal(**states) == wanted(name, states)
