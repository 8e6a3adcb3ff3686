"""Every screen at every panel, measured in millimetres.

Sizes: targets of 20 mm (Colle and Hiszem, Ergonomics 47(13), 2004: errors with touch keys fall up to 20 mm),
3 mm apart; lanes 15 mm high by our own rule. Letters: FAA human factors guidance asks for 16 minutes of arc
at least, 20 for what changes; at 400 mm, a handheld in the hand, that is 1.9 and 2.3 mm of capital height.
"""

from __future__ import annotations

from itertools import combinations

import pytest
from keys_seen import LANES

pytestmark = pytest.mark.glass

PAGES = 11
"""Of the Ride lane."""

GIVE_WAY = {"bench/hold", "bench/latched", "bench/unconfirmed", "ride/locked", "ride/alarm", "ride/dry"}
"""While an output is armed, live, holds by itself or is not confirmed stopped there is no other way to go;
nor is there for who rides, has not seen an alarm, or runs an engine without water."""
HALF_PIXEL = 0.5
LINE = 1.215
"""Height of a line of B612 as a share of the em: ascent 0.965 and descent 0.250 of the font file."""
DESCENDING = set("gjpqy,;/()")


def in_mm(stage, pixels):
    return pixels * 25.4 / stage.facts["dpi"]


def offenders(stage, wrong):
    """Sentences of every view that ``wrong`` (a function of one measure) finds fault with."""
    return [f"{view}: {fault}" for view, seen in stage.all_views().items() for fault in wrong(seen)]


def gap(one, other):
    """Pixels between two boxes, negative where they overlap."""
    across = max(one[0], other[0]) - min(one[0] + one[2], other[0] + other[2])
    up = max(one[1], other[1]) - min(one[1] + one[3], other[1] + other[3])
    return max(across, up)


def letters(stage, label):
    """The box that ink fills: without what a line keeps free above its capitals and below its baseline."""
    x, y, width, height = label["box"]
    cap, descent = stage.facts["cap"], stage.facts["descent"]
    above = label["em"] * max(0.0, LINE - cap - descent)
    last = label["text"].split("\n")[-1]
    below = 0 if set(last) & DESCENDING else label["em"] * descent
    return [x, y + below, width, height - above - below]


def test_every_key_can_be_hit_by_a_wet_finger(panel_stage):
    def wrong(seen):
        for key in seen["keys"]:
            width, height = (in_mm(panel_stage, side) for side in key["box"][2:])
            if width < 20 or height < (15 if key["text"] in LANES else 20):
                yield f"{key['text']} is {width:.1f} × {height:.1f} mm"

    assert offenders(panel_stage, wrong) == []


def test_keys_keep_three_millimetres_apart(panel_stage):
    def wrong(seen):
        for one, other in combinations(seen["keys"], 2):
            apart = in_mm(panel_stage, gap(one["box"], other["box"]))
            if apart < 3:
                yield f"{one['text']} and {other['text']} are {apart:.2f} mm apart"

    assert offenders(panel_stage, wrong) == []


def test_the_lanes_stand_on_every_other_screen_and_one_is_where_you_are(panel_stage):
    """All four; the one to the tests is left out of a craft that has nothing to test."""
    views = panel_stage.all_views()
    first = lanes_of(views["good"])
    assert list(first) == list(LANES)
    for view, seen in views.items():
        lanes = lanes_of(seen)
        if seen["name"] in GIVE_WAY:
            assert lanes == {}, f"{view}: the lanes did not give way"
            continue
        without = {"Bench"} if view.startswith("heard_") else set()
        assert lanes == {lane: box for lane, box in first.items() if lane not in without}, view
        assert sum(key["here"] for key in seen["keys"] if key["text"] in LANES) == 1, view


def lanes_of(seen):
    return {key["text"]: key["box"] for key in seen["keys"] if key["text"] in LANES}


def test_nothing_is_clipped(panel_stage):
    def wrong(seen):
        width, height = seen["window"]
        for label in seen["labels"]:
            x, y, wide, high = letters(panel_stage, label)
            for where, (left, low, across, up) in (
                ("its place", label["owner_box"]),
                ("the window", [0, 0, width, height]),
            ):
                inside = left <= x + HALF_PIXEL and x + wide <= left + across + HALF_PIXEL
                inside = inside and low <= y + HALF_PIXEL and y + high <= low + up + HALF_PIXEL
                if not inside:
                    yield f"{label['text']!r} leaves {where} ({label['owner']})"
            if label["texture"][0] > label["box"][2] + HALF_PIXEL:
                yield f"{label['text']!r} is wider than its widget"

    assert offenders(panel_stage, wrong) == []


def test_no_text_lies_on_another(panel_stage):
    def wrong(seen):
        boxes = [(label["text"], letters(panel_stage, label)) for label in seen["labels"]]
        for (one, box), (other, second) in combinations(boxes, 2):
            if gap(box, second) < -HALF_PIXEL:
                yield f"{one!r} and {other!r}"

    assert offenders(panel_stage, wrong) == []


def test_nothing_had_to_be_shortened(panel_stage):
    def wrong(seen):
        return [label["text"] for label in seen["labels"] if "…" in label["text"]]

    assert offenders(panel_stage, wrong) == []


def test_tiles_do_not_overlap_each_other_or_a_key(panel_stage):
    def wrong(seen):
        boxes = [(tile["signal"], tile["box"]) for tile in seen["tiles"]]
        boxes += [(key["text"], key["box"]) for key in seen["keys"]]
        for (one, box), (other, second) in combinations(boxes, 2):
            if gap(box, second) < 0:
                yield f"{one} and {other}"

    assert offenders(panel_stage, wrong) == []


def test_letters_are_large_enough_for_arms_length(panel_stage):
    def wrong(seen):
        for label in seen["labels"]:
            capital = in_mm(panel_stage, label["em"] * panel_stage.facts["cap"])
            if capital < 2.2:
                yield f"{label['text']!r} has capitals of {capital:.2f} mm"

    assert offenders(panel_stage, wrong) == []


def test_figures_have_capitals_of_six_millimetres_and_the_arc_twelve(panel_stage):
    def wrong(seen):
        for tile in seen["tiles"]:
            if tile["look"] not in ("good", "watch", "alarm") or not tile["drawn"][-1].isdigit():
                continue
            arc = tile["signal"] == "EngineSpeed" and seen["name"] == "ride/1"
            wanted = 11.0 if arc else 5.3 if len(tile["drawn"]) > 6 else 6.0
            if seen["name"] == "ride/chart":  # four strips: its line is what is looked at
                wanted = 4.3
            mine = [label for label in seen["labels"] if label["owner_box"] == tile["box"]]
            em = max(label["em"] for label in mine if label["text"] == tile["drawn"])
            capital = in_mm(panel_stage, em * panel_stage.facts["cap"])
            if capital < wanted:
                yield f"{tile['signal']} {tile['drawn']} has figures of {capital:.2f} mm"

    assert offenders(panel_stage, wrong) == []


def test_page_keys_stay_in_their_place_when_the_craft_is_lost(panel_stage):
    views = panel_stage.all_views()
    for page in ("", ":Page+Page"):
        live, lost = views[f"good{page}"]["keys"], views[f"lost{page}"]["keys"]
        assert [(key["text"], key["box"]) for key in live] == [(key["text"], key["box"]) for key in lost]


def test_the_next_page_is_always_under_the_same_finger(panel_stage):
    views = panel_stage.all_views()
    places = []
    for turns in range(PAGES):
        view = "good" if not turns else f"good:{'+'.join(['Page'] * turns)}"
        places += [key["box"] for key in views[view]["keys"] if key["text"].startswith("Page")]
    assert len(places) == PAGES
    x, y, width, height = places[1]
    middle = (x + width / 2, y + height / 2)
    assert all(left <= middle[0] <= left + w and low <= middle[1] <= low + h for left, low, w, h in places)
