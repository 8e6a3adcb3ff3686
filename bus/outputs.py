"""What exactly is sent for each output: the plans a family's data are turned into when it is loaded."""

from __future__ import annotations

import dataclasses
import math
from typing import TYPE_CHECKING

from app.interlock import FUEL_PER_VISIT_CM3, LARGEST_DUTY, RULES, Kind

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

PULSED = frozenset({Kind.INJECTOR, Kind.COIL})
"""Fuel and spark: a request must carry count and width, so that it is finite in the controller itself."""

PARAMETERS: Mapping[str, Callable[[OutputData], float]] = {
    "count": lambda data: data.count,
    "width_100us": lambda data: data.width_ms * 10,
    "burst_100ms": lambda data: data.burst_s * 10,
}
"""One byte each, in the order the family names them."""

TOLD_BY = {"count": "count", "width_100us": "width_ms", "burst_100ms": "burst_s"}
"""The key of the family's file that each parameter comes from."""

NUMBERS = ("count", "width_ms", "period_ms", "burst_s", "longest_s", "cylinder", "flow_cm3_min")


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
        status_did: of an inhibit, the data identifier by which it is read back.
        status_held: of an inhibit, the one byte that stands there while it holds.
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
    status_did: int | None = None
    status_held: int = 1


@dataclasses.dataclass(frozen=True)
class OutputPlan:
    """An output ready to be fired: exact bytes and times.

    Attributes:
        data: what it was made from.
        request, response: identifiers of its controller.
        padding: filler byte of a short frame.
        start, release: the two requests, as ISO 14229-1 bytes.
        longest_s: live time of one press at most.
        fuel_cm3: fuel one start puts into the cylinder at most; all that is allowed where nobody can tell.
        status, held: of an inhibit, the request that reads it back, and the answer that says it holds.

    Raises:
        OutputError: it would be live for longer than the ceiling of its kind.
    """

    data: OutputData
    request: int
    response: int
    padding: int
    start: bytes
    release: bytes
    longest_s: float
    fuel_cm3: float
    status: bytes = b""
    held: bytes = b""

    def __post_init__(self) -> None:
        ceiling = RULES[self.data.kind].longest_s
        if not 0 <= self.longest_s <= ceiling:
            raise OutputError(
                f"{self.data.key} would be live for {self.longest_s} s",
                f"At most {ceiling} s is allowed for its kind.",
            )

    @property
    def pulsed(self) -> bool:
        """Fuel or spark: one request with a count, never sent again for the same press."""
        return self.data.kind in PULSED

    @property
    def latched(self) -> bool:
        """An inhibit, see app.interlock.Rule."""
        return RULES[self.data.kind].latched


SHORT_TERM_ADJUSTMENT = 0x03
RETURN_CONTROL = 0x00
"""inputOutputControlParameter values of ISO 14229-1."""

READ_BACK, READ_ANSWER = b"\x22", b"\x62"
"""ReadDataByIdentifier of ISO 14229-1, and its answer."""


def plan(data: OutputData, request: int, response: int, padding: int) -> OutputPlan:
    """Check an output's data against the floors and ceilings in code and build its requests.

    Raises:
        OutputError: a looser limit than the ceiling, or a request that is not finite in the controller.
    """
    _check_numbers(data)
    if data.kind in PULSED:
        _check_pulses(data)
        longest = data.count * data.period_ms / 1000
    else:
        _check_inhibit(data) if RULES[data.kind].latched else _check_burst(data)
        longest = data.longest_s or RULES[data.kind].longest_s
    did = data.did.to_bytes(2, "big")
    values = bytes(_parameter(data, name) for name in data.parameters)
    status = b"" if data.status_did is None else data.status_did.to_bytes(2, "big")
    return OutputPlan(
        data=data,
        request=request,
        response=response,
        padding=padding,
        start=b"\x2f" + did + bytes([SHORT_TERM_ADJUSTMENT]) + values,
        release=b"\x2f" + did + bytes([RETURN_CONTROL]),
        longest_s=longest,
        fuel_cm3=_fuel_cm3(data),
        status=READ_BACK + status if status else b"",
        held=READ_ANSWER + status + bytes([data.status_held]) if status else b"",
    )


def _fuel_cm3(data: OutputData) -> float:
    """What one start may put into cylinders."""
    if data.kind is Kind.INJECTOR:
        return data.count * data.width_ms / 60_000 * data.flow_cm3_min
    if data.kind is Kind.SPARK_INHIBIT:
        return FUEL_PER_VISIT_CM3  # every injector sprays while the person cranks: nobody can tell how much
    return 0.0


def _check_inhibit(data: OutputData) -> None:
    if data.status_did is None:
        raise OutputError(
            f"status_did of {data.key} is missing",
            "Say by which data identifier it is read back; without it nobody may crank on it.",
        )
    if not 0 <= data.status_did <= 0xFFFF:
        raise OutputError(f"status_did = {data.status_did} of {data.key}", "Give a number of two bytes.")
    if not 1 <= data.status_held <= 0xFF:
        raise OutputError(
            f"status_held = {data.status_held} of {data.key}",
            "Give the byte from 1 to 255 that stands there while it holds; 0 is what empty memory says.",
        )
    if data.parameters:
        raise OutputError(
            f"parameters of {data.key} are of no use", "Leave them out: it holds, or it does not."
        )
    if data.burst_s or data.count or data.width_ms or data.period_ms or data.cylinder or data.flow_cm3_min:
        raise OutputError(
            f"{data.key} has a burst, pulses, a cylinder or a flow",
            "Leave them out: it holds, or it does not.",
        )


def _check_numbers(data: OutputData) -> None:
    for name in NUMBERS:
        value = getattr(data, name)
        if not (math.isfinite(value) and value >= 0):
            raise OutputError(f"{name} = {value} of {data.key}", "Give a number that is not below 0.")
    if data.status_did is not None and not RULES[data.kind].latched:
        raise OutputError(f"status_did of {data.key}, which is no inhibit", "Leave it out.")
    if not 0 <= data.did <= 0xFFFF:
        raise OutputError(f"did = {data.did} of {data.key}", "Give a number of two bytes.")
    if len(set(data.parameters)) != len(data.parameters) or not set(data.parameters) <= set(PARAMETERS):
        raise OutputError(
            f"parameters = {list(data.parameters)} of {data.key}",
            f"Name each once, from {', '.join(PARAMETERS)}.",
        )


def _parameter(data: OutputData, name: str) -> int:
    """The byte of one parameter; 0 is refused too, a controller may take it for "without end"."""
    value = PARAMETERS[name](data)
    byte = round(value)
    if not 1 <= byte <= 255 or abs(value - byte) > 1e-6:
        raise OutputError(
            f"{TOLD_BY[name]} of {data.key} makes {name} = {value:g}",
            "It must come out as a whole number from 1 to 255.",
        )
    return byte


def _check_burst(data: OutputData) -> None:
    ceiling = RULES[data.kind].burst_s
    if not 0 < data.burst_s <= ceiling:
        raise OutputError(
            f"burst_s = {data.burst_s} of {data.key} is not above 0 and at most {ceiling}",
            f"Give a burst of at most {ceiling} s; the finger renews it.",
        )
    longest = RULES[data.kind].longest_s
    if data.longest_s > longest:
        raise OutputError(
            f"longest_s = {data.longest_s:g} of {data.key}", f"At most {longest:g} s is allowed for its kind."
        )
    if RULES[data.kind].sweep and not data.longest_s:
        raise OutputError(
            f"longest_s of {data.key} is missing", "Say how many seconds one sweep from end to end takes."
        )
    if "burst_100ms" not in data.parameters:
        raise OutputError(f"{data.key} has no burst among its parameters", "Name burst_100ms in parameters.")
    if data.count or data.width_ms:
        raise OutputError(f"{data.key} has pulses, but is no injector or coil", "Leave them out.")


def _check_pulses(data: OutputData) -> None:
    rule = RULES[data.kind]
    if not {"count", "width_100us"} <= set(data.parameters):
        raise OutputError(
            f"{data.key} cannot carry count and width in its request",
            "An injector or coil must be finite in the controller itself; without both it is not offered.",
        )
    if data.burst_s or data.longest_s:
        raise OutputError(
            f"{data.key} has a burst or a longest time",
            "Leave both out: fuel and spark end by their count, and are never renewed.",
        )
    if not 0 < data.count <= rule.pulses:
        raise OutputError(f"count = {data.count} of {data.key}", f"Between 1 and {rule.pulses} is allowed.")
    if not 0 < data.width_ms <= rule.width_ms:
        raise OutputError(
            f"width_ms = {data.width_ms} of {data.key}", f"Above 0 and at most {rule.width_ms} is allowed."
        )
    if data.width_ms > LARGEST_DUTY * data.period_ms:
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
