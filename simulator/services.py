"""The services of ISO 14229-1 that the simulated controllers know, as one table."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

from simulator.codes import code_bytes
from simulator.negative import (
    CONDITIONS_NOT_CORRECT,
    OUT_OF_RANGE,
    SUBFUNCTION_NOT_IN_SESSION,
    WRONG_LENGTH,
    Refused,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from simulator.trouble import Stored
    from simulator.uds import Controller

SUPPRESS = 0x80
"""Bit of the sub-function: no positive answer wanted."""
TIMES = bytes.fromhex("003201F4")
"""P2 of 50 ms (1 ms a bit) and P2* of 5000 ms (10 ms a bit)."""
PROGRAMMING = 0x02
AVAILABLE = 0xFF
"""Status bits that are kept: all."""
ALL = 0xFF
RETURN_CONTROL, SHORT_TERM_ADJUSTMENT = 0x00, 0x03
EVERY_CODE = b"\xff\xff\xff"


@dataclasses.dataclass(frozen=True)
class Service:
    """One service.

    Attributes:
        run: does it and gives the positive answer; raises Refused.
        shortest: bytes a request has at least.
        subfunctions: number to length of the whole request; empty where the service has none.
        extended_only: it is not served in the default session.
    """

    run: Callable[[Controller, bytes, float], bytes]
    shortest: int
    subfunctions: Mapping[int, int] = dataclasses.field(default_factory=dict)
    extended_only: bool = False


def _session(controller: Controller, pdu: bytes, _now: float) -> bytes:
    session = pdu[1]
    if session == PROGRAMMING:
        raise Refused(SUBFUNCTION_NOT_IN_SESSION if controller.session == 1 else CONDITIONS_NOT_CORRECT)
    controller.enter_session(session, "the default session was asked for")
    return bytes([0x50, session]) + TIMES


def _tester_present(_controller: Controller, _pdu: bytes, _now: float) -> bytes:
    return b"\x7e\x00"


def _clear(controller: Controller, pdu: bytes, _now: float) -> bytes:
    if len(pdu) != 4:
        raise Refused(WRONG_LENGTH)
    if pdu[1:] != EVERY_CODE:
        raise Refused(OUT_OF_RANGE)
    if not controller.may_clear():
        raise Refused(CONDITIONS_NOT_CORRECT)
    controller.memory.clear()
    return b"\x54"


def _codes(controller: Controller, pdu: bytes, now: float) -> bytes:
    return {0x02: _by_mask, 0x04: _snapshot, 0x06: _extended, 0x0A: _supported}[pdu[1]](controller, pdu, now)


def _with_status(controller: Controller, codes: list[str]) -> bytes:
    memory = controller.memory
    return b"".join(code_bytes(code) + bytes([memory.status(code)]) for code in codes)


def _by_mask(controller: Controller, pdu: bytes, _now: float) -> bytes:
    codes = controller.memory.listed(pdu[2] & AVAILABLE)
    return bytes([0x59, 0x02, AVAILABLE]) + _with_status(controller, codes)


def _supported(controller: Controller, _pdu: bytes, _now: float) -> bytes:
    return bytes([0x59, 0x0A, AVAILABLE]) + _with_status(controller, controller.memory.supported)


def _one_code(controller: Controller, pdu: bytes) -> tuple[bytes, Stored | None]:
    """The beginning of the answer on one code, and what is stored of it.

    Raises:
        Refused: this controller has no such code.
    """
    memory = controller.memory
    code = next((code for code in memory.supported if code_bytes(code) == pdu[2:5]), None)
    if code is None:
        raise Refused(OUT_OF_RANGE)
    return bytes([0x59, pdu[1]]) + pdu[2:5] + bytes([memory.status(code)]), memory.stored.get(code)


def _snapshot(controller: Controller, pdu: bytes, _now: float) -> bytes:
    head, stored = _one_code(controller, pdu)
    if pdu[5] not in {0x01, ALL}:
        raise Refused(OUT_OF_RANGE)
    return head + (b"\x01" + stored.snapshot if stored is not None and stored.snapshot else b"")


def _extended(controller: Controller, pdu: bytes, _now: float) -> bytes:
    head, stored = _one_code(controller, pdu)
    count, age = controller.module.records
    records = {} if stored is None or not stored.count else {count: stored.count, age: stored.age}
    if pdu[5] not in {count, age, ALL}:
        raise Refused(OUT_OF_RANGE)
    wanted = [number for number in records if pdu[5] in {number, ALL}]
    return head + b"".join(bytes([number, records[number]]) for number in wanted)


def _read(controller: Controller, pdu: bytes, _now: float) -> bytes:
    if len(pdu) != 3:
        raise Refused(WRONG_LENGTH)
    held = _held(controller, pdu)
    if held is not None:
        return b"\x62" + pdu[1:3] + bytes([held])
    value = controller.module.identity.get(_did(pdu))
    if value is None:
        raise Refused(OUT_OF_RANGE)
    return b"\x62" + pdu[1:3] + value()


def _did(pdu: bytes) -> int:
    return int.from_bytes(pdu[1:3], "big")


def _held(controller: Controller, pdu: bytes) -> int | None:
    outputs = controller.outputs
    return None if outputs is None else outputs.held(_did(pdu), controller.module.key)


def is_status(controller: Controller, pdu: bytes) -> bool:
    """Whether a request asks if an inhibit holds."""
    return pdu[:1] == b"\x22" and len(pdu) == 3 and _held(controller, pdu) is not None


def is_release(pdu: bytes) -> bool:
    """Whether a request gives an output back."""
    return pdu[:1] == b"\x2f" and len(pdu) > 3 and pdu[3] == RETURN_CONTROL


def _control(controller: Controller, pdu: bytes, now: float) -> bytes:
    outputs = controller.outputs
    did = _did(pdu)
    if outputs is None or outputs.owned(did, controller.module.key) is None:
        raise Refused(OUT_OF_RANGE)
    if pdu[3] == RETURN_CONTROL:
        if len(pdu) != 4:
            raise Refused(WRONG_LENGTH)
        outputs.release(did)
    elif pdu[3] == SHORT_TERM_ADJUSTMENT:
        outputs.start(did, pdu[4:], now)
    else:
        raise Refused(OUT_OF_RANGE)
    return b"\x6f" + pdu[1:]


SERVICES: Mapping[int, Service] = {
    0x10: Service(_session, 2, {0x01: 2, PROGRAMMING: 2, 0x03: 2}),
    0x14: Service(_clear, 2),
    0x19: Service(_codes, 2, {0x02: 3, 0x04: 6, 0x06: 6, 0x0A: 2}),
    0x22: Service(_read, 3),
    0x2F: Service(_control, 4, extended_only=True),
    0x3E: Service(_tester_present, 2, {0x00: 2}),
}
"""Reset (11) is not among them: these controllers are reset by the key."""
