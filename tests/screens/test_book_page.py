"""The Book lane: what stands in the book, newest first, a page at a time, and none left out."""

from __future__ import annotations

import pytest
from keys_seen import keys

pytestmark = pytest.mark.glass

HERE = "auk 20417"
ALL, OF_THIS_CRAFT = 16, 11
"""How many entries tests/screens/fake_book.py holds, counted by hand."""


def rows(seen):
    return seen["words"][1:]


def every_row(stage, seen):
    """All rows of this page and of every older one."""
    found = rows(seen)
    while "Older" in keys(seen):
        stage.ask("tap", "Older")
        seen = stage.ask("measure")
        assert rows(seen), "a page without a row"
        found += rows(seen)
    return found


def test_the_book_opens_with_the_newest_entry_of_the_craft_that_is_heard(panel_stage):
    seen = panel_stage.open("good:Book")
    assert seen["name"] == "book/1"
    assert seen["words"][0] == f"Craft book: {HERE}"
    assert rows(seen)[0].endswith("Outputs locked: Coil 2 was not confirmed stopped. By Mara")
    assert keys(seen) == ["All craft", "Sign in", "Older"]


def test_without_a_craft_it_opens_with_all_and_offers_no_choice(stage):
    seen = stage.open("starting:Book")
    assert seen["words"][0] == "Craft book"
    assert rows(seen)[0].endswith(f"By Mara, {HERE}")
    assert keys(seen) == ["Sign in", "Older"]


def test_a_page_holds_three_entries_at_least(panel_stage):
    assert len(rows(panel_stage.open("good:Book"))) >= 3


def test_every_entry_can_be_reached_in_its_order_and_only_once(panel_stage):
    found = every_row(panel_stage, panel_stage.open("good:Book+All craft"))
    stamps = [row[:16] for row in found]
    assert len(found) == ALL
    assert stamps == sorted(set(stamps), reverse=True)
    assert found[-1].endswith("This book was begun.")


def test_of_this_craft_nothing_of_another_is_shown(panel_stage):
    found = every_row(panel_stage, panel_stage.open("good:Book"))
    assert len(found) == OF_THIS_CRAFT
    assert not any("skua" in row for row in found)


def test_newer_leads_back_over_the_same_pages(stage):
    seen = stage.open("good:Book+All craft")
    pages = [seen["words"]]
    while "Older" in keys(seen):
        stage.ask("tap", "Older")
        seen = stage.ask("measure")
        pages.append(seen["words"])
    assert len(pages) > 3
    for wanted in reversed(pages[:-1]):
        stage.ask("tap", "Newer")
        seen = stage.ask("measure")
        assert seen["words"] == wanted
    assert "Newer" not in keys(seen)


def test_the_key_switches_between_this_craft_and_all(stage):
    stage.open("good:Book+Older")
    stage.ask("tap", "All craft")
    seen = stage.ask("measure")
    assert seen["words"][0] == "Craft book: all craft"
    assert "Newer" not in keys(seen)
    stage.ask("tap", "This craft")
    assert stage.ask("measure")["words"][0] == f"Craft book: {HERE}"


def test_an_output_test_says_which_output_whether_it_fired_how_it_ended_and_whether_that_was_confirmed(stage):
    found = [row[17:] for row in every_row(stage, stage.open("good:Book"))]
    assert "Injector 1: fired, confirmed stopped. Finger lifted. By Mara" in found
    assert "Coil 2: NOT CONFIRMED STOPPED. The adapter is gone. By Mara" in found
    assert "Injector 1 refused: Vent 3 min 20 s more. By Mara" in found


def test_a_controller_that_was_not_read_is_never_left_out(stage):
    found = every_row(stage, stage.open("good:Book"))
    assert any("NOT READ: Gauge display" in row for row in found)


def test_a_long_entry_is_shown_whole(panel_stage):
    found = every_row(panel_stage, panel_stage.open("good:Book"))
    assert any("pulls to the left" in row and "with a full tank. By Mara" in row for row in found)


def test_what_is_too_long_for_the_panel_still_ends_above_the_keys(panel_stage):
    try:
        panel_stage.ask("book", "note", "It began to pull to the left again and again. " * 40)
        seen = panel_stage.open("good:Book")
    finally:
        panel_stage.ask("book", "note")
    (row,) = rows(seen)[:1]
    assert row.endswith(" entry 17.) By Mara")
    foot = max(key["box"][1] + key["box"][3] for key in seen["keys"])
    lines = [label["box"] for label in seen["labels"] if label["owner"] == "LineList"]
    assert min(box[1] for box in lines) >= foot


def test_what_is_wrong_with_the_book_stands_first_on_its_first_page_alone(panel_stage):
    seen = panel_stage.open("trouble:Book")
    assert rows(seen)[0].startswith("The storage is nearly full: 61 MiB are left.")
    found = every_row(panel_stage, seen)
    assert len(found) == 1 + OF_THIS_CRAFT


def test_a_person_signs_in_from_the_book_and_is_noted_there(stage):
    before = len(stage.ask("book", "people"))
    assert stage.open("good:Book+Sign in")["name"] == "people"
    stage.ask("tap", "Mara")
    who = keys(stage.ask("measure"))[1]
    stage.ask("tap", who)
    stage.ask("tap", "Nobody")
    assert stage.ask("measure")["name"] == "book/1"
    assert stage.ask("book", "people")[before:] == ["Mara", None]


def test_every_view_is_shown_to_the_keeper_of_the_book(stage):
    before = stage.ask("book", "views")
    stage.ask("pass_time", 0.5)
    assert stage.ask("book", "views") == before + 10


def test_leaving_the_lane_and_coming_back_shows_the_newest_again(stage):
    stage.open("good:Book+All craft+Older")
    stage.ask("tap", "Ride")
    stage.ask("tap", "Book")
    seen = stage.ask("measure")
    assert seen["words"][0] == f"Craft book: {HERE}"
    assert "Newer" not in keys(seen)


def test_a_page_that_is_read_stays_when_something_new_is_noted(stage):
    seen = stage.open("good:Book+Older")
    try:
        stage.ask("book", "note", "Just in")
        stage.ask("pass_time", 0.3)
        assert stage.ask("measure")["words"] == seen["words"]
        stage.ask("tap", "Newer")
        assert rows(stage.ask("measure"))[0].endswith("Note: Just in. By Mara")
    finally:
        stage.ask("book", "note")
