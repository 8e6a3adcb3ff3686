"""Ride mode: when the glass locks itself and when it opens again; what it shows and what a mark keeps."""

from __future__ import annotations

import pytest
from a_ride import Ride
from hypothesis import given
from hypothesis import strategies as st

from app.choices import Choices
from app.entry import Kind
from app.entry_words import headline, page
from app.messages import LinkState, Recording
from app.reading import Quality
from app.ride_words import alarm_body, mark_body, mark_key, ride_signals, ride_strip, ride_tile
from app.riding import OPEN_AFTER_S, OPEN_HOLD_S, RIDE_ABOVE, RIDE_AFTER_S, Riding

STEP_S = 0.05


class Hand:
    """Time, the engine, a finger."""

    def __init__(self, *, mounted=True):
        self.now, self.mounted = 500.0, mounted
        self.riding = Riding()

    def run(self, seconds, speed):
        for _ in range(round(seconds / STEP_S)):
            self.now += STEP_S
            self.riding.take(speed, self.now, mounted=self.mounted)
        return self.riding.on


def test_above_idle_for_two_seconds_it_locks_itself_where_it_is_mounted():
    hand = Hand()
    assert not hand.run(1.8, 3000.0)
    assert hand.run(0.4, 3000.0)
    assert not Hand(mounted=False).run(60.0, 3000.0)


@pytest.mark.parametrize("gap", [None, RIDE_ABOVE, 0.0])
def test_a_gap_begins_the_two_seconds_anew(gap):
    hand = Hand()
    for _ in range(5):
        assert not hand.run(1.8, 3000.0)
        hand.run(STEP_S, gap)


@pytest.mark.parametrize("rest", [None, 0.0, 1300.0])
def test_it_opens_only_after_five_seconds_of_rest_and_a_hold(rest):
    hand = Hand()
    hand.run(3.0, 3000.0)
    hand.run(OPEN_AFTER_S - 0.3, rest)
    hand.riding.hold(hand.now)
    assert not hand.riding.may_open
    assert hand.run(0.6, rest)
    assert hand.riding.may_open
    assert hand.riding.share(hand.now) == 0.0, "a finger that lay there before the key came is none"
    hand.riding.hold(hand.now)
    assert hand.run(OPEN_HOLD_S - 0.2, rest)
    assert not hand.run(0.4, rest)


def test_a_finger_that_lifts_or_an_engine_that_speeds_up_keeps_it_locked():
    hand = Hand()
    hand.run(3.0, 3000.0)
    hand.run(6.0, 0.0)
    hand.riding.hold(hand.now)
    hand.run(1.0, 0.0)
    hand.riding.let_go()
    assert hand.run(3.0, 0.0)
    hand.riding.hold(hand.now)
    hand.run(1.0, 0.0)
    hand.run(STEP_S, 2600.0)
    assert hand.run(3.0, 0.0)
    assert not hand.riding.may_open


def test_locked_by_hand_it_waits_the_full_time_too():
    hand = Hand(mounted=False)
    hand.run(60.0, 0.0)
    hand.riding.enter()
    hand.run(OPEN_AFTER_S - 0.3, 0.0)
    assert not hand.riding.may_open
    hand.run(0.6, 0.0)
    assert hand.riding.may_open


@given(
    st.lists(st.tuples(st.sampled_from([None, 0.0, 1500.0, 2500.0, 7000.0]), st.floats(0.05, 8)), max_size=30)
)
def test_it_never_opens_by_itself_and_locks_only_above_idle(steps):
    hand, above = Hand(), 0.0
    for speed, seconds in steps:
        was = hand.riding.on
        above = above + seconds if speed is not None and speed > RIDE_ABOVE else 0.0
        now = hand.run(seconds, speed)
        assert now or not was
        if now and not was:
            assert above >= RIDE_AFTER_S - len(steps) * STEP_S


def test_marks_are_counted_from_one_on_each_ride():
    hand = Hand()
    hand.run(3.0, 3000.0)
    assert [hand.riding.mark(), hand.riding.mark()] == [1, 2]
    assert mark_key(hand.riding, marked=True) == "Marked 2"
    assert mark_key(hand.riding, marked=False) == "Mark 3"
    hand.run(6.0, 0.0)
    hand.riding.hold(hand.now)
    hand.run(2.0, 0.0)
    hand.run(3.0, 3000.0)
    assert mark_key(hand.riding, marked=False) == "Mark 1"


@pytest.fixture
def ride():
    return Ride()


def test_it_shows_both_speeds_and_the_next_of_the_six(ride):
    assert ride_signals(ride.board) == ["Speed", "Way", "Coolant"]


def test_who_chose_six_sees_the_first_three_of_them(ride):
    ride.board.choices = Choices()
    ride.board.choose("six", ("Speed", "Volts", "Oil", "Way"))
    assert ride_signals(ride.board) == ["Speed", "Volts", "Oil"]


def test_what_is_beyond_a_limit_takes_the_last_places_and_the_first_stays(ride):
    ride.run(0.1, Coolant=97.0)
    assert ride_signals(ride.board) == ["Speed", "Way", "Coolant"]
    ride.run(0.1, Coolant=70.0, Volts=11.0)
    assert ride_signals(ride.board) == ["Speed", "Way", "Volts"]
    ride.run(0.1, Oil=50.0)
    assert ride_signals(ride.board) == ["Speed", "Volts", "Oil"]
    ride.run(0.1, Coolant=110.0)
    assert ride_signals(ride.board)[0] == "Speed"


def test_a_speed_is_named_by_its_unit_and_old_data_keeps_what_they_were(ride):
    tile = ride_tile(ride.board.tile("Speed"), ride.board.moment)
    assert (tile.label, tile.main, tile.unit) == ("rev/min", "3000", "")
    ride.qualities = {"Coolant": Quality.STALE}
    ride.run(1.0)
    tile = ride_tile(ride.board.tile("Coolant"), ride.board.moment)
    assert (tile.main, tile.note) == ("no data", "was 70 °C")


def test_the_strip_says_that_it_is_locked_or_how_to_open_it_and_what_is_lost(ride):
    hand = Hand()
    hand.run(3.0, 3000.0)
    assert ride_strip(ride.board.moment, hand.riding) == "Under way · glass locked"
    hand.run(6.0, 0.0)
    assert ride_strip(ride.board.moment, hand.riding) == "At idle · hold to unlock"
    ride.state = LinkState.LOST
    ride.run(0.1)
    assert ride_strip(ride.board.moment, hand.riding).startswith("Craft lost")


def test_a_mark_keeps_every_value_that_is_known_and_where_it_is_in_the_recording(ride, make_entry):
    ride.recording = Recording("a.log", ride.now - 402.0, 9)
    ride.qualities = {"Oil": Quality.ERROR}
    ride.run(0.2)
    entry = make_entry(Kind.MARK, mark_body(3, ride.board, ride.now))
    assert headline(entry) == "Mark 3, 402 s into a.log"
    assert {"coolant: 70 °C", "speed: 3000 rev/min"} <= set(page(entry))
    assert not any(line.startswith("oil") for line in page(entry))


def test_an_alarm_is_told_in_the_book_with_what_was_known_then(ride, make_entry):
    ride.run(4.0, Coolant=104.0)
    (event, alarm), *_ = ride.raised.events
    entry = make_entry(Kind.ALARM, alarm_body(event, alarm, ride.board))
    assert headline(entry) == "ALARM coolant 104 °C, max 102 · family data"
    assert "speed: 3000 rev/min" in page(entry)
    entry = make_entry(Kind.ALARM, alarm_body("seen", alarm, ride.board))
    assert headline(entry).startswith("Alarm coolant: seen by a person after ")
