"""No way round the gate: read in the source, so that code no test runs is seen too."""

import ast
import functools
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
BY_FINGER_ONLY = [
    "app/interlock.py",
    "bus/gate.py",
    "bus/admit.py",
    "bus/audit.py",
    "bus/actuate.py",
    "bus/confirmations.py",
    "bus/owed.py",
    "bus/exchange.py",
    "bus/facts.py",
    "bus/heard.py",
    "bus/fuel.py",
    "bus/journal.py",
    "bus/output_run.py",
    "bus/output_past.py",
    "bus/output_facts.py",
    "bus/output_state.py",
    "bus/outputs.py",
]
"""Everything between a finger and the wire."""

WAYS_ROUND = re.compile(
    r"(^|_)(override|overrides|force|forced|debug|skip|skipped|bypass|unsafe|ignore|ignored|disable|disabled|"
    r"no_check|unchecked|trust|trusted|admin|backdoor|reset|test_mode|dry_run|demo)(_|$)"
)


def sources():
    return {
        str(path.relative_to(ROOT)): path.read_text()
        for package in ("app", "bus", "screens", "simulator")
        for path in sorted((ROOT / package).rglob("*.py"))
    }


SOURCES = sources()


@functools.cache
def nodes(source):
    """Of the syntax tree; each module is asked about many times."""
    return tuple(ast.walk(ast.parse(source)))


@pytest.fixture(autouse=True, scope="module")
def forgotten():
    """The trees are many objects, which the collector would look at in every test that follows."""
    yield
    nodes.cache_clear()


def calls(source):
    """Every call as (name that is called, line)."""
    for node in nodes(source):
        if isinstance(node, ast.Call):
            yield ast.unparse(node.func), node.lineno


def imports(source):
    """Every module and name that is imported, by whatever form of the statement."""
    for node in nodes(source):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield node.module or "."
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def names(source):
    """Every name that code gives to something: parameters, functions, attributes, variables, keywords."""
    for node in nodes(source):
        for field in ("arg", "name", "attr", "id"):
            value = getattr(node, field, None)
            if isinstance(value, str):
                yield value, getattr(node, "lineno", 0)


@pytest.mark.parametrize("name", BY_FINGER_ONLY)
def test_nothing_between_finger_and_wire_has_a_way_round(name):
    found = [(word, line) for word, line in names(SOURCES[name]) if WAYS_ROUND.search(word.lower())]
    allowed = {"disable"} if name == "bus/actuate.py" else set()  # gc.disable, and nothing else
    assert [entry for entry in found if entry[0] not in allowed] == []
    assert {called for called, _ in calls(SOURCES[name]) if called.endswith("disable")} <= {"gc.disable"}


@pytest.mark.parametrize(
    "source",
    [
        "def grant(self, *, override=False): ...",
        "def force_release(self): ...",
        "if self.debug_mode: pass",
        "f(skip_check=True)",
        "bypass = 1",
    ],
)
def test_the_scan_sees_what_would_be_a_way_round(source):
    assert [word for word, _ in names(source) if WAYS_ROUND.search(word.lower())]


@pytest.mark.parametrize("name", BY_FINGER_ONLY)
def test_nothing_between_finger_and_wire_looks_at_the_environment(name):
    assert not re.search(r"\benviron\b|\bgetenv\b|\bargv\b|__debug__|sys\.flags", SOURCES[name])


@pytest.mark.parametrize(
    "name", ["app/interlock.py", "bus/output_run.py", "bus/admit.py", "bus/exchange.py", "bus/outputs.py"]
)
def test_what_decides_neither_reads_files_nor_clocks(name):
    used = set(imports(SOURCES[name]))
    assert not used & {"os", "time", "socket", "pathlib", "subprocess", "datetime", "threading.Thread"}
    assert not any(called == "open" or called.startswith("time.") for called, _ in calls(SOURCES[name]))


def test_only_the_gate_imports_the_wire():
    users = {name for name, source in SOURCES.items() for used in imports(source) if used == "bus.wire"}
    assert users == {"bus/gate.py"}


def functions(source):
    """Name of every function to its own syntax tree."""
    return {node.name: node for node in nodes(source) if isinstance(node, ast.FunctionDef)}


def callers(source, pattern):
    """Functions in which something matching the pattern is called, innermost ones."""
    found = set()
    for name, tree in functions(source).items():
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and re.fullmatch(pattern, ast.unparse(node.func)):
                found.add(name)
    return found


def test_the_last_line_before_the_wire_is_the_only_one_that_sends():
    gate = SOURCES["bus/gate.py"]
    assert callers(gate, r".*wire\.send") == {"_let_out"}
    assert callers(gate, r"self\._let_out") == {"_attend", "_let_out_of", "_part"}
    others = {
        name: callers(source, r".*[._]wire\.send")
        for name, source in SOURCES.items()
        if name.startswith("bus/") and name not in ("bus/gate.py", "bus/wire.py")
    }
    assert {name: found for name, found in others.items() if found} == {}


def test_before_each_call_of_the_last_line_somebody_was_asked():
    gate = functions(SOURCES["bus/gate.py"])
    for name, question in {"_attend": ".allowed(", "_part": ".allowed(", "_let_out_of": ".let_out("}.items():
        guarded = [
            node
            for node in ast.walk(gate[name])
            if isinstance(node, ast.If)
            and question in ast.unparse(node.test)
            and any("self._let_out" in ast.unparse(statement) for statement in node.body)
        ]
        assert len(guarded) == 1, name
        assert ast.unparse(gate[name]).count("self._let_out(") == 1, name


def test_the_gate_hands_the_wire_to_nobody():
    gate = SOURCES["bus/gate.py"]
    public = [name for name in functions(gate) if not name.startswith("_")]
    for name in public:
        returned = [node for node in ast.walk(functions(gate)[name]) if isinstance(node, ast.Return)]
        assert not any(ast.unparse(node.value or node) == "self._wire" for node in returned)
    reached = [
        name
        for name, source in SOURCES.items()
        if name != "bus/gate.py" and re.search(r"\bgate\._wire\b|_gate\._|\._let_out\b|\.__dict__\b", source)
    ]
    assert reached == []


@pytest.mark.parametrize(
    ("what", "where"),
    [
        (r"(app\.interlock\.)?Interlock", {"bus/actuate.py"}),
        (r"(app\.interlock\.)?Permit", {"app/interlock.py"}),
        (r"(bus\.exchange\.)?Exchange", {"bus/gate.py"}),
    ],
)
def test_what_gives_leave_is_made_in_one_place(what, where):
    made = {
        name for name, source in SOURCES.items() for called, _ in calls(source) if re.fullmatch(what, called)
    }
    assert made == where


def test_nobody_reaches_into_the_interlock():
    reach = re.compile(r"interlock\._|_live\s*=.*Permit|object\.__setattr__|permit\.\w+\s*=[^=]")
    found = [name for name in BY_FINGER_ONLY if reach.search(SOURCES[name])]
    assert found == ["app/interlock.py"]  # it reaches into itself


def test_no_module_of_the_screens_knows_the_words_of_the_wire():
    found = [
        name
        for name, source in SOURCES.items()
        if name.startswith(("screens/", "app/"))
        and re.search(r"\b0x7E[0-9A-F]\b|bytes\.fromhex\(\"(2f|10)", source)
    ]
    assert found == []
