"""What is kept of the values: stopped figures, least and most, the last minute."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec import structs

from app.extremes import extreme_rows, number_pages
from app.messages import Craft, LinkState
from app.reading import Quality
from app.show import Look, frozen_words
from app.trend import SLOT_S, SLOTS, Trend

BAD = [quality for quality in Quality if quality is not Quality.GOOD]


def at(view, now, make):
    """The same view as it is at another time."""
    shift = now - make.now
    snapshot = view.snapshot
    values = [structs.replace(value, at=value.at + shift) for value in snapshot.values]
    return structs.replace(view, snapshot=structs.replace(snapshot, at=snapshot.at + shift, values=values))


def play(make, board, now, **said):
    board.take(at(make.view(**said), now, make), now)


def test_frozen_figures_stay_and_never_look_live(make):
    board = make.board()
    play(make, board, make.now, speed=3480.0)
    board.freeze()
    for number, speed in enumerate((5000.0, 7000.0), 1):
        play(make, board, make.now + number, speed=speed)
        tile = board.tile("Speed")
        assert (tile.main, tile.look) == ("3480", Look.FROZEN)
    assert {board.tile(name).look for name in ("Speed", "State", "Volts", "Key")} == {Look.FROZEN}
    assert board.frozen_at == make.now
    board.thaw()
    assert (board.tile("Speed").main, board.tile("Speed").look) == ("7000", Look.GOOD)
    assert board.frozen_at is None


@pytest.mark.parametrize(
    "lost",
    [
        {"state": LinkState.LOST},
        {"connected": False},
        {"age": 2.0},
        {"number": 2},
        {"craft": Craft("auk", "Auk three-cylinder", "7")},
    ],
)
def test_losing_the_craft_ends_the_freeze(make, lost):
    board = make.board()
    play(make, board, make.now)
    board.freeze()
    play(make, board, make.now + 0.05, **lost)
    assert board.frozen_at is None
    assert board.tile("Speed").look is not Look.FROZEN


def test_nothing_that_is_not_live_can_be_frozen(make):
    board = make.board()
    play(make, board, make.now, age=3.0)
    board.freeze()
    assert board.frozen_at is None
    assert board.tile("Speed").look is Look.STALE


def test_an_alarm_that_comes_while_frozen_is_told(make):
    limits = [make.limit("alarm", "above", 8000.0)]
    signals = [make.info("Speed", "rev/min", limits=limits, scale=(0, 9000))]
    catalogue = make.catalogue(signals, ride=("Speed",), groups=("Heat",))
    board = make.board()
    play(make, board, make.now, catalogue=catalogue)
    board.freeze()
    assert frozen_words(4.0, board.alarms()) == "FROZEN 4 s ago. These figures are not live."
    play(make, board, make.now + 1, catalogue=catalogue, speed=8200.0)
    assert frozen_words(4.0, board.alarms()) == "FROZEN 4 s · ALARM NOW: speed"
    assert board.tile("Speed").main == "3480"


@given(st.lists(st.tuples(st.floats(-1e6, 1e6), st.sampled_from(list(Quality))), min_size=1, max_size=30))
def test_least_and_most_are_those_of_the_good_values(make, said):
    board = make.board()
    for number, (speed, quality) in enumerate(said):
        play(make, board, make.now + number / 10, speed=speed, qualities={"Speed": quality})
    good = [speed for speed, quality in said if quality is Quality.GOOD]
    assert board.extremes.of("Speed") == ((min(good), max(good)) if good else None)


def test_an_old_value_is_neither_least_nor_most(make):
    board = make.board()
    play(make, board, make.now, speed=900.0)
    play(make, board, make.now + 1, speed=9000.0, value_age=1.0)
    play(make, board, make.now + 2, speed=9100.0, age=1.0)
    play(make, board, make.now + 3, speed=math.nan)
    assert board.extremes.of("Speed") == (900.0, 900.0)


def test_a_reset_begins_anew_and_so_does_another_craft(make):
    board = make.board()
    play(make, board, make.now, speed=7000.0)
    board.extremes.reset(make.now + 1)
    play(make, board, make.now + 2, speed=3000.0)
    assert board.extremes.of("Speed") == (3000.0, 3000.0)
    assert board.extremes.since == make.now + 1
    play(make, board, make.now + 3, speed=2000.0, number=2)
    assert board.extremes.of("Speed") == (2000.0, 2000.0)
    assert board.extremes.since == make.now + 3


def test_other_units_begin_anew_and_the_same_ones_do_not(make):
    """What was kept in degrees of one kind must never stand beside a unit of another."""
    board = make.board()
    play(make, board, make.now, speed=7000.0)
    play(make, board, make.now + 1, speed=100.0, catalogue=make.catalogue())
    assert board.extremes.of("Speed") == (100.0, 7000.0)
    signals = [structs.replace(info, unit="Hz") if info.name == "Speed" else info for info in make.signals()]
    board.freeze()
    play(make, board, make.now + 2, speed=2.0, catalogue=make.catalogue(signals))
    assert board.extremes.of("Speed") == (2.0, 2.0)
    assert board.frozen_at is None
    assert len([slot for slot in slots(board.trend, "Speed") if slot is not None]) == 0


def test_a_craft_that_comes_back_is_the_same(make):
    board = make.board()
    play(make, board, make.now, speed=7000.0)
    play(make, board, make.now + 9, state=LinkState.LOST)
    play(make, board, make.now + 10, speed=1000.0)
    assert board.extremes.of("Speed") == (1000.0, 7000.0)


def test_the_rows_tell_least_and_most_with_unit_and_leave_texts_out(make):
    signals = [structs.replace(info, enumerated=info.name == "State") for info in make.signals()]
    catalogue = make.catalogue(signals)
    board = make.board()
    for number, volts in enumerate((13.94, 11.6)):
        play(make, board, make.now + number, volts=volts, catalogue=catalogue, key=None)
    pages = number_pages(board.pages, catalogue)
    assert [(page.title, page.signals) for page in pages] == [
        ("Big values", ("Speed", "Volts")),
        ("Switches", ("Key",)),
    ]
    rows = [tuple(row) for page in pages for row in extreme_rows(page, board.extremes, board.moment)]
    assert rows == [
        ("speed", "3480", "3480", "rev/min"),
        ("volts", "11.6", "13.9", "V"),
        ("key", "–", "–", "%"),
    ]


def slots(trend, signal):
    """The last minute, oldest first: (lowest, highest) of a slot, None where there is a gap."""
    track = trend.track(signal)
    places = [(trend.slot - SLOTS + number) % (SLOTS + 1) for number in range(SLOTS)]
    return [None if math.isnan(track.low[p]) else (track.low[p], track.high[p]) for p in places]


def test_the_last_minute_keeps_a_spike_and_has_gaps_where_nothing_was_good(make):
    trend = Trend()

    def take(slot, speed, **said):
        trend.take(make.moment(at(make.view(speed=speed, **said), slot * SLOT_S, make), now=slot * SLOT_S))

    first = int(make.now / SLOT_S)
    take(first, 1000.0)
    take(first + 0.4, 7000.0)
    take(first + 0.8, 1000.0)
    for quality in BAD:
        take(first + 1, 9000.0, qualities={"Speed": quality})
    take(first + 1.5, 9000.0, age=2.0)
    take(first + 5, 2000.0)
    take(first + 6, 3000.0)
    assert slots(trend, "Speed")[-6:] == [(1000.0, 7000.0), None, None, None, None, (2000.0, 2000.0)]
    assert set(slots(trend, "Speed")[:-6]) == {None}


@given(st.lists(st.tuples(st.integers(1, 400), st.floats(0, 9000)), min_size=1, max_size=40))
def test_after_any_pauses_only_the_last_minute_is_there(make, steps):
    trend = Trend()
    slot, wanted = int(make.now / SLOT_S), {}
    for pause, speed in steps:
        slot += pause
        now = (slot + 0.5) * SLOT_S
        trend.take(make.moment(at(make.view(speed=speed), now, make), now=now))
        wanted[slot] = pytest.approx((speed, speed), rel=1e-6)
    assert slots(trend, "Speed") == [wanted.get(slot - SLOTS + number) for number in range(SLOTS)]
