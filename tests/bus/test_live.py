"""The live table: the newest value of each signal, of one sender and one engine."""

import pytest

from app.reading import Quality, Reading
from bus.family import SHIPPED, load_family
from bus.live import LiveTable


@pytest.fixture
def table():
    return LiveTable(load_family(SHIPPED / "nmea2000").catalogue(1))


def speed(value, source=16):
    return Reading("EngineSpeed", value, "rpm", None, Quality.GOOD, source)


def shown(table, now):
    return [value.value for value in table.values(now, all_stale=False)]


def test_two_engines_of_one_sender_never_take_turns(table):
    for turn in range(10):
        table.put(speed(1000.0), turn / 10, "Port")
        table.put(speed(3000.0), turn / 10 + 0.05, "Starboard")
        assert shown(table, turn / 10 + 0.06) == [1000.0]


def test_two_senders_never_take_turns_and_the_second_steps_in_when_the_first_is_old(table):
    table.put(speed(1000.0, 1), 0.0)
    table.put(speed(3000.0, 2), 0.1)
    assert shown(table, 0.1) == [1000.0]
    table.put(speed(3000.0, 2), 10.0)
    assert shown(table, 10.0) == [3000.0]


def test_a_value_turns_stale_at_its_own_maximum_age(table):
    info = next(info for info in table.catalogue.signals if info.name == "EngineSpeed")
    table.put(speed(1000.0), 0.0)
    qualities = [
        table.values(now, all_stale=False)[0].quality for now in (info.max_age - 0.01, info.max_age + 0.01)
    ]
    assert qualities == [Quality.GOOD, Quality.STALE]
    assert table.values(0.0, all_stale=True)[0].quality is Quality.STALE


def test_text_of_whole_numbers_has_no_fraction_and_only_good_values_have_text(table):
    table.put(speed(20417.0), 0.0)
    assert table.text("EngineSpeed") == "20417"
    table.put(Reading("EngineSpeed", None, "rpm", None, Quality.ERROR, 16), 0.1)
    assert table.text("EngineSpeed") is None
    assert table.text("NoSuchSignal") is None
