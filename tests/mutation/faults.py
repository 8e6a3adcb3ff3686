"""The families of small faults: what may be wrong at one node of a program."""

from __future__ import annotations

import ast
import copy
import itertools
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

Path = tuple[tuple[str, int | None], ...]
"""Fields from a node down to another, each with its place if it is a list."""

Fault = tuple[str, Path, object]
"""Family, path from the node, and what comes there."""

DECIDED = (ast.Constant, ast.Compare, ast.BoolOp)
"""What has faults of its own wherever it stands."""

COMPARED = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
COMPUTED = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.Mod: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.BitOr: ast.BitAnd,
    ast.BitAnd: ast.BitOr,
}
CALLED = {"min": "max", "max": "min", "any": "all", "all": "any"}
ORDERED = {"Need"}
"""Enumerations whose order a person sees."""
CONDITIONS = (ast.If, ast.While, ast.IfExp)
FUNCTIONS = (ast.FunctionDef, ast.AsyncFunctionDef)


def faults_of(node: ast.AST) -> Iterator[Fault]:
    """The faults of one node, not of what is in it."""
    yield from FAMILIES.get(type(node), _none)(node)
    if isinstance(node, CONDITIONS) and not _negated_elsewhere(node.test):
        yield "not", (("test", None),), ast.UnaryOp(ast.Not(), node.test)


def _none(_: ast.AST) -> Iterator[Fault]:
    yield from ()


def _compared(node: ast.Compare) -> Iterator[Fault]:
    for number, operator in enumerate(node.ops):
        for other in COMPARED[type(operator)]:
            yield "comparison", (("ops", number),), other()


def _joined(node: ast.BoolOp) -> Iterator[Fault]:
    yield "condition", (("op", None),), ast.Or() if isinstance(node.op, ast.And) else ast.And()
    for number in range(len(node.values)):
        yield "condition", (), _without(node, "values", number)


def _denied(node: ast.UnaryOp) -> Iterator[Fault]:
    if isinstance(node.op, ast.Not):
        yield "not", (), node.operand


def _computed(node: ast.BinOp | ast.AugAssign) -> Iterator[Fault]:
    if isinstance(node, ast.AugAssign):
        yield "statement", (), ast.Pass()
    if type(node.op) in COMPUTED:
        yield "arithmetic", (("op", None),), COMPUTED[type(node.op)]()


def _constant(node: ast.Constant) -> Iterator[Fault]:
    for value in _other_values(node.value):
        yield "constant", (), ast.Constant(value)


def _filtered(node: ast.comprehension) -> Iterator[Fault]:
    for number, test in enumerate(node.ifs):
        if not _negated_elsewhere(test):
            yield "not", (("ifs", number),), ast.UnaryOp(ast.Not(), test)


def _lambda(node: ast.Lambda) -> Iterator[Fault]:
    if not isinstance(node.body, DECIDED):
        yield "result", (("body", None),), ast.Constant(None)


def _returned(node: ast.Return) -> Iterator[Fault]:
    if node.value is None:
        yield "statement", (), ast.Pass()
    elif not isinstance(node.value, DECIDED):
        yield "result", (("value", None),), ast.Constant(None)


def _negated_elsewhere(test: ast.expr) -> bool:
    single = isinstance(test, ast.Compare) and len(test.ops) == 1
    return single or (isinstance(test, ast.UnaryOp) and isinstance(test.op, ast.Not))


def _other_values(value: object) -> list[object]:
    other: list[object] = []
    match value:
        case bool():
            other = [not value]
        case int():
            other = [value + 1, value - 1]
        case float():
            other = [value * 1.1, value * 0.9] if value else [1.0, -1.0]
        case bytes():
            other = [value[:-1] + bytes([value[-1] ^ 1])] if value else [b"\0"]
        case "inf" | "-inf":
            other = ["inf" if value == "-inf" else "-inf"]
        case str():
            last = value[-1:]
            other = [value[:-1] + (chr(ord(last) - 1) if last and last not in "a0" else "1")]
    return other


def _other_calls(node: ast.Call) -> Iterator[Fault]:
    name = node.func.id if isinstance(node.func, ast.Name) else None
    if name in CALLED:
        yield "call", (("func", None),), ast.Name(CALLED[name], ast.Load())
    for number, argument in enumerate(node.args if name and name[0].isupper() else []):
        if isinstance(argument, ast.Constant) and argument.value is None:
            yield "constant", (("args", number),), ast.Constant(value=True)
    if ast.unparse(node.func) == "dataclasses.replace":
        for number in range(len(node.keywords)):
            shorter = copy.copy(node)
            shorter.keywords = node.keywords[:number] + node.keywords[number + 1 :]
            yield "element", (), shorter


def _without(node: ast.AST, field: str, number: int) -> ast.AST:
    shorter = copy.copy(node)
    values = getattr(node, field)
    left = values[:number] + values[number + 1 :]
    if isinstance(node, ast.BoolOp) and len(left) == 1:
        return left[0]
    setattr(shorter, field, left)
    return shorter


def _shorter(node: ast.Set | ast.List | ast.Dict | ast.Tuple) -> Iterator[Fault]:
    """Each element left out, of what is read and not of what is taken apart."""
    if isinstance(node, ast.Dict):
        for number in range(len(node.keys)):
            shorter = _without(node, "keys", number)
            shorter.values = node.values[:number] + node.values[number + 1 :]  # type: ignore[attr-defined]
            yield "element", (), shorter
    elif isinstance(node, ast.Set) and len(node.elts) == 1:
        yield "element", (), ast.Call(ast.Name("set", ast.Load()), [], [])
    elif isinstance(getattr(node, "ctx", ast.Load()), ast.Load):
        for number in range(len(node.elts)):
            yield "element", (), _without(node, "elts", number)


def _swapped(node: ast.ClassDef) -> Iterator[Fault]:
    """Each two neighbours of an enumeration, the other way round."""
    members = [number for number, entry in enumerate(node.body) if isinstance(entry, ast.Assign)]
    for first, second in itertools.pairwise(members if node.name in ORDERED else []):
        body = list(node.body)
        body[first], body[second] = body[second], body[first]
        yield "order", (("body", None),), body


def _gone(_: ast.stmt) -> Iterator[Fault]:
    yield "statement", (), ast.Pass()


def _call_gone(node: ast.Expr) -> Iterator[Fault]:
    if isinstance(node.value, ast.Call):
        yield from _gone(node)


def _unset(node: ast.Assign | ast.AnnAssign) -> Iterator[Fault]:
    """Something that outlives the function is not set; without a local name the next line fails anyway."""
    targets = node.targets if isinstance(node, ast.Assign) else [node.target]
    each = [entry for target in targets for entry in getattr(target, "elts", [target])]
    if node.value is not None and any(isinstance(entry, (ast.Attribute, ast.Subscript)) for entry in each):
        yield "statement", (), ast.Pass()


FAMILIES: dict[type[ast.AST], Callable[[Any], Iterator[Fault]]] = {
    ast.AnnAssign: _unset,
    ast.Assign: _unset,
    ast.AugAssign: _computed,
    ast.BinOp: _computed,
    ast.BoolOp: _joined,
    ast.Break: _gone,
    ast.Call: _other_calls,
    ast.ClassDef: _swapped,
    ast.Compare: _compared,
    ast.Constant: _constant,
    ast.Continue: _gone,
    ast.Delete: _gone,
    ast.Dict: _shorter,
    ast.Expr: _call_gone,
    ast.Lambda: _lambda,
    ast.List: _shorter,
    ast.Raise: _gone,
    ast.Return: _returned,
    ast.Set: _shorter,
    ast.Tuple: _shorter,
    ast.UnaryOp: _denied,
    ast.comprehension: _filtered,
}
