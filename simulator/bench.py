"""One craft's parts together: what a signal can be read from."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

from simulator.protection import Protection
from simulator.sensors import Tachometer
from simulator.stern import Stern

if TYPE_CHECKING:
    from simulator.physics import Engine

SERIAL = 4_711_042
"""Of the invented controller."""


@dataclasses.dataclass
class Bench:
    """An engine with its controller's protection and its display.

    Attributes:
        serial: controller serial as broadcast.
        service_at: engine hours at which the next service is due.
        key_age: seconds since the key was turned, on or off.
        stern: what moves at the stern and the bars.
        fan_driven: the fan's relay is on because a tool asked for it.
    """

    engine: Engine
    protection: Protection = dataclasses.field(default_factory=Protection)
    tachometer: Tachometer = dataclasses.field(default_factory=Tachometer)
    stern: Stern = dataclasses.field(default_factory=Stern)
    serial: int = SERIAL
    service_at: float = 150.0
    key_age: float = 10.0
    fan_driven: bool = False
