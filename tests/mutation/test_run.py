"""What a run over small faults says, and its two ways of holding a fault against a test."""

import json
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest
from mutants import mutants_of
from run import MOST_LISTED, SURVIVED, TIMEOUT, judge, key_of, table_of
from session import source_of

FILE = "app/interlock.py"
FIGURES = "test_interlock__test_the_figures_are_those_of_the_safety_notes__0"
FLOOR = next(one for one in mutants_of(FILE, source_of(FILE))[0] if one.where == "BATTERY_FLOOR_V")
KILLED = ["test_a__test_x__0", "call", ""]


def ended(result):
    return SimpleNamespace(mutants=[FLOOR], results={FLOOR.ident: result})


def listed(why="It cannot be noticed."):
    file, where, line, change = key_of(FLOOR)
    return {"file": file, "where": where, "line": line, "change": change, "why": why}


def test_a_survivor_must_be_listed_and_one_that_is_listed_must_survive():
    assert judge(ended(KILLED), []) == []
    assert judge(ended(TIMEOUT), []) == []
    assert judge(ended(SURVIVED), [listed()]) == []
    [line] = judge(ended(SURVIVED), [])
    assert line.startswith(f"{FILE}:{FLOOR.line} in BATTERY_FLOOR_V: 11.8 -> ")
    [line] = judge(ended(KILLED), [listed()])
    assert "killed or gone" in line


def test_a_survivor_of_another_module_is_not_asked_for():
    assert judge(ended(KILLED), [listed() | {"file": "bus/facts.py"}]) == []


def test_a_survivor_needs_a_reason_and_there_are_not_many():
    [line] = judge(ended(SURVIVED), [listed(" ")])
    assert "gives no reason" in line
    many = [listed() | {"file": "bus/facts.py", "where": f"f{number}"} for number in range(MOST_LISTED + 1)]
    [line] = judge(ended(KILLED), many)
    assert "more than 5" in line


def test_the_table_of_survivors_speaks_of_lines_that_are_there_and_of_a_test_that_is():
    deleted, known = table_of()
    module, _, test = deleted.partition("__")
    assert f"def {test}(" in source_of(f"tests/safety/{module}.py")
    for one in known:
        assert one["line"] in [line.strip() for line in source_of(one["file"]).splitlines()]
        assert one["why"]


@pytest.mark.parametrize("way", ["when_loading", "when_called"])
def test_a_fault_is_noticed_by_the_test_that_is_there_for_it_and_none_is_noticed_without_one(way):
    """In a process of its own: a fault that is noticed leaves its module loaded."""
    source = f"""
import os, sys
sys.path.insert(0, {str(Path(__file__).parent)!r})
import run
from session import Collected, collect, say
import json
os.chdir(run.ROOT)
run.FOLDER.mkdir(parents=True, exist_ok=True)
wheres = {{"when_loading": "BATTERY_FLOOR_V", "when_called": "lacking"}}
found = run.all_mutants(["interlock"])[0]
fault = [one for one in found if one.where == wheres[{way!r}]][-1]
tests = [{FIGURES!r}, "test_interlock__test_only_true_itself_counts_as_true__0"]
if {way!r} == "when_loading":
    work = lambda fault: run.loaded_anew(tests, fault)
else:
    def work(fault):
        plugin = Collected(lambda items: run.against(items, tests, fault))
        collect(["tests/safety/test_interlock.py"], plugin, run.FOLDER / f"tests_{{os.getpid()}}")
        return plugin.said
said = []
for one in (None, fault):
    children = run.Children(1)
    children.start(lambda: work(one), 60, said.append)
    children.finish()
say(json.dumps([said[0], said[1][:2]]))
"""
    done = subprocess.run([sys.executable, "-c", source], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    noticed_by = {
        "when_loading": FIGURES,
        "when_called": "test_interlock__test_only_true_itself_counts_as_true__0",
    }
    assert json.loads(done.stdout.splitlines()[-1]) == [SURVIVED, [noticed_by[way], "call"]]
