"""Cuts a length into cells that begin and end on whole pixels."""

from __future__ import annotations

import math
from itertools import accumulate


def edges(start: float, length: float, shares: list[float], gap: float) -> list[tuple[int, int]]:
    """Cut a length into shares with gaps between.

    Returns:
        (where it begins, how long it is) of every share, in whole pixels.
    """
    room = length - gap * (len(shares) - 1)
    ends = [room * part / sum(shares) for part in accumulate(shares)]
    result = []
    begin = 0.0
    for number, end in enumerate(ends):
        low, high = _whole(start + begin + gap * number), _whole(start + end + gap * number)
        result.append((low, high - low))
        begin = end
    return result


def _whole(length: float) -> int:
    """Nearest whole pixel; unlike round(), a whole gap stays as wide wherever it falls."""
    return math.floor(length + 0.5)
