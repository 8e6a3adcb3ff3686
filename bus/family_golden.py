"""golden.toml of a family: frames and requests worked out by hand, held against what its data make of them.

The file is optional, and ``boathook families check`` alone reads it: it is how a shop proves its own family.
"""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING, Annotated, NamedTuple, TypeVar

import msgspec
from msgspec import Meta

from bus.family_file import Findings, section
from bus.family_form import Text
from bus.frame import EXTENDED, Frame

if TYPE_CHECKING:
    from pathlib import Path

    from app.errors import FamilyError
    from bus.family import Family
    from bus.outputs import OutputPlan

FILE = "golden.toml"
Entry = TypeVar("Entry", bound=msgspec.Struct)
_Bytes = Annotated[str, Meta(pattern="^([0-9A-Fa-f]{2} ?)*$", description="bytes in hexadecimal")]
_Ident = Annotated[int, Meta(ge=0, le=0x1FFF_FFFF, description="an identifier of 11 or 29 bits")]
_Value = Annotated[float | str, Meta(description="a number or a text in quotes")]


class GoldenFrame(msgspec.Struct, frozen=True):
    """[[frame]]: what one signal is in one frame.

    Attributes:
        signal: its name.
        ident, data: the frame.
        value: in the unit of the DBC, or its text.
        raw, how: for a person: the raw number, and how it was worked out.
    """

    signal: Text
    ident: _Ident
    data: _Bytes
    value: _Value
    raw: Annotated[int, Meta(description="a whole number")] = 0
    how: Annotated[str, Meta(description="a text in quotes")] = ""


class GoldenRequest(msgspec.Struct, frozen=True):
    """[[request]]: the bytes of an output's requests (ISO 14229-1), without length and filler.

    Attributes:
        output: its key.
        start, release: the two requests.
        status: of an inhibit, the one that reads it back.
    """

    output: Text
    start: _Bytes
    release: _Bytes
    status: _Bytes = ""


class Golden(NamedTuple):
    """How many were held against the family's data, and what did not agree."""

    frames: int
    requests: int
    errors: list[FamilyError]


def check_golden(family: Family) -> Golden | None:
    """Hold the file against a sound family; None if there is no such file."""
    path = family.folder / FILE
    if not path.is_file():
        return None
    findings, data = _read(path)
    frames = _entries("frame", GoldenFrame, data, findings)
    requests = _entries("request", GoldenRequest, data, findings)
    for at, frame in frames:
        _frame(at, frame, family, findings)
    plans = {plan.data.key: plan for plan in (family.uds.outputs if family.uds is not None else ())}
    for at, request in requests:
        _request(at, request, plans, findings)
    errors = sorted(findings.errors, key=lambda error: error.line or 0)
    return Golden(len(frames), len(requests), errors)


def _read(path: Path) -> tuple[Findings, dict[str, object]]:
    try:
        text = path.read_text("utf-8")
        return Findings(path, text), tomllib.loads(text)
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        findings = Findings(path, "")
        findings.add((), f"this is not sound TOML: {error}", "Mend the file, or take it out.")
        return findings, {}


def _entries(
    name: str, kind: type[Entry], data: dict[str, object], findings: Findings
) -> list[tuple[tuple[str, ...], Entry]]:
    values = data.get(name, [])
    if not isinstance(values, list) or not all(isinstance(value, dict) for value in values):
        findings.add((name,), f"{name} is no list of sections", f"Write [[{name}]] before each.")
        return []
    found = [(at, section(kind, value, at, findings)) for at, value in _places(name, values)]
    return [(at, entry) for at, entry in found if entry is not None]


def _places(name: str, values: list[dict[str, object]]) -> list[tuple[tuple[str, ...], dict[str, object]]]:
    return [((name, str(number)), value) for number, value in enumerate(values)]


def _frame(at: tuple[str, ...], frame: GoldenFrame, family: Family, findings: Findings) -> None:
    mark = EXTENDED if family.identifiers == "pgn" else 0
    heard = Frame(0.0, mark | frame.ident, bytes.fromhex(frame.data))
    readings = {reading.signal: reading for reading in family.decoder().feed(heard)}
    reading = readings.get(frame.signal)
    if reading is None:
        what = f"{frame.signal} is not in this frame"
        findings.add((*at, "signal"), what, "Look at identifier, length and page, here and in signals.dbc.")
    elif reading.value != frame.value:
        said = reading.quality if reading.value is None else reading.value
        what = f"{frame.signal} is {said} by signals.dbc, and {frame.value} by hand"
        findings.add((*at, "value"), what, "One of the two is wrong: work it out once more.")


def _request(
    at: tuple[str, ...], request: GoldenRequest, plans: dict[str, OutputPlan], findings: Findings
) -> None:
    plan = plans.get(request.output)
    if plan is None:
        known = ", ".join(plans) or "none"
        findings.add((*at, "output"), f"there is no output {request.output}", f"Outputs: {known}.")
        return
    for name in ("start", "release", "status"):
        made, by_hand = getattr(plan, name), bytes.fromhex(getattr(request, name))
        if made != by_hand:
            what = f"{name} of {request.output} is {words(made)} by family.toml, {words(by_hand)} by hand"
            findings.add((*at, name), what, "One of the two is wrong: nothing is fired until they agree.")


def words(pdu: bytes) -> str:
    """Bytes as they are written by hand; a request that there is not."""
    return pdu.hex(" ").upper() or "none"
