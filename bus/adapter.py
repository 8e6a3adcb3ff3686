"""Which adapter, and what kind of adapter it is. Data only; bus/wire.py opens it."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

RATE_SET_ELSEWHERE = frozenset({"virtual", "socketcan", "socketcand", "udp_multicast", "replay"})
"""Interfaces whose bit rate the operating system or nobody sets: there is nothing to look for."""

LISTEN_ONLY_OPTIONS: dict[str, dict[str, Any]] = {
    "kvaser": {"driver_mode": False},
    "nixnet": {"listen_only": True},
    "pcan": {"state": "PASSIVE"},
    "seeedstudio": {"operation_mode": "silent"},
    "systec": {"state": "PASSIVE"},
    "vector": {"listen_only": True},
}
"""How python-can 4.6 is told to listen without taking part, by interface (read in its source, not tried on
devices). The serial line has its own reader and is asked whether it can."""


@dataclasses.dataclass(frozen=True)
class Adapter:
    """An adapter in python-can's own words.

    Attributes:
        interface: python-can interface name; None = whatever is plugged in.
        channel: device, network interface or channel name; may carry ``@baud`` for a serial line.
        bitrate: bit/s if a person named it; None = find it by listening.
    """

    interface: str | None = None
    channel: str | None = None
    bitrate: int | None = None

    @property
    def words(self) -> str:
        """For a person: ``slcan on /dev/ttyACM0``."""
        if self.interface is None:
            return "no adapter chosen"
        return f"{self.interface} on {self.channel}" if self.channel else self.interface

    @property
    def sets_rate(self) -> bool:
        """Whether the bit rate is ours to choose."""
        return self.interface not in RATE_SET_ELSEWHERE


def plugged_in(adapter: Adapter) -> Adapter | None:
    """The adapter to open now: the one named, or the first one found; None if nothing is plugged in.

    Looks for a CAN network interface first (a driver in the kernel beats a serial line), then for a USB
    serial device.
    """
    if adapter.interface is not None:
        return adapter
    for name in sorted(path.name for path in Path("/sys/class/net").glob("*can*")):
        return Adapter("socketcan", name, adapter.bitrate)
    for pattern in ("serial/by-id/*", "ttyACM*", "ttyUSB*"):
        for path in sorted(Path("/dev").glob(pattern)):
            return Adapter("slcan", str(path), adapter.bitrate)
    return None
