"""What exactly is sent for each output: the plans a family's data are turned into when it is loaded."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

from app.interlock import RULES, Kind

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

PULSED = frozenset({Kind.INJECTOR, Kind.COIL})
"""Fuel and spark: a request must carry count and width, so that it is finite in the controller itself."""

PARAMETERS: Mapping[str, Callable[[OutputData], int]] = {
    "count": lambda data: data.count,
    "width_100us": lambda data: round(data.width_ms * 10),
    "burst_100ms": lambda data: round(data.burst_s * 10),
}
"""One byte each, in the order the family names them."""


class OutputError(ValueError):
    """An output's data break a floor or ceiling. ``str()`` is what was seen; ``mend`` what to do."""

    def __init__(self, what: str, mend: str) -> None:
        super().__init__(what)
        self.mend = mend


@dataclasses.dataclass(frozen=True)
class OutputData:
    """An output as the family's data give it.

    Attributes:
        key, label, kind: see app.output_messages.OutputInfo.
        module: key of the controller that owns it.
        did: ISO 14229-1 data identifier of inputOutputControlByIdentifier.
        parameters: names from PARAMETERS in the order of their bytes.
        count, width_ms, period_ms: of pulses; 0 where not pulsed.
        burst_s: seconds one request keeps it on; 0 where pulsed.
        longest_s: of one press; 0 = the ceiling.
        cylinder: 1 to n for an injector or coil, 0 otherwise.
        flow_cm3_min: static flow of an injector.
        after: what moves after release.
    """

    key: str
    label: str
    kind: Kind
    module: str
    did: int
    parameters: tuple[str, ...]
    count: int = 0
    width_ms: float = 0.0
    period_ms: float = 0.0
    burst_s: float = 0.0
    longest_s: float = 0.0
    cylinder: int = 0
    flow_cm3_min: float = 0.0
    after: str = ""


@dataclasses.dataclass(frozen=True)
class OutputPlan:
    """An output ready to be fired: exact bytes and times.

    Attributes:
        data: what it was made from.
        request, response: identifiers of its controller.
        padding: filler byte of a short frame.
        start, release: the two requests, as ISO 14229-1 bytes.
        longest_s: live time of one press at most.
        fuel_cm3: fuel one start puts into the cylinder at most.
    """

    data: OutputData
    request: int
    response: int
    padding: int
    start: bytes
    release: bytes
    longest_s: float
    fuel_cm3: float


SHORT_TERM_ADJUSTMENT = 0x03
RETURN_CONTROL = 0x00
"""inputOutputControlParameter values of ISO 14229-1."""


def plan(data: OutputData, request: int, response: int, padding: int) -> OutputPlan:
    """Check an output's data against the floors and ceilings in code and build its requests.

    Raises:
        OutputError: a looser limit than the ceiling, or a request that is not finite in the controller.
    """
    rule = RULES[data.kind]
    if data.kind in PULSED:
        _check_pulses(data)
        longest = data.count * data.period_ms / 1000
    else:
        if not 0 < data.burst_s <= rule.burst_s:
            raise OutputError(
                f"burst_s = {data.burst_s} of {data.key} is not above 0 and at most {rule.burst_s}",
                f"Give a burst of at most {rule.burst_s} s; the finger renews it.",
            )
        if "burst_100ms" not in data.parameters:
            raise OutputError(
                f"{data.key} has no burst among its parameters", "Name burst_100ms in parameters."
            )
        longest = data.longest_s or rule.longest_s
    if longest > rule.longest_s:
        raise OutputError(
            f"{data.key} would be live for {longest} s",
            f"At most {rule.longest_s} s is allowed for its kind.",
        )
    did = data.did.to_bytes(2, "big")
    values = bytes(PARAMETERS[name](data) for name in data.parameters)
    fuel = data.count * data.width_ms / 60_000 * data.flow_cm3_min if data.kind is Kind.INJECTOR else 0.0
    return OutputPlan(
        data=data,
        request=request,
        response=response,
        padding=padding,
        start=b"\x2f" + did + bytes([SHORT_TERM_ADJUSTMENT]) + values,
        release=b"\x2f" + did + bytes([RETURN_CONTROL]),
        longest_s=longest,
        fuel_cm3=fuel,
    )


def _check_pulses(data: OutputData) -> None:
    rule = RULES[data.kind]
    if not {"count", "width_100us"} <= set(data.parameters):
        raise OutputError(
            f"{data.key} cannot carry count and width in its request",
            "An injector or coil must be finite in the controller itself; without both it is not offered.",
        )
    if not 0 < data.count <= rule.pulses:
        raise OutputError(f"count = {data.count} of {data.key}", f"Between 1 and {rule.pulses} is allowed.")
    if not 0 < data.width_ms <= rule.width_ms:
        raise OutputError(
            f"width_ms = {data.width_ms} of {data.key}", f"Above 0 and at most {rule.width_ms} is allowed."
        )
    if data.period_ms < 2 * data.width_ms:
        raise OutputError(
            f"period_ms = {data.period_ms} of {data.key}", "It must be at least twice the pulse width."
        )
    if data.cylinder < 1:
        raise OutputError(f"{data.key} names no cylinder", "Say which with cylinder = 1 or more.")
    if data.kind is Kind.INJECTOR and data.flow_cm3_min <= 0:
        raise OutputError(
            f"{data.key} gives no static flow", "Give flow_cm3_min, so that its fuel can be counted."
        )


def single_frame(pdu: bytes, padding: int) -> bytes:
    """The ISO 15765-2 single frame of a request of at most 7 bytes, filled to 8."""
    assert 0 < len(pdu) <= 7
    return bytes([len(pdu)]) + pdu + bytes([padding]) * (7 - len(pdu))


def unwrap_single(data: bytes) -> bytes | None:
    """The payload of a single frame; None for any other frame."""
    if data and 0 < data[0] <= 7 and len(data) > data[0]:
        return data[1 : 1 + data[0]]
    return None
