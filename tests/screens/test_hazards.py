"""Every hazard of this work is named on a page where the hand is, in words that are on the glass.

Looked for in what the pages say, not in the tables they are made from. The hazards are those of the design
and of the usual courses for such craft: ignition protection 33 CFR 183.410, blower and sniffing 33 CFR 183
subpart K, carbon monoxide from work of NIOSH on boats, lanyard 46 USC 4312; spark, pressure and hot parts are
common practice, no source.
"""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.glass

HAZARDS = {
    "vapour": ("cautions:Bench+Injector 2", "Any switch can light vapour."),
    "fuel let in": ("cautions:Bench+Injector 2", "No flame, no spark, extinguisher near."),
    "spark": ("cautions:Bench+Ignition coil 1", "Up to 40 kV. Dry hands, clamped tester, no pacemaker near."),
    "fuel under pressure": ("cautions:Bench+Page+Fuel pump", "Fuel under pressure. Look for leaks;"),
    "moving parts": ("cautions:Bench+Page+Bilge pump", "The pump turns at once. Fingers out of it."),
    "jet pump": ("stopped:More+On the", "The pump turns. Hands, feet, hair off intake and nozzle."),
    "jet pump under a crank": ("inhibit_two:Bench+Hold fuel off", "The jet pump turns. Hands off;"),
    "without water": ("stopped:More+On the", "No water: 15 s at most."),
    "jet intake and nozzle": ("stopped:More+On the+Hose", "hands off pump, intake and nozzle."),
    "carbon monoxide": ("stopped:More+On the", "Outdoors only. Carbon monoxide kills;"),
    "hot parts": ("stopped:More+On the+No+scene=idle+minute+scene=stopped+wait", "Hands off hot parts."),
    "the handheld itself": (
        "cautions:Bench+Ignition coil 1",
        "Any switch can light vapour. This handheld too.",
    ),
    "the plug, before there is one": (
        "no_adapter",
        "Plug in before the hatch is open; never pull a live plug",
    ),
    "the plug": ("silent", "Plug in before the hatch is open; never pull a live plug in fuel vapour."),
}
"""Hazard to the view where the hand meets it, and words that must be there."""

DEFERS = [
    "cautions:Bench+Injector 2",
    "cautions:Bench+Ignition coil 1",
    "cautions:Bench+Page+Fuel pump",
    "cautions:Bench+Page+Bilge pump",
    "cautions:Bench+Page+Cooling fan",
    "cautions:Bench+Page+Throttle plate",
    "inhibit_two:Bench+Hold fuel off",
    "inhibit_last:Bench+Hold spark off",
    "stopped:More+On the",
]
"""Views of cautions that must say what goes before this tool; its next part counts, where there is one."""


def said(stage, view):
    return " ".join(stage.open(view)["words"])


@pytest.mark.parametrize("hazard", HAZARDS)
def test_the_hazard_is_named_where_the_hand_is(panel_stage, hazard):
    view, words = HAZARDS[hazard]
    assert words in said(panel_stage, view)


@pytest.mark.parametrize("view", DEFERS)
def test_cautions_defer_to_the_manual_and_to_local_rules(panel_stage, view):
    words = said(panel_stage, view) + said(panel_stage, f"{view}+wait+More?")
    assert "maker's manual" in words
    assert "local rules" in words
