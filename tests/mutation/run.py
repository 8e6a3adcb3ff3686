"""Puts one small fault after the other into the safety core and looks whether a test notices.

    python tests/mutation/run.py [--jobs N] [MODULE…]     modules as in PLAN, all if none is named

1. The tests must pass without a fault, with every function's code swapped for the same code with probes:
   what kills a fault later is the fault, not the swapping. The probes tell which test comes where.
2. A fault in a function is swapped in, in a forked child, and tests that come to its statement are held
   against it. A fault in what runs when a module is loaded (limits, rules) gets a child in which nothing of
   ours is loaded yet.
3. The survivors must be those of survivors.toml, each with its reason, and no others.
4. With one named test deleted, the faults that it killed are tried again: some must survive now. A run in
   which everything fails, whatever the reason, would not see the difference.

Words that only a person reads are left alone and counted; see mutants.py.

Exit 0: all of this holds. 1: it does not. 2: the run itself failed, or not an option.
"""

from __future__ import annotations

import argparse
import dataclasses
import functools
import json
import os
import shutil
import sys
import time
import tomllib
from collections import Counter, defaultdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import ast
    import types
    from collections.abc import Callable

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
sys.path[:0] = [str(ROOT), str(HERE)]

import cantools  # noqa: E402, F401 - loaded once, here, instead of in every child
import hypothesis  # noqa: E402
import msgspec  # noqa: E402, F401
import pytest  # noqa: E402
from loading import Faulty  # noqa: E402
from mutants import PROBE, Mutant, mutants_of, mutated, probed  # noqa: E402
from session import (  # noqa: E402
    Children,
    Collected,
    Order,
    code_within,
    collect,
    compiled,
    function_of,
    function_of_test,
    module_of,
    run_items,
    say,
    source_of,
)

PLAN = {
    "interlock": "app/interlock.py",
    "facts": "bus/facts.py",
    "output_run": "bus/output_run.py",
    "admit": "bus/admit.py",
    "gate": "bus/gate.py",
}
"""What decides whether something may move, and that it stops."""

OPENING = frozenset(
    {
        "LISTEN_S",
        "PROOF_FRAMES",
        "SILENT_AFTER_S",
        "BACK_OFF_S",
        "Gate.outlet",
        "Gate.start",
        "Gate.stop",
        "Gate.set_bit_rate",
        "Gate.bad",
        "Gate._say",
        "Gate._run",
        "Gate._serve",
        "Gate._proved",
        "Gate._read_at",
        "Gate._take",
    }
)
"""Finding an adapter and its bit rate: no part of the decision. tests/bus/test_gate.py goes by real time."""

HOME = {
    "app/interlock.py": frozenset({"test_interlock"}),
    "bus/facts.py": frozenset({"test_facts", "test_facts_limits", "test_cranks"}),
    "bus/output_run.py": frozenset({"test_output_run", "test_run_limits", "test_release_answers"}),
    "bus/admit.py": frozenset({"test_admit", "test_exchange_gate"}),
    "bus/gate.py": frozenset({"test_gate_turns", "test_exchange_gate", "test_audit"}),
}
"""Test modules of each."""

FOLDER = ROOT / "build" / "mutation"
TABLE = HERE / "survivors.toml"

SURVIVED, TIMEOUT = "survived", "timeout"

LOADING_S = 20.0
"""On top, for a child that loads everything anew."""

MOST_LISTED = 5
"""Survivors: more would hide the next one."""


Work = tuple["Callable[[], Any]", float]
"""What a child does, and how long it may take."""


class Failed(Exception):
    """The run says nothing about the tests."""


ELSEWHERE = frozenset({"test_kills", "test_reaction"})
"""Safety tests of processes that are started anew, in which no fault is."""


def test_files() -> list[str]:
    """The modules of the safety tests, and those of the gate's thread; no two of one name."""
    paths = sorted(
        path for path in (ROOT / "tests" / "safety").glob("test_*.py") if path.stem not in ELSEWHERE
    )
    return [*(str(path.relative_to(ROOT)) for path in paths), "tests/bus/test_gate.py"]


def all_mutants(names: list[str]) -> tuple[list[Mutant], Counter[str]]:
    """Of the named modules, without what opens the adapter; and the places left out, by module."""
    found: list[Mutant] = []
    left_out: Counter[str] = Counter()
    for name in names:
        mutants, places = mutants_of(PLAN[name], source_of(PLAN[name]))
        found += [swappable(mutant) for mutant in mutants if mutant.where not in OPENING]
        left_out[PLAN[name]] = places
    return found, left_out


def swappable(mutant: Mutant) -> Mutant:
    """A function that calls ``super()`` takes no code without it: there everything is loaded anew."""
    if not mutant.function:
        return mutant
    code = code_within(_code_of(mutant.file), mutant.function)
    return dataclasses.replace(mutant, function="") if code.co_freevars else mutant


@functools.cache
def _code_of(file: str) -> types.CodeType:
    return compiled(file, mutated(source_of(file), None))


def swap(mutants: list[Mutant], tree_of: Callable[[Mutant], ast.Module]) -> None:
    """Puts other code into the functions that these faults are in."""
    for mutant in mutants:
        code = code_within(compiled(mutant.file, tree_of(mutant)), mutant.function)
        function_of(mutant.file, mutant.function).__code__ = code


def with_fault(mutant: Mutant) -> ast.Module:
    """Its module."""
    return mutated(source_of(mutant.file), mutant)


def without_fault(items: dict[str, Any], mutants: list[Mutant]) -> dict[str, Any]:
    """Every function's code swapped for the same with probes: which test comes where, and how long it takes.

    For a child.
    """
    came: dict[str, set[str]] = defaultdict(set)
    names, seconds, place = list(items), {}, [0]
    for file in {mutant.file for mutant in mutants}:
        vars(module_of(file))[PROBE] = lambda line, file=file: came[f"{file} {line}"].add(names[place[0]])
    functions = {(one.file, one.function): one for one in mutants}
    swap(list(functions.values()), lambda mutant: probed(source_of(mutant.file)))
    failed = run_items(
        list(items.values()),
        first_failure_ends=True,
        before=lambda number: place.__setitem__(0, number),
        after=lambda number, took: seconds.__setitem__(names[number], took),
    )
    if failed is not None:
        return {"failed": f"{names[failed[0]]} ({failed[1]}): {failed[2]}"}
    return {"seconds": seconds, "came": {where: sorted(tests) for where, tests in came.items()}}


def against(items: dict[str, Any], tests: list[str], mutant: Mutant | None) -> Any:
    """Who notices a fault, in which phase, and what it says, or that it survived; for a child."""
    if mutant is not None:
        swap([mutant], with_fault)
    there = [name for name in tests if name in items]
    failed = run_items([items[name] for name in there], first_failure_ends=True)
    return SURVIVED if failed is None else [there[failed[0]], *failed[1:]]


def loaded_anew(tests: list[str], mutant: Mutant | None) -> Any:
    """Against a fault in what runs on loading; for a child in which nothing of ours is loaded."""
    if mutant is not None:
        module = mutant.file.removesuffix(".py").replace("/", ".")
        sys.meta_path.insert(0, Faulty(ROOT / mutant.file, module, compiled(mutant.file, with_fault(mutant))))
    needed = {name.partition("__")[0] for name in tests}
    files = [file for file in test_files() if Path(file).stem in needed]
    plugin = Collected(lambda items: against(items, tests, None), tests)
    with Path(os.devnull).open("w") as nothing:
        os.dup2(nothing.fileno(), 1)
        os.dup2(nothing.fileno(), 2)
        code = collect(files, plugin, FOLDER / f"tests_{os.getpid()}")
    shutil.rmtree(FOLDER / f"tests_{os.getpid()}", ignore_errors=True)
    if plugin.said is None and code in (pytest.ExitCode.INTERRUPTED, pytest.ExitCode.USAGE_ERROR):
        return ["none", "collect", "The tests cannot be loaded with it."]
    return plugin.said


class Run:
    """One run over some modules.

    Attributes:
        mutants: the faults.
        left_out: places that only a person reads, by module.
        results: by fault: who noticed, or that it survived or turned in a circle.
        without: how many faults the deleted test killed, and how many of them survive without it.
    """

    def __init__(self, names: list[str], jobs: int) -> None:
        self.mutants, self.left_out = all_mutants(names)
        self.results: dict[str, Any] = {}
        self.without = [0, 0]
        self._jobs = jobs
        self._order = Order({}, {}, HOME)

    def go(self, deleted: str) -> None:
        """All of it but the table; this process must not have loaded anything of ours."""
        children, said = Children(1), []
        children.start(lambda: self._collected(deleted), 86400, said.append)
        children.finish()
        if not isinstance(said[0], dict):
            raise Failed("The run over what is in functions ended by itself.")
        self.results = said[0]["results"]
        self._order = Order(said[0]["seconds"], {}, HOME)
        self.without = said[0]["without"]
        self._control()
        self._try([one for one in self.mutants if not one.function], self._when_loading, self.results)

    def _collected(self, deleted: str) -> dict[str, Any]:
        plugin = Collected(lambda items: self._in_functions(items, deleted))
        collect(test_files(), plugin, FOLDER / "tests")
        if plugin.said is None:
            raise Failed("The tests cannot be collected.")
        return plugin.said

    def _in_functions(self, items: dict[str, Any], deleted: str) -> dict[str, Any]:
        """What one collection serves; for a child that has collected."""
        began = time.monotonic()
        children, found = Children(1), []
        within = [mutant for mutant in self.mutants if mutant.function]
        children.start(lambda: without_fault(items, within), 7200, found.append)
        children.finish()
        if not isinstance(found[0], dict) or "failed" in found[0]:
            raise Failed(f"Without a fault a test fails: {found[0]}")
        seconds = found[0]["seconds"]
        say(f"{len(items)} tests pass without a fault, in {time.monotonic() - began:.0f} s")
        self._order = Order(seconds, found[0]["came"], HOME)
        self._try(within, lambda mutant: self._when_called(items, mutant), self.results)
        without = self._without(items, deleted, within)
        return {"results": self.results, "seconds": seconds, "without": without}

    def _without(self, items: dict[str, Any], deleted: str, mutants: list[Mutant]) -> list[int]:
        """How many faults one test killed, and how many of them survive once it is deleted."""
        its = [one for one in mutants if function_of_test(self.results[one.ident][0]) == deleted]
        again: dict[str, Any] = {}
        say(f"Without {deleted}:")
        self._try(its, lambda mutant: self._when_called(items, mutant, deleted), again)
        return [len(its), sum(result == SURVIVED for result in again.values())]

    def _control(self) -> None:
        """Loaded anew without a fault, the tests must pass."""
        nothing = dataclasses.replace(self.mutants[0], function="", path=())
        tests = self._order.for_loading(nothing)
        children, found = Children(1), []
        children.start(lambda: loaded_anew(tests, None), self._order.seconds(tests) + LOADING_S, found.append)
        children.finish()
        if found != [SURVIVED]:
            raise Failed(f"A test fails without a fault when everything is loaded anew: {found}")

    def _when_called(self, items: dict[str, Any], mutant: Mutant, without: str = "") -> Work:
        tests = self._order.tests_for(mutant, without)
        return lambda: against(items, tests, mutant), self._order.seconds(tests)

    def _when_loading(self, mutant: Mutant) -> Work:
        tests = self._order.for_loading(mutant)
        return lambda: loaded_anew(tests, mutant), self._order.seconds(tests) + LOADING_S

    def _try(self, mutants: list[Mutant], work_of: Callable[[Mutant], Work], results: dict[str, Any]) -> None:
        """Each in a child of its own."""
        children = Children(self._jobs)

        def take(mutant: Mutant, said: Any) -> None:
            if not isinstance(said, list) and said not in (SURVIVED, TIMEOUT):
                raise Failed(f"The child for {mutant.ident} ({mutant.change}) ended by itself.")
            results[mutant.ident] = said
            if isinstance(said, list):
                self._order.killed(mutant, said[0])
            word = f"{said[0]} ({said[1]})" if isinstance(said, list) else said.upper()
            say(f"{len(results)}/{len(mutants)} {mutant.file}:{mutant.line} {mutant.change}: {word}")

        for mutant in mutants:
            children.start(*work_of(mutant), functools.partial(take, mutant))
        children.finish()


def table_of() -> tuple[str, list[dict[str, str]]]:
    """The test to delete, and the survivors that are known."""
    table = tomllib.loads(TABLE.read_text())
    return table["deleted"], table.get("survivor", [])


def key_of(mutant: Mutant) -> tuple[str, str, str, str]:
    """A name that stays while lines move."""
    line = source_of(mutant.file).splitlines()[mutant.line - 1].strip()
    return mutant.file, mutant.where, line, mutant.change


def judge(run: Run, known: list[dict[str, str]]) -> list[str]:
    """What is wrong with the result, in words."""
    listed = {(one["file"], one["where"], one["line"], one["change"]): one["why"] for one in known}
    survivors = {key_of(one): one for one in run.mutants if run.results[one.ident] == SURVIVED}
    wrong = [
        f"{one.file}:{one.line} in {one.where}: {one.change}: no test notices"
        for key, one in survivors.items()
        if key not in listed
    ]
    of_this_run = {mutant.file for mutant in run.mutants}
    wrong += [
        f"survivors.toml lists what is killed or gone: {' | '.join(key)}"
        for key in listed
        if key[0] in of_this_run and key not in survivors
    ]
    wrong += [
        f"survivors.toml gives no reason: {' | '.join(key)}" for key, why in listed.items() if not why.strip()
    ]
    if len(listed) > MOST_LISTED:
        wrong.append(f"survivors.toml lists {len(listed)}: more than {MOST_LISTED}")
    return wrong


def tell(run: Run) -> None:
    """The figures, by module."""
    say(f"{'module':<20}{'faults':>8}{'killed':>8}{'timeout':>8}{'survived':>9}{'for people only':>17}")
    for file, places in run.left_out.items():
        results = [run.results[one.ident] for one in run.mutants if one.file == file]
        words = [result if isinstance(result, str) else "killed" for result in results]
        figures = len(words), words.count("killed"), words.count(TIMEOUT), words.count(SURVIVED)
        say(f"{file:<20}{figures[0]:>8}{figures[1]:>8}{figures[2]:>8}{figures[3]:>9}{places:>17}")


def main() -> int:
    """See above."""
    parser = argparse.ArgumentParser(description="Holds the tests of the safety core against small faults.")
    parser.add_argument("--jobs", type=int, default=os.cpu_count(), help="so many at a time")
    parser.add_argument("modules", nargs="*", choices=[[], *PLAN], help="all if none is named")
    asked = parser.parse_args()
    os.chdir(ROOT)
    hypothesis.settings.register_profile("mutation", derandomize=True, database=None, deadline=None)
    hypothesis.settings.load_profile("mutation")
    shutil.rmtree(FOLDER, ignore_errors=True)
    FOLDER.mkdir(parents=True)
    began = time.monotonic()
    deleted, known = table_of()
    run = Run(asked.modules or list(PLAN), asked.jobs)
    try:
        run.go(deleted)
    except Failed as failed:
        say(str(failed))
        return 2
    told = [
        {
            "ident": one.ident,
            "file": one.file,
            "line": one.line,
            "where": one.where,
            "family": one.family,
            "source": key_of(one)[2],
            "change": one.change,
            "result": run.results[one.ident],
        }
        for one in run.mutants
    ]
    (FOLDER / "result.json").write_text(json.dumps(told, indent=1))
    tell(run)
    wrong = judge(run, known)
    before, after = run.without
    if before or not asked.modules:
        say(f"{deleted} killed {before}; without it {after} of them survive.")
        if not after:
            wrong.append(f"Deleting {deleted} changes nothing: the score would not fall if tests were lost.")
    minutes = (time.monotonic() - began) / 60
    say(f"{len(run.mutants)} faults in {minutes:.0f} min; each is in build/mutation/result.json.")
    for line in wrong:
        say(line)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
