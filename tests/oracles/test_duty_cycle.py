"""Hours by engine speed against the marine duty cycle E4 of 40 CFR 1045 Appendix II."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.hours import E4, E4_LOAD, Band, cycle_shares, load_factor, shares

PUBLISHED = [(100, 100, 0.06), (80, 71.6, 0.14), (60, 46.5, 0.15), (40, 25.3, 0.25), (0, 0, 0.40)]
"""Engine speed in % of rated (0 = idle), torque in %, weight: the five modes of the table."""

BANDS = [(0, 1500), (1500, 3000), (3000, 4500), (4500, 6000), (6000, 7000), (7000, 8000), (8000, 9000)]


def bands(*hours):
    return [Band(low, high, each) for (low, high), each in zip(BANDS, hours, strict=True)]


def test_the_cycle_is_that_of_the_table_and_its_load_is_0_207():
    assert [(100 * speed, 100 * torque, weight) for speed, torque, weight in E4] == [
        pytest.approx(mode) for mode in PUBLISHED
    ]
    assert sum(weight for _, _, weight in E4) == pytest.approx(1.0)
    assert pytest.approx(0.207, abs=0.0005) == E4_LOAD


def test_an_engine_used_as_the_cycle_asks_has_about_its_load():
    """By the modes' own torque, against the 2.5th power of speed at the middle of narrow bands."""
    narrow = [Band(low, low + 100, 0.0) for low in range(0, 8000, 100)]
    for speed, _, weight in E4:
        at = min(79, round(speed * 80))
        narrow[at] = narrow[at]._replace(hours=narrow[at].hours + 100 * weight)
    assert load_factor(narrow, 8000.0) == pytest.approx(E4_LOAD, rel=0.03)


def test_a_worked_example():
    """Half the time at full speed, half at rest: half of full power (by hand)."""
    used = bands(50.0, 0.0, 0.0, 0.0, 0.0, 0.0, 50.0)
    assert shares(used) == [0.5, 0, 0, 0, 0, 0, 0.5]
    assert load_factor(used, 8000.0) == pytest.approx(0.5 + 0.5 * (750 / 8000) ** 2.5)


def test_the_cycle_lies_in_the_bands_of_its_modes():
    """Rated 8000 rev/min: idle, 3200, 4800, 6400, and 8000 on the border of the last two."""
    found = cycle_shares(bands(*[1.0] * 7), 8000.0)
    assert found == pytest.approx([0.40, 0.0, 0.25, 0.15, 0.14, 0.03, 0.03])


def test_what_is_not_known_is_not_worked_out():
    gap = bands(1.0, 2.0, None, 4.0, 5.0, 6.0, 7.0)
    assert shares(gap) is None
    assert load_factor(gap, 8000.0) is None
    assert load_factor(bands(*[1.0] * 7), 0.0) is None
    assert shares(bands(*[0.0] * 7)) is None
    assert cycle_shares([], 8000.0) is None


@given(st.lists(st.floats(0, 5000), min_size=7, max_size=7), st.floats(1000, 12_000))
def test_shares_add_up_and_the_load_is_a_share_of_full_power(hours, rated):
    used = bands(*hours)
    of, load = shares(used), load_factor(used, rated)
    assert (of is None) == (sum(hours) == 0) == (load is None)
    if of is not None:
        assert sum(of) == pytest.approx(1.0)
        assert 0.0 <= load <= 1.0 + 1e-9
    assert sum(cycle_shares(used, rated)) == pytest.approx(1.0)
