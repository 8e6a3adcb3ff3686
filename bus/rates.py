"""Which bit rates are tried, in which order."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

RATES = (500_000, 250_000, 125_000, 1_000_000)
"""bit/s tried while listening, in this order; the last that worked is tried first."""


class Rates:
    """What is known of the bit rate.

    Attributes:
        said: named by a person, bit/s; None = it is to be looked for.
        good: the last at which a craft was heard, bit/s; None = none yet.
    """

    def __init__(self, said: int | None) -> None:
        self.said = said
        self.good: int | None = None

    def name(self, bitrate: int | None) -> None:
        """A person named it, or wants it looked for again (None)."""
        self.said = bitrate
        self.good = None

    def to_try(self) -> Iterator[int]:
        """Rates to listen at, the likeliest first."""
        if self.said is not None:
            yield self.said
            return
        if self.good is not None:
            yield self.good
        for rate in RATES:
            if rate != self.good:
                yield rate
