"""Limits of one craft: set by a technician with a reason, kept in a file, and taken back."""

import pytest
from msgspec import structs
from some_faults import report

from app.board import Board
from app.choices import Choices
from app.craft_limits import FILE, REASONS, CraftLimits, Own, key_of
from app.diagnosis import IdentityLine
from app.limiting import BACK_TO_FAMILY, TAKE, Limiting, fine_step
from app.show import Look, whose

KEY = "Speed alarm_above"
FOREIGN = IdentityLine("engine", "Engine controller software", "AE-99", foreign=True)


@pytest.fixture
def board(make, tmp_path):
    """A board that takes views of a craft with an alarm over 3000 and a generic watch over 3200 rev/min."""
    made = Board(make.now, Choices(tmp_path))

    def take(*, operator="Mara", foreign=False, serial="20417", speed=3480.0):
        limits = [make.limit("alarm", value=3000.0), make.limit("watch", value=3200.0, generic=True)]
        info = make.info("Speed", "rev/min", limits=limits, group="Engine", scale=(0, 9000))
        view = make.view(catalogue=catalogue(make, info), speed=speed)
        told = report(identity=[FOREIGN] if foreign else [])
        snapshot = structs.replace(
            view.snapshot,
            operator=operator,
            report=told.number,
            craft=structs.replace(view.snapshot.craft, serial=serial),
            link=structs.replace(view.snapshot.link, since=1.0),
        )
        made.take(structs.replace(view, snapshot=snapshot, report=structs.replace(told, craft="")), make.now)
        return made

    known = {}

    def catalogue(make, info):
        return known.setdefault("it", make.catalogue([info, *make.signals()[1:]]))

    return take


def limits_of(board):
    return [(limit.value, whose(limit)) for limit in board.moment.info("Speed").limits]


def set_to(board, value, reason="Engine modified"):
    limiting = Limiting()
    limiting.pick(KEY, board)
    assert limiting.step == "number"
    if reason == BACK_TO_FAMILY:
        return limiting.take_back(board)
    now = next(limit.value for limit in board.limits.said.signals[0].limits)
    limiting.move(str(value - now))
    limiting.move(TAKE)
    assert limiting.step == "reason"
    return limiting.reason(reason, board)


def test_a_limit_of_this_craft_takes_the_place_of_the_familys_and_says_whose_it_is(board):
    assert limits_of(board()) == [(3000.0, "family data"), (3200.0, "generic default")]
    said = set_to(board(), 4000.0)
    assert said == "speed: alarm over 4000 rev/min (engine modified); family data 3000 rev/min"
    made = board()
    assert limits_of(made) == [(4000.0, "this craft"), (3200.0, "generic default")]
    assert made.look("Speed") is Look.WATCH
    assert "engine modified" in made.moment.info("Speed").limits[0].source


def test_it_holds_for_a_modified_controller_whose_familys_limits_do_not(board):
    assert limits_of(board(foreign=True)) == [(3200.0, "generic default")]
    set_to(board(foreign=True), 3300.0)
    assert limits_of(board(foreign=True)) == [(3300.0, "this craft"), (3200.0, "generic default")]
    assert board(foreign=True).look("Speed") is Look.ALARM


def test_another_craft_of_the_family_keeps_its_own(board):
    set_to(board(), 4000.0)
    assert limits_of(board(serial="20418")) == [(3000.0, "family data"), (3200.0, "generic default")]


def test_it_is_taken_back_by_a_touch(board):
    set_to(board(), 4000.0)
    assert set_to(board(), 1.0, BACK_TO_FAMILY) == "speed: alarm over as before; family data 3000 rev/min"
    assert limits_of(board())[0] == (3000.0, "family data")
    assert set_to(board(), 1.0, BACK_TO_FAMILY) == ""


@pytest.mark.parametrize("operator", ["", "Ines"])
def test_only_a_technician_sets_one(board, operator):
    made = board(operator=operator)
    limiting = Limiting()
    assert "technician" in limiting.note(made)
    limiting.pick(KEY, made)
    assert limiting.step == "limit"


def test_who_signs_out_before_the_reason_sets_nothing(board):
    limiting = Limiting()
    limiting.pick(KEY, board())
    limiting.move(TAKE)
    assert limiting.reason("Engine modified", board(operator="")) == ""
    assert limits_of(board())[0] == (3000.0, "family data")


def test_the_number_moves_in_steps_within_the_scale_of_the_signal(board):
    limiting = Limiting()
    limiting.pick(KEY, board())
    assert [each.key for each in limiting.entries(board())] == [
        "-1000",
        "-100",
        "100",
        "1000",
        TAKE,
        BACK_TO_FAMILY,
    ]
    limiting.move("-1000")
    assert limiting.note(board()).startswith("2000 rev/min")
    for _ in range(5):
        limiting.move("-1000")
    assert limiting.note(board()).startswith("0 rev/min")
    for _ in range(20):
        limiting.move("1000")
    assert limiting.note(board()).startswith("9000 rev/min")
    limiting.move(TAKE)
    assert [each.key for each in limiting.entries(board())] == list(REASONS)


@pytest.mark.parametrize(
    ("low", "high", "step"),
    [(0, 9000, 100), (0, 120, 1), (8, 16, 0.1), (0, 700, 10), (-30, 30, 0.5), (0, 6, 0.05)],
)
def test_a_scale_has_about_a_hundred_steps(low, high, step):
    assert fine_step(low, high) == pytest.approx(step)


def test_what_was_set_is_there_after_a_restart(tmp_path):
    CraftLimits(tmp_path).put("auk 1", KEY, Own(4000.0, "Engine modified", "Mara"))
    again = CraftLimits(tmp_path)
    assert again.of("auk 1") == {KEY: Own(4000.0, "Engine modified", "Mara")}
    assert again.of("auk 2") == {}
    again.put("auk 1", KEY, None)
    assert CraftLimits(tmp_path).of("auk 1") == {}


@pytest.mark.parametrize(
    "text", ["", "{", "[1]", '{"auk 1": {"x": 1}}', '{"auk 1": {"x": {"value": "a"}}}', "\xff"]
)
def test_a_bad_file_stops_nothing_and_is_told(tmp_path, text):
    (tmp_path / FILE).write_text(text, "latin-1")
    limits = CraftLimits(tmp_path)
    assert limits.of("auk 1") == {}
    assert FILE in limits.notice


def test_where_nothing_can_be_written_it_holds_until_the_handheld_is_off(tmp_path):
    (tmp_path / "file").write_text("")
    limits = CraftLimits(tmp_path / "file")
    limits.put("auk 1", KEY, Own(1.0, "Engine modified"))
    assert limits.of("auk 1")
    assert "could not be saved" in limits.notice


def test_a_limit_is_kept_by_signal_severity_and_side(make):
    assert key_of("Speed", make.limit("alarm", "below", 1.0)) == "Speed alarm_below"
