"""What the job needs from the outside, as protocols; the composition root hands in the real things."""

from __future__ import annotations

from typing import Protocol

import msgspec

from app.diagnosis import Report
from app.messages import Catalogue, FromScreen, Snapshot


class Clock(Protocol):
    """Time, so that tests own it."""

    def __call__(self) -> float:
        """Seconds on CLOCK_MONOTONIC."""


class View(msgspec.Struct, frozen=True):
    """What the screen side knows of the bus side at this moment.

    Attributes:
        connected: the bus process answers; False = everything below is old.
        snapshot: newest one, kept after the connection is lost so that old values can be shown as old.
        catalogue: the one ``snapshot.catalogue`` names, None until it has come.
        report: the one ``snapshot.report`` names, None until it has come.
    """

    connected: bool
    snapshot: Snapshot | None
    catalogue: Catalogue | None
    report: Report | None = None


class CraftLink(Protocol):
    """The screen's only way to the craft."""

    def poll(self) -> View:
        """Take what has come; reconnect if need be. Never blocks, never raises."""

    def set_bit_rate(self, bitrate: int | None) -> None:
        """Tell the bus process the bit rate a person chose (bit/s); None = look for it again."""

    def ask(self, request: FromScreen) -> None:
        """Send a request; what comes of it is seen in a later view."""

    def close(self) -> None:
        """Hang up."""
