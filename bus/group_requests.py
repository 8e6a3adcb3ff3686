"""The exact requests that a family of SAE J1939 makes possible: asking for DM2, clearing by DM11 and DM3.

A request names a parameter group in three bytes, low byte first (group 59904); the answer to one that was put
to a single controller is an acknowledgement (59392). Source of both: shared/reference/standards.md 5.4;
addresses, name and times are from memory of SAE J1939-21 and J1939-81, each marked.
"""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

from bus.dm import DM2
from bus.exchange import AllowedRequest, Class
from bus.frame import EXTENDED
from bus.requests import who

if TYPE_CHECKING:
    from bus.group_form import GroupData

TOOL, OTHER_TOOL = 0xF9, 0xFA
"""Addresses of two service tools that are not part of the craft (J1939-81, from memory)."""
EVERYBODY = 0xFF

REQUEST, ACKNOWLEDGE, CLAIM = 59_904, 59_392, 60_928
"""Parameter groups; the low byte of each is the address it goes to."""
CONTROL, DATA = 60_416, 60_160
"""Of the transport of longer messages: a tool that has one sent to it answers in these."""

CLEARS = {"DM11": 65_235, "DM3": 65_228}
"""Groups that are asked for to clear: what is active, then what was active before; for that is where a
controller may keep what was active until now."""

NAME = bytes.fromhex("FF FF 1F 00 00 81 00 00")
"""What the tool says when it takes its address (J1939-81, from memory; bits from low to high): number 1FFFFF,
maker 0 (no maker), instances 0, function 129 (service tool), no vehicle system, industry group 0, and that it
takes no other address if another one has this."""

_PRIORITY = 6 << 26


@dataclasses.dataclass(frozen=True)
class GroupRequest(AllowedRequest):
    """A request for a parameter group, its address claim before it.

    ``padding`` says nothing here: the frame has three bytes.
    """

    def frames(self) -> list[tuple[int, bytes]]:
        """See AllowedRequest. The claim first: no address is used that was not claimed."""
        return [(_ident(CLAIM, EVERYBODY), NAME), (self.request, self.pdu)]

    def flow_control(self) -> None:
        """See AllowedRequest: nothing of what is asked for here is longer than one frame to us alone."""

    def answered_by(self, ident: int) -> bool:
        """See AllowedRequest: an acknowledgement of who was asked, to us or to everybody, at any priority."""
        group, to = ident >> 8 & 0x3FF00, ident >> 8 & 0xFF
        asked = self.request >> 8 & 0xFF
        return (
            bool(ident & EXTENDED)
            and group == ACKNOWLEDGE
            and to in (TOOL, EVERYBODY)
            and asked == ident & 0xFF
        )


def before_request(data: GroupData) -> GroupRequest:
    """DM2, of everybody: what is longer than one frame then comes as a broadcast, which asks nothing back."""
    return _request(DM2, EVERYBODY, Class.READING, f"Asking for the earlier faults (DM2) of {who(data)}")


def clear_requests(data: GroupData) -> dict[str, GroupRequest]:
    """Everything by which this controller's faults are cleared, in order, by its name."""
    return {
        name: _request(group, data.address, Class.WRITING, f"Clearing the faults ({name}) of {who(data)}")
        for name, group in CLEARS.items()
        if data.clears
    }


def group_requests(data: GroupData | None, *, writing: bool = True) -> frozenset[AllowedRequest]:
    """Everything that may be asked; see bus.requests.requests_of."""
    if data is None:
        return frozenset()
    return frozenset([before_request(data), *(clear_requests(data).values() if writing else [])])


def tools(data: GroupData | None) -> frozenset[int]:
    """Identifiers that only another tool sends: requests, claims and transport from a tool's address."""
    if data is None:
        return frozenset()
    return frozenset(
        EXTENDED | priority << 26 | group << 8 | to << 8 | source
        for priority in range(8)
        for group in (REQUEST, CLAIM, CONTROL, DATA)
        for to in (data.address, EVERYBODY)
        for source in (TOOL, OTHER_TOOL)
    )


def _request(group: int, to: int, kind: Class, what: str) -> GroupRequest:
    answer = EXTENDED | _PRIORITY | ACKNOWLEDGE << 8 | EVERYBODY << 8 | to
    return GroupRequest(group.to_bytes(3, "little"), kind, _ident(REQUEST, to), answer, 0xFF, what)


def _ident(group: int, to: int) -> int:
    return EXTENDED | _PRIORITY | group << 8 | to << 8 | TOOL
