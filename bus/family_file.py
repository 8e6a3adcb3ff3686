"""Reads family.toml and checks its form, key by key, so that one wrong key hides no other."""

from __future__ import annotations

import functools
import re
import tomllib
from collections import Counter
from typing import TYPE_CHECKING, Any, TypeVar

import msgspec

from app.errors import FamilyError
from bus.family_form import About, Bus, Decode, Engine, FamilyFile, Groups, Recognise, Ride, Shown

if TYPE_CHECKING:
    from pathlib import Path


class Findings:
    """Everything wrong with one family.toml, each on its line."""

    def __init__(self, path: Path, text: str) -> None:
        self.file = str(path)
        self.errors: list[FamilyError] = []
        self._lines = text.split("\n")
        self._places = _places(self._lines)

    def add(self, at: tuple[str, ...], what: str, mend: str, item: str = "") -> None:
        """Note a finding.

        Args:
            at: section and key; the nearest that stands in the file gives the line.
            what: what was seen.
            mend: what to do about it.
            item: the member of a list that is meant, on whichever line of the list it stands.
        """
        while at and at not in self._places:
            at = at[:-1]
        line = self._places.get(at)
        if line is not None and item:
            rest = enumerate(self._lines[line - 1 :], line)
            line = next((number for number, text in rest if f'"{item}"' in text), line)
        self.errors.append(FamilyError(self.file, line, what, mend))


_HEADER = re.compile(r"\s*(\[\[?)\s*([^\]]+?)\s*\]")
_KEY = re.compile(r"""\s*([A-Za-z0-9_."'-]+)\s*=""")


def _places(lines: list[str]) -> dict[tuple[str, ...], int]:
    """On which line each section and key stands; tomllib does not say.

    The sections of a list, written [[like.this]], are counted: like.this.0, like.this.1 …
    """
    places: dict[tuple[str, ...], int] = {}
    counts: Counter[tuple[str, ...]] = Counter()
    at: tuple[str, ...] = ()
    for number, line in enumerate(lines, 1):
        if found := _HEADER.match(line):
            at = _path(found[2])
            places.setdefault(at, number)
            if found[1] == "[[":
                counts[at] += 1
                at = (*at, str(counts[at] - 1))
                places[at] = number
        elif found := _KEY.match(line):
            places.setdefault(at + _path(found[1]), number)
    return places


def _path(dotted: str) -> tuple[str, ...]:
    return tuple(part.strip(" \t\"'") for part in dotted.split("."))


Section = TypeVar("Section", bound=msgspec.Struct)
_SECTIONS: dict[str, type[msgspec.Struct]] = {
    "bus": Bus,
    "engine": Engine,
    "decode": Decode,
    "recognise": Recognise,
    "ride": Ride,
    "groups": Groups,
}
_OTHERS = ("roles", "signals", "uds", "j1939")


def read_family_file(path: Path) -> tuple[FamilyFile | None, Findings]:
    """Read a family.toml and check its form.

    Returns:
        What could be understood of it (None where a section that it needs could not), and what is wrong.
    """
    try:
        text = path.read_text("utf-8")
        data = tomllib.loads(text)
    except OSError as error:
        findings = Findings(path, "")
        what = f"the family cannot be read: {error.strerror or error}"
        findings.add((), what, "Put the file family.toml there.")
        return None, findings
    except UnicodeDecodeError as error:
        findings = Findings(path, "")
        findings.add((), f"this is not UTF-8 text (byte {error.start})", "Save the file as UTF-8.")
        return None, findings
    except tomllib.TOMLDecodeError as error:
        return None, _not_toml(path, text, str(error))
    return _form(data, Findings(path, text))


def _not_toml(path: Path, text: str, words: str) -> Findings:
    findings = Findings(path, text)
    found = re.search(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)", words)
    line = int(found[1]) if found and found[1] else text.count("\n") + 1
    what = f"this is not sound TOML: {words[: found.start()] if found else words}"
    findings.errors.append(FamilyError(str(path), line, what, "Mend the line, or the one before it."))
    return findings


def _form(data: dict[str, Any], findings: Findings) -> tuple[FamilyFile | None, Findings]:
    head = {key: value for key, value in data.items() if not isinstance(value, dict)}
    for name, value in data.items():
        if isinstance(value, dict) and name not in _SECTIONS and name not in _OTHERS:
            known = ", ".join([*_SECTIONS, *_OTHERS])
            findings.add((name,), f"there is no section [{name}]", f"Known sections: {known}.")
    about = section(About, head, (), findings)
    parts = {
        name: section(kind, _table(data, name, findings), (name,), findings)
        for name, kind in _SECTIONS.items()
    }
    roles: dict[str, str] = {}
    for role, signal in _table(data, "roles", findings).items():
        if isinstance(signal, str):
            roles[role] = signal
        else:
            findings.add(("roles", role), f"role {role} is {_seen(signal)}", "Name a signal, in quotes.")
    signals: dict[str, Shown] = {}
    for name in (table := _table(data, "signals", findings)):
        shown = section(Shown, _table(table, name, findings, ("signals",)), ("signals", name), findings)
        signals[name] = shown or Shown()
    if about is None or None in parts.values():
        return None, findings
    whole: dict[str, Any] = {"about": about, "roles": roles, "signals": signals, **parts}
    for name in ("uds", "j1939"):
        value = data.get(name)
        whole[name] = value if isinstance(value, dict) else None
    return FamilyFile(**whole), findings


def _table(
    data: dict[str, Any], name: str, findings: Findings, above: tuple[str, ...] = ()
) -> dict[str, Any]:
    value = data.get(name, {})
    if isinstance(value, dict):
        return value
    if above:
        findings.add((*above, name), f"{name} is {_seen(value)}", f"Write [{'.'.join(above)}.{name}].")
    return {}


def section(
    kind: type[Section], data: dict[str, Any], at: tuple[str, ...], findings: Findings
) -> Section | None:
    """Check a section key by key.

    Args:
        kind: its form.
        data: as TOML gave it.
        at: its name; of a list of sections with the number of this one, from 0.
        findings: takes what is wrong.

    Returns:
        The section, None where it has no sound value for a key it needs.
    """
    name = f"[{'.'.join(at[:-1])}]" if at and at[-1].isdecimal() else ".".join(at)
    where = f" in [{name}]" if at else ""
    fields = _fields(kind)
    sound: dict[str, Any] = {}
    for key, value in data.items():
        field = fields.get(key)
        if field is None:
            mend = f"Known keys: {', '.join(fields)}."
            findings.add((*at, key), f"there is no key {key}{where}", mend)
            continue
        try:
            sound[key] = msgspec.convert(value, field.type)
        except msgspec.ValidationError:
            words = field.type.__metadata__[-1].description
            findings.add((*at, key), f"{key}{where} is {_seen(value)}", f"It must be {words}.")
    missing = [name for name, field in fields.items() if field.required and name not in data]
    for name in missing:
        words = fields[name].type.__metadata__[-1].description
        findings.add(at, f"{name} is missing{where}", f"Add {name} = … ({words}).")
    if any(field.required and name not in sound for name, field in fields.items()):
        return None
    return kind(**sound)


@functools.cache
def _fields(kind: type[msgspec.Struct]) -> dict[str, Any]:
    """The keys of a section; worked out once for all signals."""
    return {field.name: field for field in msgspec.structs.fields(kind)}


def _seen(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'"{value}"'
    return "a section" if isinstance(value, dict) else str(value)
