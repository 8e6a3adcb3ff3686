"""The arc and the cells as plain geometry."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from screens.widgets.edges import edges
from screens.widgets.ring import band, tick

SHARES = st.floats(0, 1)


def corners(vertices):
    return list(zip(vertices[0::4], vertices[1::4], strict=True))


def angle(point):
    """Degrees anticlockwise from three o'clock, the bottom cut at 270."""
    degrees = math.degrees(math.atan2(point[1], point[0])) % 360
    return degrees - 360 if degrees > 270 else degrees


def test_the_scale_runs_clockwise_from_lower_left_to_lower_right():
    vertices, _ = band((0, 0), 80, 100, 0.0, 1.0)
    first, last = corners(vertices)[0], corners(vertices)[-1]
    assert angle(first) == pytest.approx(210)
    assert angle(last) == pytest.approx(-30)
    middle, _ = band((0, 0), 80, 100, 0.0, 0.5)
    assert angle(corners(middle)[-1]) == pytest.approx(90)


@given(SHARES, SHARES)
def test_a_band_stays_between_its_radii_and_angles(low, high):
    vertices, indices = band((0, 0), 80, 100, low, high)
    if high <= low:
        assert (vertices, indices) == ([], [])
        return
    for point in corners(vertices):
        assert 80 - 1e-6 <= math.hypot(*point) <= 100 + 1e-6
        assert 210 - 240 * high - 1e-6 <= angle(point) <= 210 - 240 * low + 1e-6
    assert indices == list(range(len(vertices) // 4))


@given(st.floats(0.05, 1))
def test_the_filled_area_is_that_of_the_ring_sector(share):
    points = corners(band((0, 0), 80, 100, 0.0, share)[0])
    area = sum(
        abs((b[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (b[1] - a[1])) / 2
        for a, b, c in zip(points, points[1:], points[2:], strict=False)
    )
    sector = math.radians(240 * share) / 2 * (100**2 - 80**2)  # area of an annulus sector, school geometry
    assert area == pytest.approx(sector, rel=0.002)


def test_a_tick_points_outward_at_its_share():
    points = corners(tick((10, 20), 100, 110, 0.5, 4))
    assert sorted((round(x - 10, 6), round(y - 20, 6)) for x, y in points) == [
        (-2, 100),
        (-2, 110),
        (2, 100),
        (2, 110),
    ]


@given(
    start=st.floats(0, 50),
    length=st.floats(100, 1300),
    shares=st.lists(st.integers(1, 5), min_size=1, max_size=6),
    gap=st.integers(0, 16),
)
def test_cells_fill_a_length_on_whole_pixels_without_touching(start, length, shares, gap):
    cells = edges(start, length, shares, gap)
    assert len(cells) == len(shares)
    assert abs(cells[0][0] - start) <= 0.5
    assert abs(cells[-1][0] + cells[-1][1] - (start + length)) <= 0.51
    for (left, width), (following, _) in pairwise(cells):
        assert width > 0
        assert following - left - width == gap
    unit = (length - gap * (len(shares) - 1)) / sum(shares)
    for (_, width), share in zip(cells, shares, strict=True):
        assert abs(width - unit * share) <= 1.01
