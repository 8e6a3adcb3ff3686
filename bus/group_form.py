"""[j1939] of family.toml: a controller that tells its faults by SAE J1939, and by what they are cleared."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import msgspec
from msgspec import Meta

from bus.family_check import SPEED_PERIOD_S
from bus.family_file import section
from bus.family_form import Flag, Text
from bus.roles import ROLES, SPEEDS

if TYPE_CHECKING:
    from collections.abc import Iterable

    from bus.dbc import MessageLayout
    from bus.family_file import Findings
    from bus.family_form import FamilyFile

WRITES = {**dict.fromkeys(SPEEDS, SPEED_PERIOD_S), "battery": 0.5, "serial": 5.0}
"""Roles without which nothing is let out that clears (app.interlock.WRITING), and the longest period in s at
which each is still known between two frames: a speed counts for 0.25 s, another fact for 1 s, a serial until
the craft is lost (bus.heard)."""


class GroupData(msgspec.Struct, frozen=True):
    """[j1939].

    Attributes:
        label: name of the controller for a person.
        address: its address on the bus.
        clears: its faults can be cleared, by DM11 and DM3; False = they are only read.
    """

    label: Text
    address: Annotated[int, Meta(ge=0, le=247, description="an address, 0 to 247")] = 0
    clears: Flag = False

    @property
    def key(self) -> str:
        """Of the controller, for the tool."""
        return "engine"


def read_groups(
    data: dict[str, Any], family: FamilyFile, messages: Iterable[MessageLayout], findings: Findings
) -> GroupData | None:
    """Check the section against its form, the rest of the family and its DBC file; None if it is unsound."""
    groups = section(GroupData, data, ("j1939",), findings)
    if groups is None:
        return None
    if family.bus.identifiers != "pgn":
        what = 'there is [j1939], and [bus] identifiers is not "pgn"'
        findings.add(("j1939",), what, "Only the bus of SAE J1939 has parameter groups.")
    if family.uds is not None:
        findings.add(("j1939",), "there are both [uds] and [j1939]", "Faults come from one of them.")
    cycles = {signal.name: message.cycle for message in messages for signal in message.signals}
    for role, longest_s in WRITES.items() if groups.clears else ():
        cycle = cycles.get(family.roles.get(role, ""))
        if role not in family.roles:
            what = f"faults can be cleared, and there is no role {role} ({ROLES[role].what})"
            findings.add(("j1939", "clears"), what, "Name its signal in [roles], or write clears = false.")
        elif cycle is not None and cycle > longest_s:
            what = f"faults can be cleared, and {role} comes every {cycle * 1000:.0f} ms"
            mend = f"It must come every {longest_s * 1000:.0f} ms or more often; or write clears = false."
            findings.add(("j1939", "clears"), what, mend)
    return groups
