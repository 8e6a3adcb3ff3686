"""Adapters that cannot listen, a craft with one node, a rate that does not fit, the demonstration."""

import json

import pytest

pytestmark = pytest.mark.glass


def test_an_adapter_that_cannot_listen_asks_for_the_rate_and_one_touch_answers(kiosk):
    kiosk.kiosk()
    craft = kiosk.craft("idle", "--no-listen-only")
    kiosk.glass.wait_for_screen("ride/need_rate")
    assert craft.ask(do="ledger")["violations"] == [], "nothing was opened at a guessed rate"
    key = next(key["text"] for key in kiosk.glass.shown()["keys"] if key["text"].startswith("500"))
    kiosk.glass.tap(key)
    kiosk.glass.wait_for_tile("EngineSpeed", "good")
    assert [touch["key"] for touch in kiosk.touches()] == [key]
    assert craft.ask(do="ledger")["violations"] == []


def test_a_rate_that_does_not_fit_never_disturbs_the_bus(kiosk, within):
    kiosk.kiosk("--bitrate", "250000")
    craft = kiosk.craft("idle")
    kiosk.glass.wait_for_screen("ride/silent")
    within(lambda: len(craft.ask(do="ledger")["entries"]) > 6, 10, "the adapter was tried several times")
    ledger = craft.ask(do="ledger")
    assert ledger["violations"] == []
    assert "EngineSpeed" not in json.dumps(kiosk.glass.shown()["tiles"])


def test_a_controller_alone_on_its_bus_is_heard_and_acknowledged(kiosk):
    kiosk.kiosk()
    craft = kiosk.craft("lone")
    kiosk.glass.wait_for_tile("EngineSpeed", "good")
    assert craft.ask(do="ledger")["violations"] == []


def test_the_demonstration_starts_with_one_command(kiosk):
    kiosk.start(
        "--demo", "--run", kiosk.folder / "run", "--data", kiosk.folder / "data", "--event-log", kiosk.log
    )
    kiosk.glass.wait_for_tile("EngineSpeed", "good")
    kiosk.glass.wait_for_text("SIMULATED", "the demonstration does not say SIMULATED")


def test_a_boat_on_nmea_2000_is_found_by_itself(kiosk):
    kiosk.kiosk()
    craft = kiosk.craft("idle", "--family", "nmea2000")
    kiosk.glass.wait_for_tile("EngineSpeed", "good")
    kiosk.glass.wait_for_tile("CoolantTemperature", "good")
    assert kiosk.glass.tile("CoolantTemperature")["text"].endswith("°C")
    assert kiosk.touches() == []
    assert craft.ask(do="ledger")["violations"] == []
