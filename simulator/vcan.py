"""Tells a virtual CAN network interface from a real one: asks the kernel, and nothing else will do.

A name proves nothing (a real adapter may be called vcan0), and a network interface without hardware behind it
may still be a serial line to a craft.
"""

from __future__ import annotations

import socket
import struct
from pathlib import Path

ARPHRD_CAN = 280
"""Type of every CAN network interface in /sys/class/net (Linux if_arp.h)."""

RTM_NEWLINK, RTM_GETLINK, NLM_F_REQUEST = 16, 18, 1
IFLA_IFNAME, IFLA_LINKINFO, IFLA_INFO_KIND = 3, 18, 1
_HEADER, _LINK, _ATTRIBUTE = struct.Struct("=IHHII"), struct.Struct("=BxHiII"), struct.Struct("=HH")


def is_vcan(name: str, *, classes: Path = Path("/sys/class/net")) -> bool:
    """Whether the kernel says that this network interface is a virtual CAN bus; False when in doubt."""
    if not name or "/" in name or len(name) > 15:
        return False
    try:
        kind = int((classes / name / "type").read_text())
        return kind == ARPHRD_CAN and link_kind(name) == "vcan"
    except (OSError, ValueError, struct.error):
        return False


def link_kind(name: str) -> str | None:
    """What made a network interface: vcan, bridge, dummy …; None for hardware and where nobody says.

    Raises:
        OSError: the kernel could not be asked.
    """
    label = name.encode() + b"\0"
    attribute = _ATTRIBUTE.pack(_ATTRIBUTE.size + len(label), IFLA_IFNAME) + label
    attribute += b"\0" * (-len(attribute) % 4)
    body = _LINK.pack(socket.AF_UNSPEC, 0, 0, 0, 0) + attribute
    request = _HEADER.pack(_HEADER.size + len(body), RTM_GETLINK, NLM_F_REQUEST, 1, 0) + body
    with socket.socket(socket.AF_NETLINK, socket.SOCK_RAW, socket.NETLINK_ROUTE) as channel:
        channel.settimeout(1.0)
        channel.bind((0, 0))
        channel.send(request)
        return kind_in(channel.recv(65_536))


def kind_in(answer: bytes) -> str | None:
    """The kind named in the kernel's answer to a question about one link; None where there is none."""
    _, message, _, _, _ = _HEADER.unpack_from(answer)
    if message != RTM_NEWLINK:
        return None
    info = _attributes(answer[_HEADER.size + _LINK.size :]).get(IFLA_LINKINFO, b"")
    return _attributes(info).get(IFLA_INFO_KIND, b"").rstrip(b"\0").decode() or None


def _attributes(block: bytes) -> dict[int, bytes]:
    found: dict[int, bytes] = {}
    at = 0
    while at + _ATTRIBUTE.size <= len(block):
        length, kind = _ATTRIBUTE.unpack_from(block, at)
        if length < _ATTRIBUTE.size:
            break
        found[kind & 0x3FFF] = block[at + _ATTRIBUTE.size : at + length]
        at += length + (-length % 4)
    return found
