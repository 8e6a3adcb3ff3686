"""The mutation tool itself: its faults, its names, its children, and what it does not touch."""

import ast
import re
import sys
import time
from pathlib import Path

import pytest
from mutants import PROBE, mutants_of, mutated, probed
from session import Children, Order, code_within, compiled, plain_names, source_of

ROOT = Path(__file__).resolve().parents[2]
CORE = ("app/interlock.py", "bus/facts.py", "bus/output_run.py", "bus/admit.py", "bus/gate.py")


def changes(source):
    return {mutant.change for mutant in mutants_of("a/b.py", source)[0]}


@pytest.mark.parametrize(
    ("source", "wanted"),
    [
        ("a < b", {"a < b -> a <= b", "a < b -> a >= b"}),
        ("a >= b", {"a >= b -> a > b", "a >= b -> a < b"}),
        ("a is b", {"a is b -> a is not b"}),
        ("a in b", {"a in b -> a not in b"}),
        ("a and b", {"a and b -> a or b", "a and b -> a", "a and b -> b"}),
        ("not a", {"not a -> a"}),
        ("x = b if a else c", {"a -> not a"}),
        ("a + b", {"a + b -> a - b"}),
        ("a | b", {"a | b -> a & b"}),
        ("x = 3", {"3 -> 4", "3 -> 2"}),
        ("x = 2.0", {"2.0 -> 2.2", "2.0 -> 1.8"}),
        ("x = True", {"True -> False"}),
        ("x = b'o'", {"b'o' -> b'n'"}),
        ("x = 'lanyard'", {"'lanyard' -> 'lanyarc'"}),
        ("x = float('-inf')", {"'-inf' -> 'inf'"}),
        ("x = min(a)", {"min(a) -> max(a)"}),
        ("x = any(a)", {"any(a) -> all(a)"}),
        ("x = F(None)", {"F(None) -> F(True)"}),
        ("x = {a, b}", {"{a, b} -> {b}", "{a, b} -> {a}"}),
        ("x = {a: b}", {"{a: b} -> {}"}),
        ("x = dataclasses.replace(a, b=c)", {"dataclasses.replace(a, b=c) -> dataclasses.replace(a)"}),
        ("f()", {"f() -> nothing"}),
        ("a.b = c", {"a.b = c -> nothing"}),
        ("raise a", {"raise a -> nothing"}),
        ("def f():\n  return a", {"return a -> return None"}),
        ("def f():\n  return None", set()),
        ("def f(a: int = b) -> c:\n  '''Says so.'''", set()),
        ("if TYPE_CHECKING:\n  x = 3", set()),
        ("x = f'{a < b}'", set()),
        ("x = Thread(name='gate')", set()),
        ("x = 'Wait 2 s'", set()),
        ("assert a < b", set()),
        ("class Need:\n  A = a\n  B = b", {"in this order -> A one later"}),
    ],
)
def test_a_place_has_the_faults_of_its_kind(source, wanted):
    assert changes(source) == wanted


@pytest.mark.parametrize("file", CORE)
def test_every_fault_is_another_program_that_can_be_compiled(file):
    source = source_of(file)
    found, left_out = mutants_of(file, source)
    assert left_out
    whole = ast.unparse(ast.parse(source))
    for mutant in found[::11]:
        assert ast.unparse(mutated(source, mutant)) != whole, mutant
        code = compiled(file, mutated(source, mutant))
        if mutant.function:
            assert code_within(code, mutant.function).co_name == mutant.function.rpartition(".")[2]


@pytest.mark.parametrize("file", CORE)
def test_names_of_faults_are_plain_and_unique(file):
    names = [mutant.ident for mutant in mutants_of(file, source_of(file))[0]]
    assert len(set(names)) == len(names) > 0
    assert all(re.fullmatch(r"[a-z0-9_]+", name) for name in names)


def test_names_of_tests_are_plain_and_unique_whatever_their_parameters_are_called():
    ids = [
        "tests/safety/test_a.py::test_x[held?]",
        "tests/safety/test_a.py::test_x[a::b]",
        "test_a.py::T::test_x",
    ]
    assert plain_names(ids) == ["test_a__test_x__0", "test_a__test_x__1", "test_a__t__test_x__0"]


def test_probes_tell_every_statement_a_call_comes_to_and_change_nothing():
    source = "def f(a):\n  'Words.'\n  if a:\n    return 1\n  def g():\n    return 2\n  return g()\n"
    came = []
    space = {PROBE: came.append}
    exec(compile(probed(source), "f.py", "exec"), space)
    assert (space["f"](True), came) == (1, [2, 3, 4])
    came.clear()
    assert (space["f"](False), came) == (2, [2, 3, 5, 7, 6])


@pytest.mark.parametrize("file", CORE)
def test_every_function_of_the_core_takes_probes(file):
    assert compiled(file, probed(source_of(file)))


def told(work, seconds=20.0):
    said = []
    children = Children(2)
    children.start(work, seconds, said.append)
    children.finish()
    return said


def test_a_child_that_crashes_has_not_noticed_a_fault():
    assert told(lambda: ["test_a__test_x__0", "call", ""]) == [["test_a__test_x__0", "call", ""]]
    assert told(lambda: sys.exit(1)) == [None]


def test_a_child_that_turns_in_a_circle_is_ended():
    assert told(lambda: time.sleep(60), seconds=0.2) == ["timeout"]


def test_a_run_that_was_stopped_for_a_while_has_not_turned_in_a_circle():
    said = []
    children = Children(1)
    children.start(lambda: time.sleep(0.7) or "done", 20.0, said.append)
    [(out, (child, until, done, so_far))] = children._running.items()
    children._running[out] = (child, until - 100.0, done, so_far)  # a hundred seconds pass at once
    children._looked -= 100.0
    children.finish()
    assert said == ["done"]


def test_only_tests_that_ran_the_line_are_held_against_it_small_ones_of_every_kind_first():
    mutant = next(one for one in mutants_of("a.py", "def f():\n  x()\n  y()")[0] if one.line == 2)
    seconds = {
        "t__a__0": 0.1,
        "t__a__1": 0.3,
        "t__b__0": 0.5,
        "t__c__0": 9.0,
        "t__d__0": 0.1,
        "t__e__0": 0.3,
        "home__z__0": 1.0,
    }
    came = {
        "a.py 2": ["t__a__0", "t__a__1", "t__b__0", "t__c__0", "t__e__0", "home__z__0"],
        "a.py 3": ["t__d__0"],
    }
    order = Order(seconds, came, {"a.py": frozenset({"home"})})
    assert order.tests_for(mutant) == ["home__z__0", "t__a__0", "t__e__0", "t__b__0", "t__a__1"]
    order.killed(mutant, "t__b__0")
    assert order.tests_for(mutant) == ["t__b__0", "home__z__0", "t__a__0", "t__e__0", "t__a__1"]
    assert order.tests_for(mutant, "t__a") == ["t__b__0", "home__z__0", "t__e__0"]
