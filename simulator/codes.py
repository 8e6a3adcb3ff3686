"""Fault codes as text and as bytes, by SAE J2012 / ISO 15031-6: P0117 is 01 17, U0100 is C1 00."""

from __future__ import annotations

import re

from simulator.errors import Misunderstood

SYSTEMS = "PCBU"
"""Powertrain, chassis, body, network: the two highest bits."""
NO_FAILURE_TYPE = b"\x00"
"""Third byte: no information on how it failed."""


def code_bytes(code: str) -> bytes:
    """The three bytes of a code.

    Raises:
        Misunderstood: it is no fault code.
    """
    if not re.fullmatch(r"[PCBU][0-3][0-9A-F]{3}", code):
        raise Misunderstood(f"{code!r} is no fault code; one looks like P0117.")
    number = SYSTEMS.index(code[0]) << 14 | int(code[1:], 16)
    return number.to_bytes(2, "big") + NO_FAILURE_TYPE
