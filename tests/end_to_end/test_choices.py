"""What a person chose to see, through a real window and the death of the screen process."""

import json
import os
import signal

import pytest

from screens.tour_parts import wait_for

pytestmark = pytest.mark.glass


def shown(kiosk):
    return [tile["signal"] for tile in kiosk.glass.shown()["tiles"]]


def test_the_six_that_were_chosen_are_there_again_after_a_restart(kiosk):
    supervisor = kiosk.kiosk()
    kiosk.craft("idle")
    kiosk.glass.wait_for_tile("CoolantTemperature", "good")
    for key in ("More", "Choose six", "Coolant", "Heat", "Oil", "Ride"):
        kiosk.glass.tap(key)
    kiosk.glass.wait_for_tile("OilTemperature", "good")
    chosen = shown(kiosk)
    assert chosen[:2] == ["EngineSpeed", "OilTemperature"]
    assert "CoolantTemperature" not in chosen
    kept = json.loads((kiosk.folder / "data" / "choices.json").read_text())
    assert kept["six"]["auk"] == chosen
    before = kiosk.part(supervisor, "screen")
    os.kill(before, signal.SIGKILL)
    wait_for(lambda: kiosk.glass.shown()["pid"] != before, "The screen did not come back.")
    kiosk.glass.wait_for_tile("EngineSpeed", "good")
    assert shown(kiosk) == chosen


def test_a_file_of_rubbish_never_stops_the_glass_and_is_told(kiosk):
    (kiosk.folder / "data").mkdir(parents=True, exist_ok=True)
    (kiosk.folder / "data" / "choices.json").write_bytes(b"\x00rubbish")
    kiosk.kiosk()
    kiosk.craft("idle")
    kiosk.glass.wait_for_tile("CoolantTemperature", "good")
    kiosk.glass.tap("More")
    kiosk.glass.wait_for_text("choices.json in the data folder cannot be read", "It does not say so.")
