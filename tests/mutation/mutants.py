"""Small faults, one at a time, that could stand in a product module: what they are and where.

Not touched, because only a person reads it or nothing runs it: words (docstrings, formatted texts, texts
with a space or a capital letter, names of threads), annotations, blocks for the type checker, imports and
asserts. The places are counted.
"""

from __future__ import annotations

import ast
import copy
import dataclasses
import re
from typing import TYPE_CHECKING

from faults import CONDITIONS, FUNCTIONS, faults_of

if TYPE_CHECKING:
    from faults import Path

KEY = re.compile(r"[a-z0-9_.-]*")
"""A text that the program decides by, unlike one for a person."""

PROBE = "__came_to__"
UNSEEN = (ast.Import, ast.ImportFrom, ast.Assert, ast.Pass)


@dataclasses.dataclass(frozen=True)
class Mutant:
    """One fault.

    Attributes:
        ident: its name, of ``[a-z0-9_]`` alone.
        file: the product module.
        family: what kind of fault.
        where: the innermost function or class, or what is given a value on loading.
        function: the outermost function, with its class; empty for what runs when the module is loaded.
        line: of the place.
        statement: line of the statement that it stands in; a test that never came there cannot notice.
        before, after: the place, as source.
    """

    ident: str
    file: str
    family: str
    where: str
    function: str
    line: int
    statement: int
    before: str
    after: str
    path: Path = dataclasses.field(repr=False)
    new: object = dataclasses.field(repr=False)

    @property
    def change(self) -> str:
        """What it does, in one line; with file and place it is good as a name while lines move."""
        return f"{self.before} -> {self.after}"


@dataclasses.dataclass(frozen=True)
class _Place:
    """Where a walk is."""

    path: Path
    where: str
    function: str
    statement: int


def mutants_of(file: str, source: str) -> tuple[list[Mutant], int]:
    """Every fault of a module, and how many places were left out because only a person reads them."""
    finder = _Finder(file)
    tree = ast.parse(source)
    finder.walk(tree, _Place((), "", "", 1))
    return finder.found, finder.left_out


def mutated(source: str, mutant: Mutant | None) -> ast.Module:
    """The module with this one fault, or with none."""
    tree = ast.parse(source)
    if mutant is None:
        return tree
    node: object = tree
    for field, place in mutant.path[:-1]:
        node = getattr(node, field)
        node = node if place is None else node[place]  # type: ignore[index]
    field, place = mutant.path[-1]
    new = copy.deepcopy(mutant.new)
    if place is None:
        setattr(node, field, new)
    else:
        getattr(node, field)[place] = new
    return ast.fix_missing_locations(tree)


class _Probes(ast.NodeTransformer):
    """Puts a call before every statement, but for those of classes and of the module itself."""

    def visit(self, node: ast.AST) -> ast.AST:
        """A node whose lists of statements get their probes."""
        self.generic_visit(node)
        for field, value in ast.iter_fields(node):
            statements = isinstance(value, list) and value and isinstance(value[0], ast.stmt)
            if statements and not isinstance(node, (ast.ClassDef, ast.Module)):
                setattr(node, field, [made for entry in value for made in (_probe(entry), entry)])
        return node


def _probe(before: ast.stmt) -> ast.stmt:
    call = ast.Expr(ast.Call(ast.Name(PROBE, ast.Load()), [ast.Constant(before.lineno)], []))
    return ast.fix_missing_locations(ast.copy_location(call, before))


def probed(source: str) -> ast.Module:
    """The module whose functions call PROBE with the line of every statement they come to."""
    return ast.fix_missing_locations(_Probes().visit(ast.parse(source)))


class _Finder:
    """Walks a module once."""

    def __init__(self, file: str) -> None:
        self._file = file
        self._stem = file.removesuffix(".py").replace("/", "_")
        self.found: list[Mutant] = []
        self.left_out = 0

    def walk(self, node: ast.AST, at: _Place) -> None:
        """A node and everything in it."""
        if isinstance(node, ast.stmt):
            at = dataclasses.replace(at, statement=node.lineno)
        if self._is_for_people(node):
            self.left_out += 1
            return
        for family, path, new in faults_of(node):
            self._note(node, at, family, path, new)
        inside = at
        if isinstance(node, (ast.Assign, ast.AnnAssign)) and not at.function:
            name = ast.unparse(node.target if isinstance(node, ast.AnnAssign) else node.targets[0])
            at = dataclasses.replace(at, where=f"{at.where}.{name}" if at.where else name)
        elif isinstance(node, (*FUNCTIONS, ast.ClassDef)):
            name = f"{at.where}.{node.name}" if at.where else node.name
            function = at.function or ("" if isinstance(node, ast.ClassDef) else name)
            inside = dataclasses.replace(at, where=name, function=function)
        for field, value in ast.iter_fields(node):
            if field in ("annotation", "returns", "type_comment"):
                self.left_out += value is not None
                continue
            place = inside if field == "body" else at
            for number, child in enumerate(value) if isinstance(value, list) else [(None, value)]:
                if isinstance(child, ast.AST):
                    self.walk(child, dataclasses.replace(place, path=(*at.path, (field, number))))

    @staticmethod
    def _is_for_people(node: ast.AST) -> bool:
        if isinstance(node, ast.If):
            return ast.unparse(node.test) == "TYPE_CHECKING"
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            return KEY.fullmatch(node.value) is None
        if isinstance(node, ast.keyword) and node.arg == "name":
            return isinstance(node.value, ast.Constant)
        text = isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
        return text or isinstance(node, (ast.JoinedStr, *UNSEEN))

    def _note(self, node: ast.AST, at: _Place, family: str, path: Path, new: object) -> None:
        before, after = _shown(node, path, new)
        self.found.append(
            Mutant(
                f"{self._stem}_{len(self.found):04d}",
                self._file,
                family,
                at.where,
                at.function,
                getattr(node, "lineno", at.statement),
                at.statement,
                before,
                after,
                (*at.path, *path),
                new,
            )
        )


def _shown(node: ast.AST, path: Path, new: object) -> tuple[str, str]:
    """A place before and after, each on one line."""
    if isinstance(new, list):
        late = next(old for old, now in zip(node.body, new, strict=True) if old is not now)  # type: ignore[attr-defined]
        before, after = "in this order", f"{late.targets[0].id} one later"
    elif not path:
        before, after = ast.unparse(node), "" if isinstance(new, ast.Pass) else ast.unparse(new)
    else:
        changed = copy.deepcopy(node)
        (field, place), *_ = path
        if place is None:
            setattr(changed, field, new)
        else:
            getattr(changed, field)[place] = new
        if isinstance(node, (*CONDITIONS, ast.comprehension)):
            test = node.ifs[place] if isinstance(node, ast.comprehension) else node.test
            before, after = ast.unparse(test), ast.unparse(new)
        else:
            before, after = ast.unparse(node), ast.unparse(ast.fix_missing_locations(changed))
    return before, after or "nothing"
