"""The faults pages under a finger: what is asked of the craft, and what never is."""

from __future__ import annotations

import pytest
from keys_seen import keys, place, touch

pytestmark = pytest.mark.glass

CLEAR_NOW = "Clear 4 now"


@pytest.fixture
def asked(stage):
    """What has been asked about faults since the test began."""
    before = len(stage.ask("asked"))

    def about_faults():
        return [each for each in stage.ask("asked")[before:] if each[0] in ("ReadFaults", "ClearFaults")]

    return about_faults


def test_two_touches_from_the_ride_read_the_faults(stage, asked):
    assert stage.open("faults_unread")["name"] == "ride/1"
    stage.ask("pass_time", 0.6)
    seen = touch(stage, "Check")
    assert (seen["name"], seen["words"][0]) == ("check/faults", "Faults: not read yet")
    assert keys(seen) == ["Read faults", "Connection", "Quick check"]
    touch(stage, "Read faults")
    assert asked() == [["ReadFaults", {"type": "read_faults"}]]


def test_while_a_job_runs_there_is_nothing_to_touch_but_the_lanes(stage):
    seen = stage.open("faults_reading:Check")
    assert (seen["name"], keys(seen)) == ("check/reading", [])
    assert "4 of 9 steps done." in seen["words"]
    assert stage.open("faults_clearing:Check")["name"] == "check/clearing"


def test_a_finger_that_lay_on_a_key_when_a_job_began_does_nothing(stage, asked):
    spot = place(stage.open("faults_together_mara:Check"), "Read again")
    stage.ask("down", *spot)
    stage.ask("scene", "faults_reading")
    stage.ask("pass_time", 0.4)
    stage.ask("scene", "faults_together_mara")
    stage.ask("pass_time", 0.4)
    stage.ask("up", *spot)
    stage.ask("pass_time", 0.2)
    assert asked() == []


def test_the_connection_and_back(stage):
    seen = stage.open("faults_unread:Check+Connection")
    assert (seen["name"], keys(seen)) == ("check/connection", ["Faults", "Identity", "Hours"])
    assert touch(stage, "Faults")["name"] == "check/faults"


def test_the_connection_is_reached_from_the_second_part_of_a_long_list(stage):
    assert "Connection" not in keys(stage.open("faults_nine:Check"))
    assert touch(stage, "More", "Connection")["name"] == "check/connection"


def test_every_fault_of_a_long_list_is_reached(stage):
    seen = stage.open("faults_nine:Check")
    rows = list(seen["words"][1:])
    more = next(text for text in keys(seen) if text.startswith("More"))
    for _ in range(int(more.rpartition("/")[2]) - 1):
        rows += touch(stage, "More")["words"][1:]
    codes = [row.split()[0] for row in rows]
    wanted = ["P0117", "P0641", "P0107", "P0201", "P0087", "P0122", "P0301", "P0335", "U0100"]
    assert codes == ["3", *wanted], rows


def test_each_fault_has_a_page_and_behind_the_last_comes_the_first(stage):
    seen = stage.open("faults_together:Check+Details")
    titles = [seen["words"][0], *(touch(stage, "Next")["words"][0] for _ in range(4))]
    assert titles == [
        "Fault 1 / 4: P0117",
        "Fault 2 / 4: P0641",
        "Fault 3 / 4: P0107",
        "Fault 4 / 4: P0301",
        "Fault 1 / 4: P0117",
    ]
    assert touch(stage, "Back")["name"] == "check/faults"


def test_details_of_faults_that_are_there_no_more_say_so(stage):
    stage.open("faults_together:Check+Details")
    stage.ask("scene", "faults_unread")
    stage.ask("pass_time", 0.4)
    seen = stage.ask("measure")
    assert (seen["words"][0], keys(seen)) == ("No faults to show", ["Back"])


def test_clearing_asks_first_and_then_clears_the_report_that_was_shown(stage, asked):
    seen = stage.open("faults_together_mara:Check+Clear")
    assert seen["name"] == "check/clear"
    assert seen["words"][0] == "Clear 4 faults?"
    assert seen["words"][1] == "P0117, P0107, P0641, P0301."
    stage.ask("pass_time", 1.0)
    assert asked() == []
    seen = touch(stage, CLEAR_NOW)
    assert seen["name"] == "check/faults"
    ((name, what),) = asked()
    assert (name, what["report"]) == ("ClearFaults", 1)
    assert what["at"] == pytest.approx(stage.ask("now"), abs=1.0)


def test_keep_keeps(stage, asked):
    stage.open("faults_together_mara:Check+Clear")
    stage.ask("pass_time", 1.0)
    assert touch(stage, "Keep")["name"] == "check/faults"
    assert asked() == []


def test_clear_is_not_under_the_finger_that_opened_the_page(stage):
    first = stage.open("faults_together_mara:Check")
    spot = place(first, "Clear")
    seen = touch(stage, "Clear")
    under = [
        key["text"]
        for key in seen["keys"]
        if key["box"][0] <= spot[0] <= key["box"][0] + key["box"][2]
        and key["box"][1] <= spot[1] <= key["box"][1] + key["box"][3]
    ]
    assert under == []


def test_a_hasty_second_touch_clears_nothing(stage, asked):
    stage.open("faults_together_mara:Check")
    stage.ask("tap", "Clear")
    stage.ask("tap", CLEAR_NOW)
    stage.ask("pass_time", 0.2)
    assert stage.ask("measure")["name"] == "check/clear"
    assert asked() == []
    stage.ask("pass_time", 1.0)
    touch(stage, CLEAR_NOW)
    assert [name for name, _ in asked()] == ["ClearFaults"]


def test_when_another_reading_comes_the_key_is_gone_and_nothing_is_cleared(stage, asked):
    seen = stage.open("faults_together_mara:Check+Clear")
    stage.ask("pass_time", 1.0)
    spot = place(seen, CLEAR_NOW)
    stage.ask("down", *spot)
    stage.ask("scene", "faults_newer")
    stage.ask("pass_time", 0.4)
    stage.ask("up", *spot)
    stage.ask("pass_time", 0.2)
    seen = stage.ask("measure")
    assert (seen["name"], keys(seen)) == ("check/clear_other", ["Keep"])
    assert asked() == []
    assert touch(stage, "Keep")["words"][0].startswith("1 fault, read ")
    assert touch(stage, "Clear")["words"][:2] == ["Clear 1 fault?", "P0301."]
    stage.ask("pass_time", 1.0)
    touch(stage, "Clear 1 now")
    assert [what["report"] for _, what in asked()] == [2]


def test_a_touch_before_the_other_reading_is_drawn_still_names_the_one_that_was_shown(stage, asked):
    seen = stage.open("faults_together_mara:Check+Clear")
    stage.ask("pass_time", 1.0)
    stage.ask("scene", "faults_newer")
    spot = place(seen, CLEAR_NOW)
    stage.ask("down", *spot)
    stage.ask("up", *spot)
    assert [what["report"] for _, what in asked()] == [1]


@pytest.mark.parametrize("who", ["nobody", "ines"])
def test_only_a_technician_gets_the_key_and_signing_in_is_offered(stage, asked, who):
    seen = stage.open(f"faults_together_{who}:Check+Clear")
    assert (seen["name"], keys(seen)) == ("check/clear_needs", ["Keep", "Sign in Mara"])
    assert "Sign in as technician." in seen["words"][1]
    stage.ask("pass_time", 1.0)
    touch(stage, "Sign in Mara")
    assert stage.ask("asked")[-1] == [
        "SignIn",
        {"type": "sign_in", "operator": "Mara", "role": "technician"},
    ]
    assert keys(stage.ask("measure")) == ["Keep", CLEAR_NOW]
    assert asked() == []


def test_an_old_reading_is_read_again_instead(stage, asked):
    seen = stage.open("faults_together_stale:Check+Clear")
    assert keys(seen) == ["Keep", "Read again"]
    stage.ask("pass_time", 1.0)
    assert touch(stage, "Read again")["name"] == "check/faults"
    assert [name for name, _ in asked()] == ["ReadFaults"]


def test_a_page_that_is_left_and_opened_again_asks_about_what_is_there_then(stage):
    stage.open("faults_together_mara:Check+Clear")
    touch(stage, "Ride")
    stage.ask("scene", "faults_newer")
    assert touch(stage, "Check", "Clear")["words"][0] == "Clear 1 fault?"


def test_what_cannot_be_read_has_no_key_that_reads(stage):
    for scene in ("faults_reading_lost", "faults_reading_hung", "silent", "starting"):
        assert not [key for key in keys(stage.open(f"{scene}:Check")) if key.startswith("Read")]


def test_a_note_takes_two_touches_and_goes_to_the_book_beside_its_code(stage):
    stage.open("faults_together:Check+Details")
    before = len(stage.ask("book", "notes"))
    seen = touch(stage, "Note")
    assert seen["words"][0] == "Note on P0117"
    seen = touch(stage, "Part replaced")
    assert seen["words"][0] == "Fault 1 / 4: P0117"
    notes = stage.ask("book", "notes")
    assert len(notes) == before + 1
    kind, craft, body = notes[-1]
    assert (kind, craft) == ("note", "auk 20417")
    assert (body["module"], body["code"], body["choice"]) == ("engine", "P0117", "Part replaced")


def test_a_note_that_is_left_is_not_put_down(stage):
    stage.open("faults_together:Check+Details+Note")
    before = len(stage.ask("book", "notes"))
    assert touch(stage, "Back")["words"][0] == "Fault 1 / 4: P0117"
    touch(stage, "Note")
    touch(stage, "Ride")
    stage.ask("pass_time", 0.4)
    touch(stage, "Check")
    assert touch(stage, "Details")["words"][0] == "Fault 1 / 4: P0117"
    assert len(stage.ask("book", "notes")) == before


def test_a_double_touch_of_note_puts_none_down(stage):
    first = stage.open("faults_together:Check+Details")
    x, y = place(first, "Note")
    before = len(stage.ask("book", "notes"))
    for _ in range(2):
        stage.ask("down", x, y)
        stage.ask("pass_time", 0.06)
        stage.ask("up", x, y)
        stage.ask("pass_time", 0.06)
    stage.ask("pass_time", 0.4)
    assert len(stage.ask("book", "notes")) == before
    assert stage.ask("measure")["words"][0] == "Fault 1 / 4: P0117"
