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
    """The adapter to open now: the one named, or the first one found; None if nothing is plugged in."""
    if adapter.interface is not None:
        return adapter
    first = next(iter(found()), None)
    return None if first is None else dataclasses.replace(first, bitrate=adapter.bitrate)


def found(root: Path = Path("/")) -> list[Adapter]:
    """Every adapter that is plugged in, each once, the one to take first.

    A CAN network interface comes first (a driver in the kernel beats a serial line), then USB serial devices.

    Args:
        root: of the file system.
    """
    adapters = [
        Adapter("socketcan", name)
        for name in sorted(path.name for path in (root / "sys/class/net").glob("*can*"))
    ]
    known = set()
    for pattern in ("serial/by-id/*", "ttyACM*", "ttyUSB*"):
        for path in sorted((root / "dev").glob(pattern)):
            device = path.resolve()
            if device not in known:
                known.add(device)
                adapters.append(Adapter("slcan", str(path)))
    return adapters


def chosen(words: str) -> Adapter:
    """The adapter a person chose by its ``words``; whatever is plugged in if it is not there."""
    return next((one for one in found() if one.words == words), Adapter())
