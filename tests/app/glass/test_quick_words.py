"""What the quick check says. Expectations are written out by hand."""

from __future__ import annotations

import msgspec
import pytest
from quick_craft import OFF, RUNS, check, report
from test_quick_check import FAMILY, fault

from app.messages import LinkState
from app.quick_words import entry_body, quick_words
from app.reading import Quality


def rows(made):
    """Head and what is below it, by shape."""
    return [(row.shape, row.head, row.under) for row in quick_words(made).rows]


def test_a_fit_craft_with_its_engine_off_says_what_was_not_checked(seen):
    said = quick_words(check(seen, without=("level", "check", "hot", "warning")))
    assert (said.title, said.shape) == ("Fit", "tick")
    assert said.said == "Checked with the engine off. Not checked: oil."
    assert [(row.shape, row.head, row.under) for row in said.rows] == [
        ("tick", "Values: all 7 values are fresh", "Old after 0.5 s · family data."),
        ("tick", "Faults: none stored", "Engine controller, Display: read just now."),
        ("tick", "Battery 12.6 V, engine off", "12.2 to 15 V · generic default."),
        ("tick", "Lanyard in place, key 40.0 %", "Power not limited. Key at least 1 % · generic default."),
        ("tick", "Coolant 60.0 °C, exhaust 40.0 °C", "At most 95 °C, 80 °C · generic default."),
        ("", "Oil: not judged, engine off", "It shows only while the engine runs."),
    ]


def test_with_the_engine_running_it_says_that_the_battery_was_not_checked_at_rest(seen):
    said = quick_words(check(seen, RUNS))
    assert said.said == "Checked with the engine running. Battery at rest was not checked."
    assert ("tick", "Battery 14.1 V, engine running", "12.8 to 15 V · generic default.") in rows(
        check(seen, RUNS)
    )


@pytest.mark.parametrize(
    ("values", "row", "said"),
    [
        (
            {"battery": 12.1},
            (
                "triangle",
                "Battery low: 12.1 V, engine off",
                "Under 12.2 V · generic default. Charge the battery.",
            ),
            "Not yet for hire. Charge the battery.",
        ),
        (
            {"battery": 11.0},
            (
                "square",
                "Battery too low: 11.0 V, engine off",
                "Under 11.5 V · generic default. Charge the battery.",
            ),
            "Not for hire. Charge the battery.",
        ),
        (
            {"coolant": 104.0},
            (
                "square",
                "Coolant too hot: 104.0 °C",
                "Over 102 °C · generic default. Engine off. Cap stays shut.",
            ),
            "Not for hire. Engine off. Cap stays shut.",
        ),
        (
            RUNS | {"oil": 60.0},
            (
                "square",
                "Oil too low: 60.0 kPa",
                "Under 70 kPa · generic default. Engine off at once. Technician.",
            ),
            "Not for hire. Engine off at once. Technician.",
        ),
        (
            {"limited": "Overheat"},
            ("square", "Power is limited: overheat", "Show a technician."),
            "Not for hire. Show a technician.",
        ),
        (
            {"lanyard": "Pulled"},
            ("triangle", "Lanyard pulled", "Clip the lanyard in."),
            "Not yet for hire. Clip the lanyard in.",
        ),
        (
            {"level": "On"},
            ("triangle", "Low-oil-level warning on", "Oil by the maker's manual."),
            "Not yet for hire. Oil by the maker's manual.",
        ),
    ],
)
def test_a_bad_row_says_what_was_seen_the_limit_and_what_to_do(seen, values, row, said):
    words = quick_words(check(seen, values))
    first = words.rows[0]
    assert (first.shape, first.head, first.under) == row
    assert (words.shape, words.said) == (row[0], said)
    assert words.title == {"triangle": "Look", "square": "Keep\nashore"}[row[0]]


def test_a_limit_of_the_family_says_so(seen):
    made = check(seen, {"battery": 12.3}, limits=FAMILY)
    assert rows(made)[0] == (
        "triangle",
        "Battery low: 12.3 V, engine off",
        "Under 12.4 V · family data. Charge the battery.",
    )


@pytest.mark.parametrize(
    ("how", "row"),
    [
        (
            {"ages": {"coolant": 12.0}},
            ("triangle", "Values old: coolant", "Old after 0.5 s · family data. Key on? Plug in?"),
        ),
        (
            {"qualities": {"coolant": Quality.ERROR}},
            ("triangle", "Coolant: not known", "Sensor fault, says the controller. Show a technician."),
        ),
        (
            {"values": OFF | {"speed": 200.0, "state": "Cranking"}},
            ("triangle", "Battery: not known", "The engine is turning. Wait, check again."),
        ),
        (
            {"told": report(unread=["display"])},
            (
                "triangle",
                "Faults: Display was not read",
                "It did not answer. Key on, plug in, check again.",
            ),
        ),
        (
            {"told": "none"},
            ("triangle", "Faults: not read", "No reading has come. Key on, plug in, check again."),
        ),
        ({"told": report(fault(0x28))}, ("triangle", "Stored: P0301", "Misfire. Show a technician.")),
        (
            {"told": report(*[fault(0x2F)] * 5)},
            ("square", "Failing now: P0301, P0301, P0301 and 2 more", "Misfire. Show a technician."),
        ),
        (
            {"connected": False},
            (
                "triangle",
                "Values old: 11 of 11",
                "Old after 0.5 s · family data. Wait, the tool starts again.",
            ),
        ),
    ],
)
def test_what_is_not_known_says_why_and_what_to_do(seen, how, row):
    assert rows(check(seen, **how))[0] == row


def test_without_a_craft_it_says_so_and_draws_no_shape(seen):
    said = quick_words(check(seen, state=LinkState.SILENT))
    assert (said.title, said.shape, said.rows) == ("No\ncraft", "", ())


def test_while_the_faults_are_read_no_verdict_is_drawn(seen):
    said = quick_words(check(seen, told="none", began=998.0))
    assert (said.title, said.shape) == ("One\nmoment", "")
    assert rows(check(seen, told="none", began=998.0))[0][:2] == ("", "Faults: being read")


def test_the_book_gets_every_row_as_plain_json(seen):
    made = check(seen, {"battery": 11.0})
    body = entry_body(made)
    assert msgspec.json.decode(msgspec.json.encode(body)) == body
    assert (body["verdict"], body["engine"]) == ("keep ashore", "off")
    assert [one["row"] for one in body["rows"]] == [row.key for row in made.rows]
    assert body["rows"][0] == {
        "row": "battery",
        "verdict": "keep ashore",
        "known": True,
        "seen": "Battery too low: 11.0 V, engine off",
        "limit": "Under 11.5 V · generic default. Charge the battery.",
    }
