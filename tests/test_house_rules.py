"""The rules of the house that a machine can check: sizes, top level, locks, and the one door to the wire."""

from __future__ import annotations

import ast
import importlib.util
import re
import statistics
import subprocess
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parents[1]
PACKAGES = ("app", "bus", "screens", "simulator")
LONGEST_MODULE = 400
LONGEST_TEST = 600
MEDIAN_MODULE = 150

TOP_LEVEL = {
    *PACKAGES,
    "tests",
    "deploy",
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "pyproject.toml",
}
WIRE = {"bus/wire.py", "simulator/wire.py"}
"""The two modules that may open a bus."""
READS_FILES = {"bus/recording.py"}
"""May use python-can, but only its readers and writers of files."""

WIRE_MODULES = {"can", "serial", "termios", "tty", "pty"}
SOCKET_NAMES = {"AF_CAN", "PF_CAN", "CAN_RAW", "CAN_BCM", "CAN_ISOTP", "CAN_J1939"}
BUS_NAMES = {"Bus", "ThreadSafeBus", "interface", "interfaces"}
"""What opens a bus in python-can."""
DETOUR_CALLS = {"exec", "eval", "compile", "__import__", "execfile"}
DETOUR_MODULES = {"importlib", "runpy", "imp", "pkgutil", "zipimport", "code"}
HARMLESS = {"importlib.resources", "importlib.metadata"}
"""They read data and versions; they load no module."""


def tracked(*patterns: str) -> list[str]:
    listing = subprocess.run(
        ["git", "-c", "safe.directory=*", "ls-files", "-z", "--", *patterns],
        cwd=ROOT,
        check=True,
        capture_output=True,
        text=True,
    ).stdout
    return [name for name in listing.split("\0") if name and (ROOT / name).is_file()]


MODULES = tracked(*(f"{package}/*.py" for package in PACKAGES))
KV_FILES = tracked("*.kv")
LOCKS = ("deploy/requirements.lock", "deploy/requirements-dev.lock")


def length(name: str) -> int:
    return len((ROOT / name).read_text().splitlines())


def test_no_module_is_longer_than_a_person_can_hold():
    long = {name: length(name) for name in MODULES if length(name) > LONGEST_MODULE}
    assert not long, f"split these by their reasons to change: {long}"


def test_no_test_module_is_longer_than_its_limit():
    long = {name: length(name) for name in tracked("tests/*.py") if length(name) > LONGEST_TEST}
    assert not long, f"split these: {long}"


def test_the_usual_module_is_small():
    sizes = [length(name) for name in MODULES if not name.endswith("__init__.py")]
    assert sizes, "no module found: is this a git checkout?"
    assert statistics.median(sizes) < MEDIAN_MODULE


def test_the_top_level_holds_nothing_new():
    names = {name.split("/")[0] for name in tracked()}
    assert not {name for name in names if not name.startswith(".")} - TOP_LEVEL


def imported(node: ast.AST) -> list[str]:
    """The modules an import statement names, `from a import b` as a and a.b."""
    if isinstance(node, ast.Import):
        return [alias.name for alias in node.names]
    if isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
        return [f"{node.module}.{alias.name}" for alias in node.names]
    return []


def detours(source: str, name: str) -> list[str]:
    """What in a module opens a bus, or goes round the contracts on imports, with its line."""
    door = name in WIRE
    closed = set() if door else WIRE_MODULES - ({"can"} if name in READS_FILES else set())
    forbidden = set() if door else SOCKET_NAMES | (BUS_NAMES if name in READS_FILES else set())
    found = []
    for node in ast.walk(ast.parse(source)):
        words = []
        for module in imported(node):
            top, *rest = module.split(".")
            detour = top in DETOUR_MODULES and ".".join([top, *rest[:1]]) not in HARMLESS
            if detour or top in closed or (top not in PACKAGES and forbidden & set(rest)):
                words.append(f"import {module}")
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in DETOUR_CALLS:
            words.append(f"{node.func.id}()")
        if isinstance(node, ast.Attribute) and node.attr in forbidden:
            words.append(f".{node.attr}")
        if isinstance(node, ast.Constant) and node.value in forbidden:
            words.append(f"the name {node.value!r} in a string")
        found += [f"{name}:{node.lineno}: {word}" for word in words]
    return found


def test_only_the_two_wire_modules_open_a_bus_and_nothing_goes_round_the_contracts():
    found = [line for name in MODULES for line in detours((ROOT / name).read_text(), name)]
    assert not found, "\n".join(found)


@pytest.mark.parametrize(
    "source",
    [
        "import socket\ns = socket.socket(socket.AF_CAN)",
        "import socket\ns = getattr(socket, 'AF_CAN')",
        "from socket import AF_CAN",
        "import can",
        "import can.interfaces.slcan",
        "from can import Bus",
        "import serial",
        "import importlib\nimportlib.import_module('bus.wire')",
        "from importlib import import_module",
        "import importlib.util",
        "wire = __import__('bus.wire')",
        "eval('1')",
        "exec('import can')",
        "import termios",
    ],
)
def test_the_scan_sees_every_way_to_a_bus_that_is_known(source):
    assert detours(source, "screens/ride.py")


@pytest.mark.parametrize("source", ["can.Bus()", "import serial", "import can\ncan.interface.Bus()"])
def test_the_module_that_reads_recordings_opens_no_bus(source):
    assert detours("from can import io", "bus/recording.py") == []
    assert detours(source, "bus/recording.py")


def test_the_scan_leaves_honest_modules_alone():
    source = "import can\nfrom importlib import resources\nfrom importlib.metadata import version\ncan.Bus()"
    assert detours(source, "bus/wire.py") == []
    assert detours("from bus.family_form import Bus\nimport socket\nsocket.AF_UNIX", "bus/wall.py") == []


def kv_imports(source: str) -> list[str]:
    """Modules that a screen's layout file loads: Kivy has import lines of its own, which no contract sees."""
    return re.findall(r"^\s*#:\s*import\s+\S+\s+(\S+)", source, re.MULTILINE)


def test_layout_files_import_only_what_screens_may():
    found = {
        name: module
        for name in KV_FILES
        for module in kv_imports((ROOT / name).read_text())
        if module.split(".")[0] not in {"kivy", "screens", "app"}
    }
    assert not found
    assert kv_imports("#:import wire bus.wire\n") == ["bus.wire"]


def pins(lock: str) -> dict[str, str]:
    """Name to exact version of every package in a lock."""
    lines = (ROOT / lock).read_text().splitlines()
    return dict(re.match(r"([a-z0-9-]+)==([^ ;]+)", line).groups() for line in lines if re.match(r"\w", line))


@pytest.mark.parametrize("lock", LOCKS)
def test_a_lock_names_no_registry(lock):
    text = (ROOT / lock).read_text()
    assert "://" not in text
    assert not re.search(r"^\s*-(-index|-extra|-find|-trusted|i|f)", text, re.MULTILINE)


@pytest.mark.parametrize("lock", LOCKS)
def test_every_package_in_a_lock_carries_its_hash(lock):
    entries = re.split(r"^(?=\w)", (ROOT / lock).read_text(), flags=re.MULTILINE)[1:]
    assert entries
    assert not [entry.split()[0] for entry in entries if "--hash=sha256:" not in entry]


def test_the_locks_fit_the_project_file():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    wanted = {LOCKS[0]: project["dependencies"]}
    wanted[LOCKS[1]] = wanted[LOCKS[0]] + project["optional-dependencies"]["dev"]
    for lock, lines in wanted.items():
        have = pins(lock)
        for requirement in map(Requirement, lines):
            name = requirement.name.lower().replace("_", "-")
            assert have.get(name), f"{lock} lacks {name}: run deploy/lock"
            assert requirement.specifier.contains(have[name]), (
                f"{lock} is older than pyproject.toml: run deploy/lock"
            )


def test_the_checks_run_on_the_very_packages_of_the_handheld():
    assert pins(LOCKS[0]).items() <= pins(LOCKS[1]).items()


@pytest.mark.parametrize("package", ["asammdf", "pandas"])
def test_heavy_packages_are_not_in_the_environment_that_starts_the_kiosk(package):
    # python-can loads asammdf merely because it is there: 0.26 s and 57 MB at every start (measured).
    assert importlib.util.find_spec(package) is None
    assert package not in pins(LOCKS[1])
