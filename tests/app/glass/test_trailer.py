"""Running on the trailer: seconds without water are counted, whatever is not known counts as running."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.show import Look
from app.trailer import DRY_S, REST_S, State, Trailer, Water
from app.trailer_words import NOT_BY_US, cautions, clock, count, note_text, sheet

STEP_S = 0.05
IDLE = 1300.0


class Shed:
    def __init__(self, water=Water.NONE):
        self.now = 700.0
        self.trailer = Trailer()
        self.trailer.say(water)

    def run(self, seconds, speed, step=STEP_S):
        for _ in range(round(seconds / step)):
            self.now += step
            self.trailer.take(speed, self.now)
        return self.trailer.state


def test_the_time_is_that_of_published_advice():
    """15 s without cooling water at most: a trade magazine's figure for flushing such craft."""
    assert DRY_S == 15.0


def test_a_family_may_say_another_time_and_it_is_said_whose_it_is():
    shed = Shed()
    shed.trailer.limit(20.0)
    assert shed.run(19.0, IDLE) is State.RUNS
    assert count(shed.trailer).note.startswith("20 s is family data.")
    assert shed.run(2.0, IDLE) is State.OVER
    assert cautions(shed.trailer)[0].strong == "No water: 20 s at most."
    shed.trailer.limit(0.0)
    assert (shed.trailer.allowed_s, cautions(shed.trailer)[-1].plain) == (DRY_S, "15 s is a generic default.")
    shed.trailer.limit(20.0)
    shed.trailer.clear()
    assert shed.trailer.allowed_s == DRY_S, "what one craft may is not known of another"


def test_it_counts_from_the_engine_and_not_from_a_touch():
    shed = Shed()
    assert shed.run(60.0, 0.0) is State.READY
    assert shed.trailer.left_s == DRY_S
    assert shed.run(10.0, IDLE) is State.RUNS
    assert shed.trailer.left_s == pytest.approx(5.0, abs=0.2)
    assert shed.run(6.0, IDLE) is State.OVER


def test_short_runs_add_up_until_it_has_rested_in_full():
    shed = Shed()
    for _ in range(3):
        shed.run(4.0, IDLE)
        shed.run(20.0, 0.0)
    assert shed.trailer.left_s == pytest.approx(3.0, abs=0.5)
    shed.run(REST_S - 25.0, 0.0)
    assert shed.trailer.left_s < DRY_S
    shed.run(10.0, 0.0)
    assert shed.trailer.left_s == DRY_S


def test_a_speed_that_is_not_known_never_stops_the_count_nor_lets_it_rest():
    shed = Shed()
    shed.run(5.0, IDLE)
    assert shed.run(4.0, None) is State.UNKNOWN
    assert shed.trailer.left_s == pytest.approx(6.0, abs=0.2)
    said = count(shed.trailer)
    assert (said.look, said.figure, said.say, said.note) == (Look.ALARM, "?", "Stop the engine", NOT_BY_US)
    shed.run(20.0, 0.0)
    shed.run(REST_S + 10.0, None)
    assert shed.trailer.used_s > 0, "nobody knows that it stood"


def test_a_person_may_say_that_it_stands_only_where_that_is_not_known():
    shed = Shed()
    shed.run(5.0, IDLE)
    shed.trailer.stands(shed.now)
    assert shed.run(1.0, IDLE) is State.RUNS
    shed.run(2.0, None)
    shed.trailer.stands(shed.now)
    assert shed.run(1.0, None) is State.READY
    assert shed.trailer.ended == pytest.approx(8.0, abs=0.3)


def test_a_starter_is_no_run():
    shed = Shed()
    assert shed.run(30.0, 230.0) is State.READY
    assert shed.trailer.left_s == DRY_S


def now(shed):
    """The step that is to be done now."""
    return next(line.strong for line in sheet(shed.trailer, shed.now)[1] if line.shape == "now")


def test_an_engine_started_before_the_hose_was_confirmed_wants_the_tap_on_at_once():
    shed = Shed(Water.HOSE)
    shed.run(1.0, IDLE)
    assert now(shed) == "3. Tap on at once."
    shed.trailer.say(None)
    shed.trailer.say(Water.HOSE)
    shed.run(0.2, IDLE)
    assert now(shed) == "3. Tap on at once.", "it runs while the hose is chosen"


def test_an_engine_that_was_stopped_early_is_not_said_to_be_flushed():
    shed = Shed(Water.HOSE)
    shed.trailer.step_done()
    shed.run(3.0, IDLE)
    shed.run(1.0, 0.0)
    assert sheet(shed.trailer, shed.now)[0] == "The engine stopped: tap OFF"
    assert now(shed) == "1. Hose on, tap off."


def test_on_the_hose_nothing_is_used_and_the_steps_follow_the_engine():
    shed = Shed(Water.HOSE)
    assert now(shed) == "1. Hose on, tap off."
    shed.trailer.step_done()
    assert now(shed) == "2. Start the engine."
    shed.trailer.step_done()
    assert now(shed) == "2. Start the engine.", "the engine speed tells whether it was started"
    shed.run(100.0, IDLE)
    title, lines = sheet(shed.trailer, shed.now)
    assert title == "On the hose: runs 1:40"
    assert [line.shape for line in lines] == ["tick", "tick", "now", "", ""]
    for _ in range(5):
        shed.trailer.step_done()
    assert now(shed) == "5. Engine off."
    shed.run(1.0, 0.0)
    title, lines = sheet(shed.trailer, shed.now)
    assert (title, {line.shape for line in lines}) == ("Flushed: hose off", {"tick"})
    assert shed.trailer.left_s == DRY_S
    assert note_text(Water.HOSE, shed.trailer.ended, DRY_S) == "On the trailer on the hose: ran 1 min"


def test_what_the_book_keeps_says_how_much_too_long():
    assert note_text(Water.NONE, 12.4, DRY_S) == "On the trailer without water: ran 12 s"
    assert note_text(Water.NONE, 21.0, DRY_S) == "On the trailer without water: ran 21 s, 6 s too long"


def test_before_anything_runs_the_hazards_are_named():
    """Those of the design: water, carbon monoxide, moving parts, jet, and what goes before the tool."""
    said = " ".join(f"{line.strong} {line.plain}" for line in sheet(Trailer(), 0.0)[1])
    for word in (
        "No water",
        "Carbon monoxide",
        "pump turns",
        "nozzle",
        "Lanyard",
        "maker's manual",
        "local rules",
    ):
        assert word in said
    assert cautions(Trailer()) == sheet(Trailer(), 0.0)[1]


def test_the_rest_is_told_in_minutes_and_seconds():
    shed = Shed()
    shed.run(16.0, IDLE)
    assert shed.run(3.0, 0.0) is State.RESTS
    assert sheet(shed.trailer, shed.now)[0].startswith("Let it cool 4:5")
    assert (clock(59.2), clock(60.0), clock(245.0)) == ("1:00", "1:00", "4:05")


@given(st.lists(st.tuples(st.sampled_from([None, 0.0, 230.0, IDLE]), st.floats(0.1, 40.0)), max_size=20))
def test_in_any_order_the_seconds_used_are_those_it_ran_or_may_have_run(steps):
    shed, ran, expected = Shed(), False, 0.0
    for speed, seconds in steps:
        whole = round(seconds / 0.1) * 0.1
        ran = speed == IDLE or (speed is None and ran)
        shed.run(whole, speed, step=0.1)
        expected += whole if ran else 0.0
    assert shed.trailer.used_s <= expected + 1e-6 + 0.1 * len(steps)
    if sum(seconds for _, seconds in steps) < REST_S:
        assert shed.trailer.used_s >= expected - 0.11 * len(steps) - 1e-6
    assert 0.0 <= shed.trailer.left_s <= DRY_S
