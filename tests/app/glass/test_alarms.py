"""Alarms: raised once for each excursion, kept until seen, never by noise within the deadband."""

from __future__ import annotations

import pytest
from a_ride import Ride, catalogue
from hypothesis import given, settings
from hypothesis import strategies as st

from app.alarm_table import LONGEST, OTHERWISE, advice, patience
from app.board import Board
from app.messages import LinkState
from app.ports import View
from app.reading import Quality
from app.ride_words import OVER, alarm_page
from app.show import Look
from app.strip import strip


@pytest.fixture
def ride():
    return Ride()


def test_it_is_raised_only_after_its_time_beyond_the_limit_and_once(ride):
    ride.run(2.5, Coolant=103.0)
    assert ride.told() == []
    ride.run(1.0)
    assert ride.told() == [("raised", "Coolant")]
    ride.run(60.0)
    assert ride.told() == []


def test_a_short_peak_raises_nothing_and_each_peak_begins_its_time_anew(ride):
    for _ in range(5):
        ride.run(2.5, Coolant=103.0)
        ride.run(0.5, Coolant=90.0)
    assert ride.told() == []


def test_it_takes_the_glass_until_it_was_seen_even_when_it_is_over(ride):
    ride.run(4.0, Coolant=103.0)
    (alarm,) = ride.raised.unseen
    ride.run(10.0, Coolant=80.0)
    assert ride.told() == [("raised", "Coolant"), ("over", "Coolant")]
    assert ride.raised.unseen == [alarm]
    ride.raised.see(alarm)
    assert (ride.raised.unseen, ride.raised.standing) == ([], [])
    assert ride.told() == [("seen", "Coolant")]


def test_seen_while_it_stands_it_leaves_the_glass_and_comes_back_only_when_it_comes_anew(ride):
    ride.run(4.0, Coolant=103.0)
    ride.raised.see(ride.raised.unseen[0])
    ride.run(30.0)
    assert ride.raised.unseen == []
    assert [alarm.info.name for alarm in ride.raised.standing] == ["Coolant"]
    ride.run(6.0, Coolant=80.0)
    assert ride.raised.standing == []
    ride.run(4.0, Coolant=103.0)
    assert len(ride.raised.unseen) == 1
    assert [event for event, _ in ride.told()] == ["raised", "seen", "over", "raised"]


def test_the_worst_value_is_kept(ride):
    for value in (103.0, 109.0, 104.0):
        ride.run(4.0, Coolant=value)
    assert ride.raised.unseen[0].worst_words == "109 °C"


def test_of_several_the_newest_leads_and_the_first_is_marked(ride):
    ride.run(4.0, Coolant=103.0)
    ride.run(2.0, Oil=50.0)
    newest, first = ride.raised.unseen
    assert (newest.info.name, first.info.name) == ("Oil", "Coolant")
    assert (newest.first, first.first) == (False, True)
    said = alarm_page(ride.raised.unseen, ride.board)
    assert (said.do, said.key, said.over) == ("Stop the engine", "Seen · 1 more", False)
    ride.run(10.0, Oil=300.0)
    assert [alarm.info.name for alarm in ride.raised.unseen] == ["Coolant", "Oil"], "what is over waits"


def test_what_is_over_says_so_and_how_bad_it_was(ride):
    ride.run(4.0, Coolant=105.0)
    ride.run(6.0, Coolant=80.0)
    said = alarm_page(ride.raised.unseen, ride.board)
    assert (said.do, said.over) == (OVER, True)
    assert "It was 105 °C" in said.limit
    assert "max 102 · family data" in said.limit


def test_it_stands_while_nothing_of_the_craft_is_known_and_after_it_was_found_again(ride):
    ride.run(4.0, Coolant=103.0)
    (alarm,) = ride.raised.unseen
    ride.board.take(View(True, None, None), ride.now)  # another bus process, which knows no craft yet
    said = alarm_page(ride.raised.unseen, ride.board)
    assert (said.tile.label, said.tile.text, said.tile.look) == ("coolant", "no data", Look.ALARM)
    assert said.limit.startswith("It was 103 °C. max 102")
    ride.catalogue = catalogue()
    ride.run(1.0)
    assert ride.raised.unseen == [alarm]
    assert alarm_page(ride.raised.unseen, ride.board).tile.text == "103 °C"


@pytest.mark.parametrize(
    "lost",
    [{"qualities": {"Coolant": Quality.ERROR}}, {"state": LinkState.LOST}, {"values": {"Coolant": None}}],
)
def test_a_value_that_is_not_known_ends_no_alarm_and_raises_none(ride, lost):
    ride.run(2.9, Coolant=103.0)
    known = {name: getattr(ride, name) for name in lost}
    for name, value in lost.items():
        setattr(ride, name, known[name] | value if isinstance(value, dict) else value)
    ride.run(10.0)
    assert ride.told() == []
    for name, value in known.items():
        setattr(ride, name, value)
    ride.run(2.0)
    assert ride.told() == [], "the time begins anew"
    ride.run(2.0)
    assert ride.told() == [("raised", "Coolant")]
    for name, value in lost.items():
        setattr(ride, name, known[name] | value if isinstance(value, dict) else value)
    ride.run(30.0)
    assert ride.told() == []
    assert len(ride.raised.unseen) == 1


def test_a_limit_of_a_running_engine_counts_neither_at_rest_nor_while_the_speed_is_unknown(ride):
    ride.run(20.0, Speed=0.0, Oil=0.0)
    assert ride.told() == []
    ride.run(5.0, Speed=3000.0)
    assert ride.told() == [("raised", "Oil")]
    ride.run(20.0, Speed=None)
    assert ride.told() == [], "an unknown speed ends nothing"
    ride.run(5.0, Speed=0.0)
    assert ride.told() == [("over", "Oil")]


def test_what_comes_at_rest_does_not_take_the_glass_until_the_engine_runs(ride):
    ride.run(20.0, Speed=0.0, Volts=11.0)
    assert ride.told() == [("raised", "Volts")]
    assert ride.raised.unseen == []
    ride.run(0.1, Speed=3000.0)
    assert [alarm.info.name for alarm in ride.raised.unseen] == ["Volts"]


def test_a_starter_that_pulls_the_battery_down_raises_and_ends_nothing(ride):
    ride.run(20.0, Speed=0.0, Volts=12.4)
    ride.run(30.0, Speed=230.0, Volts=10.4)
    ride.run(5.0, Speed=0.0, Volts=12.4)
    assert ride.told() == []
    ride.run(20.0, Volts=11.0)
    ride.run(30.0, Speed=230.0, Volts=12.6)
    assert ride.told() == [("raised", "Volts")]


def test_what_came_and_went_at_rest_needs_nobody(ride):
    ride.run(20.0, Speed=0.0, Volts=11.0)
    ride.run(20.0, Volts=12.6)
    ride.run(1.0, Speed=3000.0)
    assert ride.raised.standing == []


def test_another_craft_has_no_alarms(ride):
    ride.run(4.0, Coolant=103.0)
    ride.catalogue = type(ride.catalogue)(2, *[getattr(ride.catalogue, field) for field in FIELDS])
    ride.run(0.1)
    assert ride.raised.standing == []


FIELDS = ("family", "signals", "roles", "ride", "groups")


@given(noise=st.lists(st.floats(-0.99, 0.99), min_size=20, max_size=80))
@settings(deadline=None, max_examples=40)
def test_noise_within_the_deadband_raises_at_most_one_alarm_and_never_ends_it(noise):
    ride = Ride()
    for each in noise:
        ride.run(0.5, Coolant=103.0 + each)  # the deadband of 2 degrees begins at 100
    ride.run(3.5, Coolant=103.0)
    assert [event for event, _ in ride.told()] == ["raised"]


@given(steps=st.lists(st.tuples(st.floats(60, 140), st.floats(0.05, 12)), min_size=1, max_size=12))
@settings(deadline=None, max_examples=60)
def test_raised_and_over_take_turns_and_an_alarm_seen_and_over_is_gone(steps):
    ride = Ride()
    for value, seconds in steps:
        ride.run(seconds, Coolant=value)
    turns = [event for event, _ in ride.told()]
    assert turns == ["raised", "over"] * (len(turns) // 2) + ["raised"] * (len(turns) % 2)
    for alarm in ride.raised.unseen:
        ride.raised.see(alarm)
    ride.run(6.0, Coolant=70.0)
    assert ride.raised.standing == []


def test_every_advice_is_short_enough_for_a_glance():
    from app import alarm_table

    assert all(len(words) <= LONGEST for words in [OTHERWISE, OVER, *alarm_table._ADVICE.values()])


def test_patience_goes_by_the_unit_and_a_degree_is_as_wide_in_either_scale(ride):
    info = {each.name: each for each in ride.catalogue.signals}
    celsius = patience(info["Coolant"])
    import msgspec

    fahrenheit = patience(msgspec.structs.replace(info["Coolant"], unit="degF"))
    assert fahrenheit.deadband == pytest.approx(celsius.deadband * 1.8)
    assert patience(info["Oil"]).deadband == pytest.approx(35.0)  # 5 % of 700 kPa
    assert patience(info["Speed"]).deadband == pytest.approx(90.0)
    assert advice(info["Speed"], info["Speed"].limits[0]) == "Ease off the lever"


def test_the_board_of_a_craft_that_is_not_there_has_none():
    assert Board(0.0).raised.unseen == []


def test_the_strip_names_it_as_long_as_the_craft_is_heard(ride):
    ride.run(4.0, Coolant=103.0)
    ride.run(2.0, Oil=50.0)

    def box():
        said = strip(ride.board.moment, with_speed=True, alarms=ride.raised.standing)
        return [(each.text, each.alarm) for each in said.boxes if each.kind == "alarm"]

    assert box() == [("ALARM coolant +1", True)]
    ride.raised.see(ride.raised.unseen[0])
    assert box() == [("ALARM coolant +1", True)], "seen is not over"
    ride.state = LinkState.LOST
    ride.run(0.2)
    assert box() == [], "what is old is not said as if it were so now"
