"""Geometry of the engine-speed arc: triangle strips and ticks, without any drawing."""

from __future__ import annotations

import math

BEGIN, SWEEP = 210.0, 240.0
"""Degrees, counted anticlockwise from three o'clock: the scale begins lower left and runs clockwise."""

STEP = 3.0
"""Degrees a facet of the strip; at a radius of 40 mm the chord leaves the circle by 0.014 mm."""


def band(
    centre: tuple[float, float], inner: float, outer: float, low: float, high: float
) -> tuple[list[float], list[int]]:
    """A part of the ring between two radii.

    Args:
        centre: pixels.
        inner: radius in pixels.
        outer: radius in pixels.
        low: share of the scale where it begins, 0 to 1.
        high: share of the scale where it ends, 0 to 1.

    Returns:
        Vertices (x, y, u, v) and indices of a triangle strip; both empty where there is nothing to fill.
    """
    if high <= low:
        return [], []
    steps = max(1, math.ceil((high - low) * SWEEP / STEP))
    vertices: list[float] = []
    for number in range(steps + 1):
        angle = _angle(low + (high - low) * number / steps)
        cos, sin = math.cos(angle), math.sin(angle)
        vertices += (centre[0] + inner * cos, centre[1] + inner * sin, 0, 0)
        vertices += (centre[0] + outer * cos, centre[1] + outer * sin, 0, 0)
    return vertices, list(range(2 * (steps + 1)))


def tick(centre: tuple[float, float], inner: float, outer: float, share: float, width: float) -> list[float]:
    """Four corners (x, y, u, v) of a tick across the ring, as a triangle strip."""
    angle = _angle(share)
    cos, sin = math.cos(angle), math.sin(angle)
    half = width / 2
    vertices: list[float] = []
    for radius in (inner, outer):
        for side in (-half, half):
            vertices += (centre[0] + radius * cos - side * sin, centre[1] + radius * sin + side * cos, 0, 0)
    return vertices


def _angle(share: float) -> float:
    return math.radians(BEGIN - SWEEP * share)
