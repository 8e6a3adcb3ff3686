"""Faults that an engine tells by itself, from the simulated tern to the glass and into the book."""

import json

import pytest

pytestmark = pytest.mark.glass


def words(kiosk):
    return " ".join(kiosk.glass.shown()["words"]).replace("\u00a0", " ")


def test_one_touch_shows_them_nothing_is_sent_and_the_book_keeps_them(kiosk, within):
    craft = kiosk.craft("idle", "--family", "tern")
    kiosk.kiosk()
    kiosk.glass.wait_for_screen("ride")
    kiosk.glass.tap("Check")
    kiosk.glass.wait_for_screen("check/faults_heard")
    within(lambda: "No active faults" in words(kiosk), 5.0, "the engine tells that there is none")
    craft.ask(do="plant", signal="CoolantTemperature", kind="error")
    within(lambda: "SPN 110 FMI 3, active now" in words(kiosk), 10.0, "it tells a fault")
    assert "Coolant temperature: voltage too high" in words(kiosk)
    keys = {key["text"] for key in kiosk.glass.shown()["keys"]}
    assert keys.isdisjoint({"Clear", "Read faults", "Read again", "Details"})
    craft.ask(do="mend")
    within(lambda: "earlier" in words(kiosk), 20.0, "it was active before")
    assert [line for line in craft.ask(do="ledger")["entries"] if line["what"] == "request"] == []

    def told():
        done = kiosk.run("book", "list", "--json", "--limit", "200", *kiosk.places[2:])
        return [each["says"] for each in json.loads(done.stdout)["entries"] if "told" in each["says"]]

    within(lambda: any("SPN 110 FMI 3" in each for each in told()), 10.0, "the book keeps it")
