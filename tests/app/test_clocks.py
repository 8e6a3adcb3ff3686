"""Order without a clock to be trusted."""

from datetime import UTC, datetime

from hypothesis import given
from hypothesis import strategies as st

from app.clocks import EARLIEST_MS, LATEST_MS, milliseconds, stamp

NOW = 1_795_600_000_000
DAY = 86_400_000
sane = st.integers(NOW, NOW + 20)  # few milliseconds, so that many are alike
any_clock = st.integers(-(10**13), 10**15)


def walk(walls):
    newest, stamps = "", []
    for wall in walls:
        one = stamp(newest, wall)
        stamps.append(one)
        newest = one.hlc
    return stamps


@given(st.lists(any_clock, max_size=60))
def test_logical_time_rises_whatever_the_wall_clock_does(walls):
    stamps = walk(walls)
    times = [one.hlc for one in stamps]
    assert times == sorted(set(times))
    assert [one.wall_ms for one in stamps] == walls
    assert all(len(time) == 16 for time in times)


@given(st.lists(any_clock | sane, max_size=60))
def test_a_wall_time_is_trusted_only_if_it_is_not_before_any_trusted_one(walls):
    newest = EARLIEST_MS
    for wall, one in zip(walls, walk(walls), strict=True):
        assert one.wall_trusted == (newest <= wall < LATEST_MS)
        newest = max(newest, wall) if one.wall_trusted else newest


@given(st.lists(sane, max_size=60))
def test_with_a_sane_clock_it_is_the_published_algorithm(walls):
    # Kulkarni, Demirbas and others, "Logical Physical Clocks", 2014, figure 5, send or local event
    # (from memory): l' := l; l := max(l', pt); if l = l' then c := c + 1 else c := 0.
    last, count = 0, 0
    for wall, one in zip(walls, walk(walls), strict=True):
        before = last
        last = max(before, wall)
        count = count + 1 if last == before else 0
        assert int(one.hlc, 16) == last * 65_536 + count


def test_text_sorts_like_the_number_to_the_end_of_the_century():
    assert stamp("", LATEST_MS - 1).hlc > stamp("", EARLIEST_MS).hlc
    assert int(stamp("", LATEST_MS - 1).hlc, 16) < 2**63


def test_a_clock_set_back_two_weeks_is_not_trusted_until_it_has_caught_up():
    first, back, still, again = walk([NOW, NOW - 14 * DAY, NOW - 14 * DAY + 1000, NOW + 1])
    assert first.hlc < back.hlc < still.hlc < again.hlc
    assert [one.wall_trusted for one in (first, back, still, again)] == [True, False, False, True]


def test_the_day_the_tool_was_made_is_the_first_that_is_believed():
    midnight = int(datetime(2025, 11, 24, tzinfo=UTC).timestamp() * 1000)
    assert not stamp("", midnight - 1).wall_trusted
    assert stamp("", midnight).wall_trusted


def test_a_clock_far_in_the_future_spoils_nothing_for_later():
    wild = stamp("", 4_200_000_000_000)  # the year 2103
    assert not wild.wall_trusted
    assert milliseconds(wild.hlc) == EARLIEST_MS
    assert stamp(wild.hlc, NOW).wall_trusted
