"""The exact requests a family makes possible: the whole list of what its controllers can ever be asked.

ISO 14229-1 bytes. What is not on the list does not pass the gate, whoever asks.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bus.exchange import AllowedRequest, Class

if TYPE_CHECKING:
    from bus.scan_job import Named
    from bus.uds_form import Module, Uds

READ_IDENTIFIER = 0x22
READ_FAULTS = 0x19
CLEAR = 0x14
ANSWERED = 0x40
"""Added to a service's number in its answer."""

BY_STATUS = bytes([READ_FAULTS, 0x02, 0xFF])
"""Every code with any bit of its status set."""

SNAPSHOT, EXTENDED = 0x04, 0x06
EVERY_RECORD = b"\xff"
CLEAR_ALL = bytes([CLEAR, 0xFF, 0xFF, 0xFF])


def identity_request(uds: Uds, module: Module, did: int) -> AllowedRequest:
    """22: one data identifier."""
    pdu = bytes([READ_IDENTIFIER]) + did.to_bytes(2, "big")
    return _request(uds, module, pdu, f"Reading {did:04X} of {who(module)}")


def faults_request(uds: Uds, module: Module) -> AllowedRequest:
    """19 02: every stored code with its status."""
    return _request(uds, module, BY_STATUS, f"Reading the faults of {who(module)}")


def snapshot_request(uds: Uds, module: Module, number: int) -> AllowedRequest:
    """19 04: what was kept of the moment when a code set."""
    return _request(
        uds, module, _about(SNAPSHOT, number), f"Reading the snapshot of {number:06X} of {who(module)}"
    )


def extended_request(uds: Uds, module: Module, number: int) -> AllowedRequest:
    """19 06: how often a code set, and how long ago."""
    return _request(
        uds, module, _about(EXTENDED, number), f"Reading the record of {number:06X} of {who(module)}"
    )


def clear_request(uds: Uds, module: Module) -> AllowedRequest:
    """14: every code of the module."""
    return _request(uds, module, CLEAR_ALL, f"Clearing the faults of {who(module)}", Class.WRITING)


def requests_of(uds: Uds | None, *, writing: bool = True) -> frozenset[AllowedRequest]:
    """Everything that may be asked of a family's controllers.

    Args:
        uds: of the family; None allows nothing.
        writing: False leaves out whatever changes something.
    """
    if uds is None:
        return frozenset()
    allowed = {identity_request(uds, module, did) for module in uds.modules for did in _dids(uds, module)}
    for module in uds.modules:
        allowed.add(faults_request(uds, module))
        for number in uds.words[module.key]:
            allowed.add(snapshot_request(uds, module, number))
            allowed.add(extended_request(uds, module, number))
        if writing:
            allowed.add(clear_request(uds, module))
    return frozenset(allowed)


def echo(pdu: bytes) -> bytes:
    """How the answer to a request begins; what begins otherwise answers something else."""
    answered = bytes([pdu[0] + ANSWERED])
    if pdu[0] == CLEAR:
        return answered
    if pdu[0] == READ_FAULTS and pdu[1] != BY_STATUS[1]:
        return answered + pdu[1:5]
    return answered + pdu[1 : 3 if pdu[0] == READ_IDENTIFIER else 2]


def _dids(uds: Uds, module: Module) -> list[int]:
    return [item.did for item in uds.identity if item.module == module.key]


def _about(part: int, number: int) -> bytes:
    return bytes([READ_FAULTS, part]) + number.to_bytes(3, "big") + EVERY_RECORD


def who(module: Named) -> str:
    """A controller inside a sentence."""
    return f"the {module.label[0].lower()}{module.label[1:]}"


def _request(uds: Uds, module: Module, pdu: bytes, what: str, kind: Class = Class.READING) -> AllowedRequest:
    return AllowedRequest(pdu, kind, module.request, module.response, uds.padding, what)
