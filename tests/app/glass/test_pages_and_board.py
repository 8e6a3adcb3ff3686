"""Which signal stands where, what is remembered between two moments, and the Connection page."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from app.facts import connection_facts
from app.messages import Craft, LinkState
from app.pages import TILES, signal_pages
from app.reading import Quality
from app.show import Look


@given(st.data())
def test_every_signal_stands_on_exactly_one_page(make, data):
    groups = data.draw(st.lists(st.sampled_from("ABCD"), unique=True))
    names = data.draw(st.lists(st.text("xyz", min_size=1, max_size=5), unique=True, min_size=1, max_size=40))
    signals = [make.info(name, group=data.draw(st.sampled_from("ABCDE"))) for name in names]
    ride = data.draw(st.lists(st.sampled_from(names), unique=True, max_size=6))
    pages = signal_pages(make.catalogue(signals, ride=ride, groups=groups))
    shown = [name for page in pages for name in page.signals]
    assert sorted(shown) == sorted(names)
    assert pages[0].signals == tuple(ride)
    for page in pages[1:]:
        assert 1 <= len(page.signals) <= TILES
        assert page.title
        assert len({info.group for info in signals if info.name in page.signals}) == 1


def test_groups_keep_the_order_of_the_family_and_long_ones_are_numbered(make):
    signals = [make.info(f"A{number}", group="Air") for number in range(9)]
    signals += [make.info("E", group="Engine"), make.info("R", group="Ride")]
    pages = signal_pages(make.catalogue(signals, ride=["R"], groups=["Engine", "Air"]))
    assert [page.title for page in pages] == ["", "Engine", "Air, 1 of 2", "Air, 2 of 2"]


def test_a_big_value_that_the_craft_does_not_have_is_left_out(make):
    assert signal_pages(make.catalogue(ride=["Speed", "Nothing"]))[0].signals == ("Speed",)


def test_the_most_is_the_highest_good_speed_of_this_craft(make):
    board = make.board()
    for speed, quality in ((900.0, Quality.GOOD), (7620.0, Quality.GOOD), (9999.0, Quality.ERROR)):
        board.take(make.view(speed=speed, qualities={"Speed": quality}), make.now)
    board.take(make.view(speed=8800.0, age=1.0), make.now)
    assert board.most == 7620.0
    board.take(make.view(speed=700.0, number=2), make.now)
    assert board.most == 700.0


def test_another_serial_is_another_craft(make):
    board = make.board()
    for serial, speed, most in (
        (None, 900.0, 900.0),
        ("1", 800.0, 900.0),
        (None, 1, 900.0),
        ("2", 700.0, 700.0),
    ):
        craft = Craft("auk", "Auk three-cylinder", serial)
        board.take(make.view(speed=speed, craft=craft), make.now)
        assert board.most == most


def hot(make, value, quality=Quality.GOOD):
    limits = [make.limit("watch", "above", 14.5)]
    signals = [make.info("Volts", "V", 1, limits=limits, scale=(8, 16))]
    return make.view(
        catalogue=make.catalogue(signals, ride=["Volts"]), volts=value, qualities={"Volts": quality}
    )


def test_a_tile_is_judged_and_does_not_blink_at_its_limit(make):
    board = make.board()
    looks = []
    for value in (14.4, 14.6, 14.45, 14.6, 14.3):
        board.take(hot(make, value), make.now)
        looks.append(board.tile("Volts").look)
    assert looks == [Look.GOOD, Look.WATCH, Look.WATCH, Look.WATCH, Look.GOOD]


def test_only_good_values_are_judged(make):
    board = make.board()
    for quality in Quality:
        board.take(hot(make, 15.9, quality), make.now)
        assert (board.tile("Volts").look is Look.WATCH) == (quality is Quality.GOOD)


def test_the_connection_is_told_in_plain_facts(make):
    link = {"bitrate": 500_000, "frames": 48_213, "frames_per_s": 436.4, "bad_frames": 2}
    facts = {
        fact.label: fact.text for fact in connection_facts(make.moment(recording=make.recording(), **link))
    }
    assert facts == {
        "Link": "Craft found",
        "Bit rate": "500 kbit/s",
        "Frames": "48213",
        "Bad frames": "2",
        "Family": "Auk three-cylinder",
        "Serial": "20417",
        "Frames/s": "436",
        "Recorded": "175338",
        "Adapter": "slcan on /dev/ttyACM0",
        "Recording": "a.log, 175338 frames",
    }


def test_the_rows_of_the_connection_never_change_places(make):
    views = [
        make.nothing(),
        make.view(),
        make.view(connected=False),
        *(make.view(state=state) for state in LinkState),
    ]
    rows = {tuple((fact.label, fact.wide) for fact in connection_facts(make.moment(view))) for view in views}
    assert len(rows) == 1


def test_a_rate_of_frames_that_is_not_live_is_not_told(make):
    facts = {fact.label: fact.text for fact in connection_facts(make.moment(age=2.0, frames_per_s=436.0))}
    assert facts["Frames/s"] == "–"


def test_trouble_with_the_recording_is_told_in_its_place(make):
    moment = make.moment(recording=make.recording(trouble="The disk is full."))
    assert {fact.label: fact.text for fact in connection_facts(moment)}["Recording"] == "The disk is full."
