"""Strangers' frames that fill a bus: other nodes of a boat that talk all the time."""

from __future__ import annotations

import itertools
import random
from typing import TYPE_CHECKING

from simulator.codec import EXTENDED

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

MARGIN_BITS = {False: 47, True: 67}
"""Of a data frame beside its data, by whether its identifier has 29 bits: start of frame to the space between
frames, without stuff bits (ISO 11898-1: 1 SOF, 11 or 32 arbitration with RTR, 6 control, 16 CRC with its
delimiter, 2 ACK, 7 EOF, 3 intermission, and one more of control in the long form)."""

STUFF_SHARE = 0.1
"""Stuff bits on top; one in four at worst, about one in ten for random data (our own estimate)."""

LOWEST, BEYOND = 0x080, 0x700
"""Identifiers that strangers take: none of those by which controllers are asked."""

VARIANTS = 997
"""Different frames, sent in turn; a prime, so that they fall differently into the steps."""


def bits(ident: int, data: bytes) -> float:
    """How long a frame keeps the bus, in bit times."""
    return (MARGIN_BITS[bool(ident & EXTENDED)] + 8 * len(data)) * (1 + STUFF_SHARE)


STRANGER_BITS = bits(LOWEST, bytes(8))
"""Of a stranger's frame."""


class Crowd:
    """Fills what the craft's own frames leave of each step."""

    def __init__(self, bitrate: int, step_s: float, taken: Collection[int], seed: int = 1) -> None:
        """Make the frames.

        Args:
            bitrate: of the bus, bit/s.
            step_s: length of a step, seconds.
            taken: identifiers that the craft uses.
            seed: of what the frames hold.
        """
        chance = random.Random(seed)  # noqa: S311 (noise)
        free = [ident for ident in range(LOWEST, BEYOND) if ident not in taken]
        frames = [(chance.choice(free), chance.randbytes(8)) for _ in range(VARIANTS)]
        self._frames: Iterator[tuple[int, bytes]] = itertools.cycle(frames)
        self._bits_a_step = bitrate * step_s
        self._owed = 0.0

    def fill(self, frames: Sequence[tuple[int, bytes]]) -> list[tuple[int, bytes]]:
        """The frames of a step with as many of strangers as the bus has room for."""
        over = max(self._owed, -STRANGER_BITS)  # the last frame of a step may end in the next
        self._owed = over + self._bits_a_step - sum(bits(*frame) for frame in frames)
        full = list(frames)
        while self._owed > 0.0:
            full.append(next(self._frames))
            self._owed -= STRANGER_BITS
        return full
