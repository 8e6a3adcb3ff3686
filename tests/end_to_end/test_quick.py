"""The quick check by touch, through both processes: a verdict within two touches, whatever the craft."""

import json

import pytest

pytestmark = pytest.mark.glass

MOST_TOUCHES = 2


@pytest.fixture(autouse=True)
def sound(bench):
    """Every test leaves the craft as it was, and nothing but reading was asked of it."""
    yield
    bench.craft.ask(do="mend")
    bench.craft.ask(do="uds_silent", on=False)
    assert bench.violations() == []


def check(bench):
    """From the Ride lane to a verdict; returns the verdict and the rows, and counts the touches."""
    bench.glass.tap("Ride")
    bench.glass.wait_for_screen("ride")
    before = len(bench.kiosk.touches())
    bench.glass.tap("Check")
    bench.glass.wait_for_screen("check/faults")
    bench.glass.tap("Quick check")
    said = verdict(bench)
    assert len(bench.kiosk.touches()) - before <= MOST_TOUCHES
    return said


def verdict(bench):
    """What stands on the page as soon as the faults are read."""
    bench.until(lambda: bench.glass.shown()["screen"] == "check/quick", "there is a verdict")
    first, _, *rows = bench.glass.shown()["words"]
    return first, rows


def again(bench):
    """Look again; one touch."""
    before = len(bench.kiosk.touches())
    bench.glass.tap("Check again")
    said = verdict(bench)
    assert len(bench.kiosk.touches()) - before == 1
    return said


def plant(bench, signal, **what):
    """Let the craft send this, until the glass shows it."""
    bench.craft.ask(do="plant", signal=signal, **what)


def shows(bench, words):
    """Wait until the page says it; a planted value reaches the glass within its period."""
    bench.until(lambda: words in bench.words(), words)
    return bench.glass.shown()["words"][0]


def test_a_sound_craft_is_fit_in_two_touches_and_nothing_but_reading_is_sent(bench):
    first, rows = check(bench)
    assert first == "Fit", rows
    assert len(rows) == 6
    entries = bench.craft.ask(do="ledger")["entries"]
    asked = {entry["request"][:2] for entry in entries if entry["what"] == "request"}
    assert asked <= {"22", "19"}
    assert asked


def test_a_lanyard_that_is_pulled_wants_a_look_and_after_mending_one_touch_says_fit(bench):
    bench.craft.ask(do="lanyard", pulled=True)
    check(bench)
    assert shows(bench, "Lanyard pulled. Clip the lanyard in.") == "Look"
    bench.craft.ask(do="lanyard", pulled=False)
    bench.until(lambda: "Lanyard in place" in bench.words(), "it is mended")
    first, rows = again(bench)
    assert first == "Fit", rows


def test_a_controller_that_does_not_answer_wants_a_look(bench):
    bench.craft.ask(do="uds_silent", on=True)
    first, rows = check(bench)
    assert first == "Look"
    assert rows[0].startswith("Faults: Engine controller was not read")
    bench.craft.ask(do="uds_silent", on=False)
    first, rows = again(bench)
    assert first == "Fit", rows


def test_coolant_that_is_too_hot_keeps_it_ashore(bench):
    plant(bench, "CoolantTemperature", kind="value", value=104.0)
    check(bench)
    assert shows(bench, "Coolant too hot: 104 °C") == "Keep ashore"
    assert "generic default" in bench.words()


@pytest.mark.parametrize(
    ("volts", "word", "verdicts"),
    [(11.9, "low", {"Look", "Keep ashore"}), (11.2, "too low", {"Keep ashore"})],
)
def test_a_low_battery(bench, volts, word, verdicts):
    """The controller may store a fault for the heat or the volts too: then that stands there beside it."""
    plant(bench, "BatteryVoltage", kind="value", value=volts)
    check(bench)
    assert shows(bench, f"Battery {word}: {volts} V, engine off") in verdicts


def test_a_fault_that_fails_now_keeps_it_ashore(bench):
    bench.craft.ask(do="fault", code="P0117", on=True)
    first, rows = check(bench)
    assert first == "Keep ashore"
    assert rows[0].startswith("Failing now: P0117")
    bench.craft.ask(do="fault", code="P0117", on=False)


def test_values_that_stop_coming_want_a_look_even_after_fit(bench):
    check(bench)
    bench.craft.ask(do="key", on=False)
    assert shows(bench, "Values old: 7 of 7") == "Look"
    bench.craft.ask(do="key", on=True)
    bench.until(lambda: "Values old" not in bench.words(), "the craft is heard again")
    assert bench.glass.shown()["words"][0] != "Fit", "its faults were not read since"


def test_every_check_is_in_the_book(bench):
    def kept():
        done = bench.kiosk.run("book", "list", "--json", "--limit", "200", *bench.kiosk.places[2:])
        entries = [one["entry"] for one in json.loads(done.stdout)["entries"]] if done.returncode == 0 else []
        return [entry["body"]["verdict"] for entry in entries if entry["kind"] == "quick_check"]

    bench.until(lambda: {"fit", "look", "keep ashore"} <= set(kept()), "each verdict is in the book", 20.0)
