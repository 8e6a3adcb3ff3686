"""Runs tests inside forked children, against one fault each.

The process that collected the tests never runs one: every run is a child of it, which is why no fault, no
coverage and nothing that a test leaves behind reaches the next run. Tests are called by plain names
(``[a-z0-9_]``) that stand for the objects pytest collected, and are never looked up by pytest's own names.
"""

from __future__ import annotations

import json
import os
import re
import selectors
import signal
import sys
import time
import traceback
import types
import warnings
from collections import Counter, defaultdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from _pytest.runner import runtestprotocol

if TYPE_CHECKING:
    import ast
    from collections.abc import Callable

    from mutants import Mutant

ROOT = Path(__file__).resolve().parents[2]

SLOWEST_S = 2.0
"""A test that takes longer is no small test of one line."""

BUDGET_S = 6.0
"""Of tests against one fault besides those of its module, as timed without a fault."""

PAUSED_S = 3.0
"""Not come back to waiting for this long: somebody stopped this run for a while."""

GRACE_S = 10.0
"""On top of three times what the tests take: a fault that needs longer turns in a circle."""


_TERMINAL = os.fdopen(os.dup(1), "w", buffering=1)


def say(line: str) -> None:
    """To where this program's output went when it began, past pytest's capturing."""
    _TERMINAL.write(line + "\n")
    _TERMINAL.flush()


def plain_names(nodeids: list[str]) -> list[str]:
    """A name of ``[a-z0-9_]`` for every test, unique: module, test, and its number among its parameters."""
    counts: Counter[str] = Counter()
    names = []
    for nodeid in nodeids:
        file, _, rest = nodeid.partition("::")
        word = re.sub(r"[^a-z0-9_]", "_", f"{Path(file).stem}__{rest.partition('[')[0]}".lower())
        names.append(f"{word}__{counts[word]}")
        counts[word] += 1
    return names


def run_items(
    items: list[pytest.Item],
    *,
    first_failure_ends: bool,
    before: Callable[[int], object] = id,
    after: Callable[[int, float], object] = max,
) -> tuple[int, str, str] | None:
    """Runs tests in this process.

    Args:
        items: in this order.
        first_failure_ends: the rest is not run.
        before: called with the place of each test in the list.
        after: the same, and the seconds it took.

    Returns:
        Of the first failure the place in the list, the phase and what pytest says; None if there is none.
    """
    failed = None
    for number, item in enumerate(items):
        following = items[number + 1] if number + 1 < len(items) else None
        before(number)
        began = time.perf_counter()
        reports = runtestprotocol(item, log=False, nextitem=following)
        after(number, time.perf_counter() - began)
        bad = next((report for report in reports if report.failed), None)
        if bad is not None and failed is None:
            failed = number, bad.when or "", str(bad.longrepr)[-1000:]
        if failed is not None and first_failure_ends:
            break
    return failed


class Children:
    """Calls work in forked children, so many at a time; each gives back one JSON value."""

    def __init__(self, jobs: int) -> None:
        self._jobs = jobs
        self._selector = selectors.DefaultSelector()
        self._running: dict[int, tuple[int, float, Any, bytearray]] = {}
        self._looked = time.monotonic()

    def start(self, work: Any, seconds: float, done: Any) -> None:
        """``done`` is called in this process: with what ``work`` returned, "timeout", or None for a crash."""
        while len(self._running) >= self._jobs:
            self._wait()
        out, into = os.pipe()
        sys.stdout.flush()
        child = os.fork()
        if child == 0:
            code = 1
            try:
                os.close(out)
                os.setpgid(0, 0)
                said = json.dumps(work()).encode()
                with os.fdopen(into, "wb") as pipe:
                    pipe.write(said)
                code = 0
            except BaseException as error:  # noqa: BLE001 - a child must never go on as if it were the parent
                say(f"in a child: {error!r}")
                say(traceback.format_exc())
            finally:
                os._exit(code)
        os.close(into)
        os.set_blocking(out, False)
        if not self._running:
            self._looked = time.monotonic()
        self._running[out] = (child, time.monotonic() + seconds, done, bytearray())
        self._selector.register(out, selectors.EVENT_READ)

    def finish(self) -> None:
        """Until none is left."""
        while self._running:
            self._wait()

    def _bear_with_a_pause(self) -> None:
        """A run that was stopped and goes on has not turned in a circle meanwhile."""
        before, self._looked = self._looked, time.monotonic()
        pause = self._looked - before
        if pause > PAUSED_S:
            self._running = {
                out: (child, until + pause, done, said)
                for out, (child, until, done, said) in self._running.items()
            }

    def _wait(self) -> None:
        for key, _ in self._selector.select(0.5):
            child, _, done, said = self._running[key.fd]
            some = os.read(key.fd, 1 << 20)
            said += some
            if not some:
                self._end(key.fd, child)
                done(json.loads(said) if said else None)
        self._bear_with_a_pause()
        for out, (child, until, done, _) in list(self._running.items()):
            if time.monotonic() > until:
                os.killpg(child, signal.SIGKILL)
                self._end(out, child)
                done("timeout")

    def _end(self, out: int, child: int) -> None:
        del self._running[out]
        self._selector.unregister(out)
        os.close(out)
        os.waitpid(child, 0)


def compiled(file: str, tree: ast.Module) -> types.CodeType:
    """A module's code."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a fault may be one that Python itself frowns at
        return compile(tree, str(ROOT / file), "exec", dont_inherit=True)


def module_of(file: str) -> types.ModuleType:
    """As it was loaded."""
    return sys.modules[file.removesuffix(".py").replace("/", ".")]


def source_of(file: str) -> str:
    """Of a module, as it stands."""
    return (ROOT / file).read_text()


def code_within(code: types.CodeType, where: str) -> types.CodeType:
    """The code of one function of a module."""
    for name in where.split("."):
        found = [
            const for const in code.co_consts if isinstance(const, types.CodeType) and const.co_name == name
        ]
        (code,) = found  # two of one name (a property and its setter) would need more than a name
    return code


def function_of(file: str, where: str) -> types.FunctionType:
    """The function object whose code a fault goes into; who imported it has the same object."""
    found: Any = module_of(file)
    for name in where.split("."):
        found = vars(found)[name]
    found = getattr(found, "fget", None) or getattr(found, "__func__", found)
    if not isinstance(found, types.FunctionType):
        raise TypeError(f"{where} of {file} is no plain function")
    return found


def function_of_test(name: str) -> str:
    """A test's plain name without the number among its parameters."""
    return name.rpartition("__")[0]


class Order:
    """Which tests are held against a fault, and in which order.

    Args:
        seconds: that each test takes.
        came: tests that came to a statement, by file and line.
        home: test modules of a product module: all of their tests are held against its faults.
    """

    def __init__(
        self, seconds: dict[str, float], came: dict[str, list[str]], home: dict[str, frozenset[str]]
    ) -> None:
        self._seconds = seconds
        self._came = came
        self._home = home
        self._killers: dict[str, Counter[str]] = defaultdict(Counter)

    def killed(self, mutant: Mutant, test: str) -> None:
        """Who noticed one fault of a function is likely to notice the next."""
        self._killers[f"{mutant.file} {mutant.where}"][test] += 1

    def tests_for(self, mutant: Mutant, without: str = "") -> list[str]:
        """Against a fault in a function: tests that came to its statement; not those of one test function."""
        came = self._came.get(f"{mutant.file} {mutant.statement}", ())
        return self._within_budget({name for name in came if function_of_test(name) != without}, mutant)

    def for_loading(self, mutant: Mutant) -> list[str]:
        """Against a fault in what runs on loading, which any test may notice."""
        return self._within_budget(set(self._seconds), mutant)

    def _within_budget(self, names: set[str], mutant: Mutant) -> list[str]:
        """First who noticed faults near it, then the tests of its module, then quick ones of any other.

        Of the many of one test function not all come first.
        """
        names = {name for name in names if self._seconds[name] <= SLOWEST_S}
        near = [name for name, _ in self._killers[f"{mutant.file} {mutant.where}"].most_common(5)]
        turns: Counter[str] = Counter()
        ranked = []
        for name in sorted(names, key=lambda name: (self._seconds[name], name)):
            turns[function_of_test(name)] += 1
            strange = name.partition("__")[0] not in self._home.get(mutant.file, ())
            ranked.append((strange, self._seconds[name] * turns[function_of_test(name)], name))
        chosen, left = [name for name in near if name in names], BUDGET_S
        for strange, _, name in sorted(ranked):
            left -= self._seconds[name] if strange else 0.0
            if left < 0:
                break
            if name not in chosen:
                chosen.append(name)
        return chosen

    def seconds(self, names: list[str]) -> float:
        """What they take without a fault, and room."""
        return 3 * sum(self._seconds[name] for name in names) + GRACE_S


class Collected:
    """A pytest plugin: calls ``work`` with the collected tests by plain names instead of running them."""

    def __init__(self, work: Any, wanted: list[str] | None = None) -> None:
        self._work = work
        self._wanted = wanted
        self.said: Any = None
        self.error: Exception | None = None

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Instead of pytest's own."""
        if session.testsfailed:
            raise session.Interrupted("some tests could not be collected")
        names = plain_names([item.nodeid for item in session.items])
        items = dict(zip(names, session.items, strict=True))
        wanted = names if self._wanted is None else [name for name in self._wanted if name in items]
        try:
            self.said = self._work({name: items[name] for name in wanted})
        except Exception as error:  # noqa: BLE001 - pytest would only say that it failed itself
            self.error = error
        return True


def collect(files: list[str], plugin: Collected, folder: Path) -> int:
    """Runs pytest's collection over test modules, in this process.

    Raises:
        Exception: what the plugin's work raised.
    """
    code = pytest.main(
        [
            "-q",
            "-q",
            "--no-header",
            "--assert=plain",
            "-p",
            "no:cacheprovider",
            "-m",
            "not glass and not slow",
            f"--basetemp={folder}",
            "--rootdir",
            str(ROOT),
            *files,
        ],
        plugins=[plugin],
    )
    if plugin.error is not None:
        raise plugin.error
    return code
