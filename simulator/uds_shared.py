"""What the controllers of several simulated families have in common."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

from simulator.protection import PLAUSIBLE, truths

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from simulator.craft import Craft
    from simulator.outputs import Output, Outputs
    from simulator.uds import Controller

    Made = Callable[[Craft, Callable[[], str], Outputs], list[Controller]]

SESSIONS = ("1001", "1003", "3e00", "3e80")
FAULTS = ("1902..", "1904......ff", "1906......ff", "190a", "14ffffff")
"""Requests that every controller here offers, as patterns of their hexadecimal digits."""

NOTHING = -1
"""Stands for "the controller does not know": all ones, of however many bytes."""


@dataclasses.dataclass(frozen=True)
class Answering:
    """How a family answers.

    Attributes:
        hull: hull number stored in its engine controller.
        outputs: what can be moved.
        controllers: makes them, from the craft, what reads the hull number, and the outputs.
        faults: what is wrong now by what a controller sees: code, and whether it is hard.
    """

    hull: str
    outputs: Sequence[Output]
    controllers: Made
    faults: Mapping[str, Callable[[Craft], dict[str, bool]]]


NOBODY = Answering("", (), lambda _craft, _hull, _outputs: [], {})
"""Of a family without a controller that can be asked."""


def big(value: int, size: int) -> bytes:
    """A number of so many bytes; one that is known is never sent as all ones, however large it is."""
    unknown = (1 << 8 * size) - 1
    return (unknown if value == NOTHING else min(max(value, 0), unknown - 1)).to_bytes(size, "big")


def seen(craft: Craft, name: str) -> float | None:
    """What the engine controller reads from a sensor of its protection; None = nothing."""
    return craft.broadcast.seen(name, truths(craft.engine)[name])


def speed_seen(craft: Craft) -> float | None:
    """Engine speed as the engine controller has it, rev/min."""
    return seen(craft, "speed")


def engine_faults(
    craft: Craft,
    conditions: Mapping[str, tuple[str, bool]],
    sensors: Mapping[str, tuple[str, str, str]],
) -> dict[str, bool]:
    """Codes of what the engine controller's protection holds to be wrong now, and whether they are hard.

    Args:
        craft: the craft.
        conditions: condition of the protection to its code, and whether it shows with the engine at rest.
        sensors: code of a sensor that reads under its range, over it, and not at all.
    """
    found: dict[str, bool] = {}
    for name in craft.bench.protection.active:
        if name in conditions:
            code, hard = conditions[name]
            found[code] = hard
        sensor = name.removesuffix(" sensor")
        if sensor != name and sensor in sensors:
            value = seen(craft, sensor)
            side = 2 if value is None else 0 if value < PLAUSIBLE[sensor][0] else 1
            found[sensors[sensor][side]] = True
    return found


def missing_engine(craft: Craft, code: str, *, after_s: float, from_key_s: float) -> dict[str, bool]:
    """The code of a controller that misses the frames of the engine controller.

    Args:
        craft: the craft.
        code: of lost communication.
        after_s: of silence it is set.
        from_key_s: not before so long after key-on.
    """
    silent_ms = craft.bus_ms - craft.broadcast.sent_ms.get("EngineSpeed", craft.diagnosis.began_ms)
    lost = craft.bench.key_age >= from_key_s and silent_ms > after_s * 1000
    return {code: True} if lost else {}
