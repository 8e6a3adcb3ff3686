"""Negative answers of ISO 14229-1 that the simulated controllers give."""

from __future__ import annotations

SERVICE_NOT_SUPPORTED = 0x11
SUBFUNCTION_NOT_SUPPORTED = 0x12
WRONG_LENGTH = 0x13
BUSY = 0x21
CONDITIONS_NOT_CORRECT = 0x22
OUT_OF_RANGE = 0x31
PENDING = 0x78
SUBFUNCTION_NOT_IN_SESSION = 0x7E
SERVICE_NOT_IN_SESSION = 0x7F
ENGINE_IS_RUNNING = 0x83
VOLTAGE_TOO_LOW = 0x93

SILENT_IF_FUNCTIONAL = frozenset(
    {
        SERVICE_NOT_SUPPORTED,
        SUBFUNCTION_NOT_SUPPORTED,
        OUT_OF_RANGE,
        SUBFUNCTION_NOT_IN_SESSION,
        SERVICE_NOT_IN_SESSION,
    }
)
"""Not answered where every controller was asked at once."""


class Refused(Exception):
    """A controller's no.

    Attributes:
        code: negative response code.
    """

    def __init__(self, code: int) -> None:
        super().__init__(f"{code:02X}")
        self.code = code


def negative(service: int, code: int) -> bytes:
    """The bytes of a no."""
    return bytes([0x7F, service, code])
