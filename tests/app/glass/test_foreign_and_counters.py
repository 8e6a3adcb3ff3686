"""A calibration that the family does not know takes its limits away; counters say what came since last."""

from __future__ import annotations

import pytest
from msgspec import structs, to_builtins
from some_faults import report, rows, shapes

from app.counter_words import counter_words, counters_of
from app.diagnosis import IdentityLine
from app.entry import Kind
from app.foreign import WHY, foreign_lines
from app.identity_words import identity_words
from app.messages import LinkState
from app.show import Look
from app.strip import strip
from app.visits import last_visit


def software(*, foreign=True):
    return IdentityLine("engine", "Engine controller software", "AE-99", foreign=foreign)


def counter(label, value):
    return IdentityLine("engine", label, value, counter=True)


def board_after(make, told, *, limits, **view):
    """A board that has taken a craft whose speed has these limits, after this reading."""
    speed = make.info("Speed", "rev/min", limits=limits, group="Engine", scale=(0, 9000))
    craft = make.info("Craft", "km/h", group="Engine", scale=(0, 100))
    catalogue = make.catalogue([speed, *make.signals()[1:], craft])
    catalogue = structs.replace(catalogue, roles={**catalogue.roles, "craft_speed": "Craft"})
    made = make.view(catalogue=catalogue, **view)
    snapshot = structs.replace(
        made.snapshot, report=told.number, link=structs.replace(made.snapshot.link, since=1.0)
    )
    board = make.board()
    board.take(structs.replace(made, snapshot=snapshot, report=told), make.now)
    return board


def test_the_familys_own_limits_do_not_apply_to_a_calibration_it_does_not_know(make):
    own, generic = make.limit("alarm", value=3000.0), make.limit("watch", value=3200.0, generic=True)
    known = board_after(make, report(identity=[software(foreign=False)]), limits=[own, generic])
    foreign = board_after(make, report(identity=[software()]), limits=[own, generic])
    assert any(
        info.name.startswith("=") for info in foreign.moment.catalogue.signals
    )  # with derived ones too
    assert known.look("Speed") is Look.ALARM
    assert foreign.look("Speed") is Look.WATCH  # what is common practice holds for any engine
    assert foreign.moment.info("Speed").limits == [generic]
    assert known.moment.info("Speed").limits == [own, generic]


def test_what_was_read_of_another_craft_takes_nothing_away(make):
    own = make.limit("alarm", value=3000.0)
    board = board_after(make, report(identity=[software()], craft="auk 20418"), limits=[own])
    assert board.look("Speed") is Look.ALARM


def boxes(moment):
    return [(box.text, box.watch) for box in strip(moment, with_speed=False).boxes if box.kind == "foreign"]


def test_every_page_says_so_while_the_craft_is_heard_and_the_identity_page_says_why(make):
    told = report(identity=[IdentityLine("engine", "Engine hours", "12.0", "h"), software()])
    moment = make.after_reading(told)
    assert [line.value for line in foreign_lines(moment)] == ["AE-99"]
    assert boxes(moment) == [("Modified", True)]
    _, lines = identity_words(moment)
    assert rows(lines)[0] == f"Engine controller software: AE-99 {WHY}"
    assert shapes(lines)[0] == "triangle"
    assert boxes(make.after_reading(report(identity=[software(foreign=False)]))) == []
    assert boxes(make.after_reading(told, state=LinkState.LOST)) == []


def test_counters_have_a_page_of_their_own(make):
    told = report(identity=[software(foreign=False), counter("Starts", "812"), counter("Overheat", "")])
    moment = make.after_reading(told)
    title, lines = counter_words(moment)
    assert title == "Counters, read 2 min ago"
    assert rows(lines) == ["Starts: 812", "Overheat: not given"]
    assert not any("Starts" in line.strong for line in identity_words(moment)[1])


@pytest.fixture
def scan(make_entry):
    """An entry of a reading on this visit."""
    return lambda body, visit: structs.replace(make_entry(Kind.SCAN, to_builtins(body)), visit=visit)


def test_what_came_since_the_last_visit_is_told_and_fewer_is_a_controller_replaced_or_reset(make, scan):
    was = report(identity=[counter("Starts", "800"), counter("Overheat", "3")])
    now = report(identity=[counter("Starts", "812"), counter("Overheat", "1")])
    before = last_visit([scan(now, "b"), scan(was, "a")], counters_of)
    assert rows(counter_words(make.after_reading(now), before)[1]) == [
        "Starts: 812 12 more than at the last visit",
        "Overheat: 1 3 at the last visit: replaced or reset.",
    ]


def test_where_there_are_none_it_says_why(make):
    assert counter_words(make.after_reading(None))[0] == "Counters: not read yet"
    assert counter_words(make.after_reading(report()))[0] == "Counters: not told"
    old = counter_words(make.after_reading(report(identity=[counter("Starts", "1")]), state=LinkState.LOST))
    assert old[0].startswith("Counters, OLD")
