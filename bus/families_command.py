"""The commands ``boathook families list``, ``check`` and ``new``."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, TextIO

import msgspec

from bus.family import SHIPPED, check_folder, load_families
from bus.family_golden import FILE as GOLDEN
from bus.family_golden import check_golden, words
from bus.family_new import begin
from bus.frame import digits
from bus.group_requests import group_requests
from bus.requests import requests_of

if TYPE_CHECKING:
    from pathlib import Path

    from app.errors import FamilyError
    from bus.family import Family
    from bus.family_golden import Golden


class _Finding(msgspec.Struct):
    """One thing that is wrong, as JSON."""

    file: str
    line: int | None
    what: str
    mend: str


class _Listed(msgspec.Struct):
    """One family, as JSON."""

    name: str
    title: str
    invented: bool
    shipped: bool
    identifiers: str
    bitrates: tuple[int, ...]
    messages: int
    signals: int
    folder: str


class _List(msgspec.Struct):
    """Everything this tool knows, as JSON."""

    families: list[_Listed]
    errors: list[_Finding]


class _Check(msgspec.Struct):
    """The verdict on one folder, as JSON."""

    folder: str
    sound: bool
    errors: list[_Finding]


def list_families(*, as_json: bool, out: TextIO) -> int:
    """Print the families this tool knows; what is wrong with the others goes to stderr (or into the JSON).

    Returns:
        Exit code: always 0, a broken family stops nothing.
    """
    families, errors = load_families()
    if as_json:
        listed = _List([_listed(family) for family in families], [_finding(error) for error in errors])
        out.write(msgspec.json.encode(listed).decode() + "\n")
        return 0
    for family in map(_listed, families):
        kind = "invented" if family.invented else "shipped" if family.shipped else "own"
        rates = ", ".join(f"{rate // 1000}" for rate in family.bitrates)
        facts = f"{kind:<9} {family.identifiers:<6} {rates} kbit/s, {family.signals} signals"
        out.write(f"{family.name:<12} {family.title:<28} {facts}\n")
    for error in errors:
        print(error, file=sys.stderr)
    return 0


def check(folder: Path, *, as_json: bool, requests: bool = False, out: TextIO) -> int:
    """Print whether a family folder is sound, and everything that is wrong with it.

    Args:
        folder: of the family.
        as_json: one JSON object instead of words.
        requests: print every request that the family makes possible too, to be held against its papers.
        out: where to.

    Returns:
        Exit code: 0 sound, 1 not.
    """
    family, errors = check_folder(folder)
    golden = None if family is None else check_golden(family)
    if golden is not None and golden.errors:
        family, errors = None, golden.errors
    if as_json:
        verdict = _Check(str(folder), family is not None, [_finding(error) for error in errors])
        out.write(msgspec.json.encode(verdict).decode() + "\n")
    elif family is not None:
        listed = _listed(family)
        out.write(f"{family.name} is sound: {listed.messages} messages, {listed.signals} signals.\n")
        out.write(_golden_words(golden))
        if requests:
            out.writelines(f"{line}\n" for line in _requests(family))
    else:
        out.writelines(f"{error}\n" for error in errors)
        things = "1 thing is" if len(errors) == 1 else f"{len(errors)} things are"
        out.write(f"{folder} is not sound: {things} wrong.\n")
    return 0 if family is not None else 1


def _golden_words(golden: Golden | None) -> str:
    if golden is None:
        return f"It has no {GOLDEN}: nobody has worked out its frames and requests by hand.\n"
    return f"{golden.frames} frames and {golden.requests} requests worked out by hand agree.\n"


def _requests(family: Family) -> list[str]:
    """Identifier, class and bytes of all that its controllers can ever be asked."""
    allowed = requests_of(family.uds) | group_requests(family.j1939)
    asked = sorted((one.request, one.pdu, one.kind.value) for one in allowed)
    lines = [f"{digits(ident)} {kind} {words(pdu)}" for ident, pdu, kind in asked]
    for plan in family.uds.outputs if family.uds is not None else ():
        named = (("start", plan.start), ("status", plan.status), ("release", plan.release))
        lines += [f"{digits(plan.request)} {what} {plan.data.key} {words(pdu)}" for what, pdu in named if pdu]
    return lines


def new(name: str, within: Path | None, *, out: TextIO) -> int:
    """Write a skeleton and say what to do with it.

    Returns:
        Exit code: 0, it is there.

    Raises:
        BoathookError: it could not be written.
    """
    folder = begin(name, within)
    out.write(f"{folder} holds a family to begin with. Read family.toml there, then:\n")
    out.write(f"boathook families check {folder}\n")
    return 0


def _finding(error: FamilyError) -> _Finding:
    return _Finding(error.file, error.line, error.what, error.mend)


def _listed(family: Family) -> _Listed:
    return _Listed(
        name=family.name,
        title=family.title,
        invented=family.invented,
        shipped=family.folder.parent == SHIPPED.resolve(),
        identifiers=family.identifiers,
        bitrates=family.bitrates,
        messages=len(family.messages),
        signals=sum(len(message.signals) for message in family.messages),
        folder=str(family.folder),
    )
