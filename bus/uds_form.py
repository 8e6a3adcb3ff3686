"""The form of [uds] in family.toml: which sections and keys there are, and what each must be.

bus/family_uds.py checks a file against these classes, and what the keys have to do with each other.
"""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Annotated, Literal

import msgspec
from msgspec import Meta

from app.interlock import Kind
from bus.family_form import Flag, Text, Texts

if TYPE_CHECKING:
    from bus.outputs import OutputPlan

Key = Annotated[str, Meta(pattern="^[a-z][a-z0-9_]*$", description="a text of small letters, digits and _")]
Identifier = Annotated[int, Meta(ge=1, le=0x1FFF_FFFF, description="an identifier of 11 or of 29 bits")]
Did = Annotated[int, Meta(ge=0, le=0xFFFF, description="a data identifier, 0x0000 to 0xFFFF")]
Width = Annotated[
    Annotated[int, Meta(ge=1, le=8)] | None, Meta(description="a whole number of bytes from 1 to 8")
]
Decimals = Annotated[int, Meta(ge=0, le=6, description="a whole number from 0 to 6")]
Plain = Annotated[float, Meta(description="a number")]
Whole = Annotated[int, Meta(ge=0, description="a whole number from 0")]
Unit = Annotated[str, Meta(description="a text in quotes")]
Band = Annotated[tuple[int, int] | None, Meta(description="two whole numbers of rev/min: [from, to]")]
Record = Annotated[
    Annotated[int, Meta(ge=1, le=0xEF)] | None, Meta(description="a record number from 1 to 239")
]


class Head(msgspec.Struct, frozen=True):
    """[uds] itself.

    Attributes:
        identifiers: of requests and answers; broadcast messages may have others, see bus.family_form.Bus.
        padding: filler byte of short frames.
    """

    identifiers: Annotated[Literal["11-bit", "29-bit"], Meta(description='"11-bit" or "29-bit"')] = "11-bit"
    padding: Annotated[int, Meta(ge=0, le=255, description="a byte, 0 to 255")] = 0


class Module(msgspec.Struct, frozen=True):
    """[[uds.modules]]: a controller that can be asked.

    Attributes:
        key, label: its name for the tool and for a person.
        request, response: identifiers it hears and answers with. In the file as they are; of a checked family
            with bit 31 set (bus.frame.EXTENDED) where they have 29 bits.
    """

    key: Key
    label: Text
    request: Identifier
    response: Identifier


class Item(msgspec.Struct, frozen=True, kw_only=True):
    """A value behind a data identifier: ASCII text, or a big-endian number.

    Attributes:
        module: of which it is asked; empty for a value inside a snapshot.
        did: the data identifier.
        label: words for the glass.
        text: ASCII; otherwise the rest says how the number is coded: value = raw * factor + offset.
        decimals: digits after the point.
        full_range: the largest raw number (all ones; of a signed one 7F…F) is a value like any other;
            otherwise it means that the controller does not know.
        hours: this is the engine hours of a snapshot; faults of one moment share it.
        band: these are the hours that the engine ran in this band of speeds, from and to in rev/min.
        counter: it counts how often something happened; it never goes back.
        known: the texts that this family's data are made for, of a calibration or software; another one means
            that the controller was modified or updated, and that the family's own limits may not fit it.
    """

    module: Text = ""
    did: Did
    label: Text
    text: Flag = False
    bytes: Width = None
    factor: Plain = 1.0
    offset: Plain = 0.0
    unit: Unit = ""
    decimals: Decimals = 0
    signed: Flag = False
    full_range: Flag = False
    hours: Flag = False
    band: Band = None
    counter: Flag = False
    known: Texts = ()


class FaultText(msgspec.Struct, frozen=True):
    """[[uds.faults]]: a fault code the module may hold, with the family's words for it."""

    module: Text
    code: Text
    text: Text


class Extended(msgspec.Struct, frozen=True):
    """[uds.extended]: which extended data record (one byte) tells what.

    Attributes:
        count: how often the fault set.
        age: warm-up cycles since it was last seen.
    """

    count: Record = None
    age: Record = None


class OutputEntry(msgspec.Struct, frozen=True):
    """[[uds.outputs]]: see bus.outputs.OutputData."""

    key: Key
    label: Text
    kind: Annotated[Kind, Meta(description=f"one of {', '.join(Kind)}")]
    module: Text
    did: Did
    parameters: Texts = ()
    count: Whole = 0
    width_ms: Plain = 0.0
    period_ms: Plain = 0.0
    burst_s: Plain = 0.0
    longest_s: Plain = 0.0
    cylinder: Whole = 0
    flow_cm3_min: Plain = 0.0
    after: Unit = ""
    status_did: Did | None = None
    status_held: Annotated[int, Meta(ge=1, le=255, description="a byte, 1 to 255")] = 1


@dataclasses.dataclass(frozen=True)
class Uds:
    """The diagnostic part of a sound family.

    Attributes:
        padding: filler byte of short frames.
        modules: controllers, in the order they are read.
        identity: what is asked of them.
        words: per module, number of a fault code to the family's words.
        snapshot: data identifiers inside snapshot records.
        extended: see Extended.
        outputs: what can be fired, with exact bytes.
    """

    padding: int
    modules: tuple[Module, ...]
    identity: tuple[Item, ...]
    words: dict[str, dict[int, str]]
    snapshot: dict[int, Item]
    extended: Extended
    outputs: tuple[OutputPlan, ...]
