"""Checks [uds] of family.toml: controllers, what they tell of themselves, faults, outputs (ISO 14229-1).

Key by key against bus/uds_form.py, then against each other, the DBC file and the floors and ceilings in code.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

import msgspec

from app.faults import code_number
from bus.family_file import section
from bus.frame import EXTENDED, digits
from bus.outputs import OutputData, OutputError, OutputPlan, plan
from bus.uds_form import Extended, FaultText, Head, Item, Module, OutputEntry, Uds

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterable

    from bus.dbc import MessageLayout
    from bus.family_file import Findings

ALL_AT_ONCE = {"11-bit": frozenset({0x7DF}), "29-bit": frozenset({EXTENDED | 0x18DB33F1})}
"""ISO 15765-4: a request to this identifier is heard by every controller; nobody here is asked that way."""

BITS = {"11-bit": 11, "29-bit": 29}
TO_ALL = 0xDB
"""Format byte of a 29-bit identifier that goes to every controller of a group (ISO 15765-2, normal fixed
addressing; DA goes to one)."""

ASK_ONE = "Give the identifier of this controller alone."

Entry = TypeVar("Entry", bound=msgspec.Struct)
_PARTS: dict[str, type[msgspec.Struct]] = {
    "modules": Module,
    "identity": Item,
    "faults": FaultText,
    "snapshot": Item,
    "outputs": OutputEntry,
}


def read_uds(data: dict[str, Any], messages: Iterable[MessageLayout], findings: Findings) -> Uds:
    """Check the whole of [uds].

    Args:
        data: the section as TOML gave it.
        messages: of the DBC file.
        findings: takes what is wrong; worth something only if nothing was.
    """
    head = {key: value for key, value in data.items() if key not in _PARTS and key != "extended"}
    top = section(Head, head, ("uds",), findings) or Head()
    check = _Check(findings)
    modules = check.entries("modules", Module, data)
    modules = _modules(modules, top.identifiers, messages, check)
    check.known = {module.key for _, module in modules}
    identity = check.entries("identity", Item, data)
    snapshot = check.entries("snapshot", Item, data)
    _identity(identity, check)
    _snapshot(snapshot, check)
    extended = section(Extended, check.table("extended", data), ("uds", "extended"), findings) or Extended()
    if extended.count is not None and extended.count == extended.age:
        what = f"count and age are both record {extended.count}"
        findings.add(("uds", "extended", "age"), what, "Each record tells one thing.")
    return Uds(
        padding=top.padding,
        modules=tuple(module for _, module in modules),
        identity=tuple(item for _, item in identity),
        words=_words(check.entries("faults", FaultText, data), check),
        snapshot={item.did: item for _, item in snapshot},
        extended=extended,
        outputs=_outputs(check.entries("outputs", OutputEntry, data), dict(modules), top.padding, check),
    )


class _Check:
    """Findings of one family, and what several sections ask of each other."""

    def __init__(self, findings: Findings) -> None:
        self._findings = findings
        self.known: set[str] = set()

    def add(self, at: tuple[str, ...], what: str, mend: str) -> None:
        self._findings.add(("uds", *at), what, mend)

    def table(self, name: str, data: dict[str, Any]) -> dict[str, Any]:
        value = data.get(name, {})
        if isinstance(value, dict):
            return value
        self.add((name,), f"{name} is no section", f"Write [uds.{name}].")
        return {}

    def entries(self, name: str, kind: type[Entry], data: dict[str, Any]) -> list[tuple[str, Entry]]:
        """Every sound [[uds.NAME]] with its place in the file."""
        values = data.get(name, [])
        if not isinstance(values, list) or not all(isinstance(value, dict) for value in values):
            self.add((name,), f"{name} is no list of sections", f"Write [[uds.{name}]] before each.")
            return []
        found = []
        for number, value in enumerate(values):
            entry = section(kind, value, ("uds", name, str(number)), self._findings)
            if entry is not None:
                found.append((str(number), entry))
        return found

    def module(self, at: tuple[str, ...], key: str) -> None:
        """A module that is named must be there."""
        if key not in self.known:
            names = ", ".join(sorted(self.known)) or "none"
            self.add((*at, "module"), f'there is no module "{key}"', f"Modules: {names}.")

    def once(self, at: tuple[str, ...], seen: set[Hashable], value: Hashable, words: str) -> None:
        """A thing may stand there once."""
        if value in seen:
            self.add(at, f"{words} stands there twice", "Keep one of the two.")
        seen.add(value)


def _modules(
    modules: list[tuple[str, Module]], kind: str, messages: Iterable[MessageLayout], check: _Check
) -> list[tuple[str, Module]]:
    """Check the controllers; their identifiers as frames carry them, see Module."""
    if not modules:
        check.add((), "[uds] names no module", "Add [[uds.modules]], or take [uds] out.")
    broadcast = {message.ident: message.name for message in messages}
    mark = EXTENDED if kind == "29-bit" else 0
    keys: set[Hashable] = set()
    idents: set[Hashable] = set()
    for number, module in modules:
        at = ("modules", number)
        check.once((*at, "key"), keys, module.key, f"module {module.key}")
        for name, ident in (("request", module.request), ("response", module.response)):
            words = f"{name} = 0x{digits(mark | ident)} of {module.key}"
            if ident >> BITS[kind]:
                check.add(
                    (*at, name), f"{words} has more than 11 bits", 'Write identifiers = "29-bit" in [uds].'
                )
            elif mark | ident in ALL_AT_ONCE[kind] or (mark and ident >> 16 & 0xFF == TO_ALL):
                check.add((*at, name), f"{words} asks every controller at once", ASK_ONE)
            elif mark | ident in broadcast:
                what = f"{words} is the broadcast message {broadcast[mark | ident]}"
                check.add((*at, name), what, "Mend the identifier here or in signals.dbc.")
            else:
                check.once((*at, name), idents, ident, f"identifier 0x{digits(mark | ident)}")
    return [
        (number, msgspec.structs.replace(one, request=mark | one.request, response=mark | one.response))
        for number, one in modules
    ]


def _identity(identity: list[tuple[str, Item]], check: _Check) -> None:
    dids: set[Hashable] = set()
    end = 0
    for number, item in identity:
        at = ("identity", number)
        check.module(at, item.module)
        check.once((*at, "did"), dids, (item.module, item.did), f"0x{item.did:04X} of {item.module}")
        if item.hours:
            check.add((*at, "hours"), "hours stands in [[uds.identity]]", "It belongs to [[uds.snapshot]].")
        if item.band is not None:
            end = _band(at, item, item.band, end, check)
        _told(at, item, check)
        _coding(at, item, check)


def _snapshot(snapshot: list[tuple[str, Item]], check: _Check) -> None:
    dids: set[Hashable] = set()
    hours: set[Hashable] = set()
    for number, item in snapshot:
        at = ("snapshot", number)
        check.once((*at, "did"), dids, item.did, f"0x{item.did:04X}")
        for name in ("band", "counter", "known"):
            if getattr(item, name):
                what = f"{name} stands in [[uds.snapshot]]"
                check.add((*at, name), what, "It belongs to [[uds.identity]].")
        if item.module:
            check.add((*at, "module"), "a snapshot value names a module", "Take it out: it holds for all.")
        if item.text:
            check.add((*at, "text"), "a text in a snapshot has no known length", "Only numbers can be read.")
        if item.hours:
            check.once((*at, "hours"), hours, "hours", "hours = true")
            if item.unit != "h":
                check.add((*at, "unit"), f'engine hours have the unit "{item.unit}"', 'Write unit = "h".')
        _coding(at, item, check)


def _told(at: tuple[str, ...], item: Item, check: _Check) -> None:
    """A counter is a plain number, and what is known are texts."""
    plain = not (item.text or item.band or item.unit or item.offset) and item.factor == 1.0
    if item.counter and not plain:
        what = f"counter of 0x{item.did:04X} is no plain number"
        check.add((*at, "counter"), what, "Give it bytes, and neither text, band, factor, offset nor unit.")
    if item.known and not item.text:
        check.add((*at, "known"), f"known of 0x{item.did:04X}, which is no text", "Write text = true.")


def _band(at: tuple[str, ...], item: Item, band: tuple[int, int], end: int, check: _Check) -> int:
    """Bands of engine speed follow one another; returns where this one ends."""
    low, high = band
    if not 0 <= low < high:
        check.add((*at, "band"), f"band {low} to {high} holds no speed", "Write [from, to] in rev/min.")
    elif end and low != end:
        side = "before" if low < end else "after"
        what = f"band {low} to {high} begins {side} {end}, where the last one ends"
        check.add((*at, "band"), what, "Bands follow one another without a gap.")
    if item.unit != "h":
        check.add((*at, "unit"), f'hours of a band have the unit "{item.unit}"', 'Write unit = "h".')
    return max(end, high)


def _coding(at: tuple[str, ...], item: Item, check: _Check) -> None:
    if item.text and item.bytes is not None:
        check.add((*at, "bytes"), f"0x{item.did:04X} is both text and number", "Keep text or bytes.")
    if not item.text and item.bytes is None:
        check.add(at, f"0x{item.did:04X} has no bytes", "Add bytes = …, or text = true.")


def _words(faults: list[tuple[str, FaultText]], check: _Check) -> dict[str, dict[int, str]]:
    words: dict[str, dict[int, str]] = {key: {} for key in check.known}
    seen: set[Hashable] = set()
    for number, entry in faults:
        at = ("faults", number)
        check.module(at, entry.module)
        check.once((*at, "code"), seen, (entry.module, entry.code), f"{entry.code} of {entry.module}")
        try:
            code = code_number(entry.code)
        except ValueError as error:
            check.add((*at, "code"), str(error), "Write it by SAE J2012, in capitals.")
            continue
        words.setdefault(entry.module, {})[code] = entry.text
    return words


def _outputs(
    outputs: list[tuple[str, OutputEntry]], modules: dict[str, Module], padding: int, check: _Check
) -> tuple[OutputPlan, ...]:
    by_key = {module.key: module for module in modules.values()}
    keys: set[Hashable] = set()
    dids: set[Hashable] = set()
    plans = []
    for number, entry in outputs:
        at = ("outputs", number)
        check.once((*at, "key"), keys, entry.key, f"output {entry.key}")
        check.once((*at, "did"), dids, (entry.module, entry.did), f"0x{entry.did:04X} of {entry.module}")
        check.module(at, entry.module)
        module = by_key.get(entry.module)
        if module is None:
            continue
        try:
            data = OutputData(**msgspec.structs.asdict(entry))
            plans.append(plan(data, module.request, module.response, padding))
        except OutputError as error:
            check.add((*at, _key_in(str(error))), str(error), error.mend)
    return tuple(plans)


def _key_in(words: str) -> str:
    """The key a sentence begins with, so that its line can be told."""
    return words.split(" ", 1)[0]
