"""Fault codes as text and as bytes, by SAE J2012 / ISO 15031-6: P0117 is 01 17 00, U0073-04 is C0 73 04."""

from __future__ import annotations

import re

from simulator.errors import Misunderstood

SYSTEMS = "PCBU"
"""Powertrain, chassis, body, network: the two highest bits."""
CODE = re.compile(r"([PCBU])([0-3][0-9A-F]{3})(?:-([0-9A-F]{2}))?")
"""The part after the hyphen is the failure type; 00 = no information on how it failed."""


def code_bytes(code: str) -> bytes:
    """The three bytes of a code.

    Raises:
        Misunderstood: it is no fault code.
    """
    parts = CODE.fullmatch(code)
    if parts is None:
        raise Misunderstood(f"{code!r} is no fault code; one looks like P0117.")
    number = SYSTEMS.index(parts[1]) << 14 | int(parts[2], 16)
    return number.to_bytes(2, "big") + bytes.fromhex(parts[3] or "00")
