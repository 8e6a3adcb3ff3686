"""Another make through the whole tool: controllers with 29-bit identifiers, a gate and a trim that move."""

import json
import time

import pytest

pytestmark = pytest.mark.glass

NAMED_S = 2.0
"""From the first frame on the bus to the craft's name on the glass."""


@pytest.fixture(scope="module")
def family():
    return "skua"


@pytest.fixture(autouse=True)
def whole(bench):
    yield
    bench.mend()
    assert bench.violations() == []


def values(bench):
    return bench.craft.ask(do="state")["values"]


def test_its_faults_are_read_from_all_three_controllers(bench):
    bench.craft.ask(do="fault", code="P0304", on=True)
    bench.craft.ask(do="fault", code="C1101", on=True)
    bench.craft.ask(do="fault", code="B1002", on=True)
    bench.read_faults()
    bench.until(lambda: "P0304" in bench.words(), "the faults are on the glass", 30.0)
    for code, words in (("P0304", "Misfire in cylinder 4"), ("C1101", "Reverse gate does not reach its end")):
        assert code in bench.words()
        assert words in bench.words()
    for code in ("P0304", "C1101", "B1002"):
        bench.craft.ask(do="fault", code=code, on=False)


@pytest.mark.parametrize(
    ("output", "position", "rises"),
    [("gate_down", "GatePosition", True), ("trim_up", "TrimPosition", True)],
)
def test_a_part_at_the_stern_moves_while_a_finger_holds(bench, output, position, rises):
    bench.make_ready(output)
    before = values(bench)[position]
    bench.fire(output)
    bench.until(lambda: (values(bench)[position] > before) is rises, "it moves", 3.0)
    lifted = time.monotonic()
    bench.glass.lift()
    bench.ended(output, 0.8, lifted)
    assert "confirmed that it is off" in bench.result()


@pytest.mark.parametrize("output", ["warning_lamp", "injector_4"])
def test_fires_while_held_and_ends_when_the_finger_lifts(bench, output):
    bench.fire(output)
    lifted = time.monotonic()
    bench.glass.lift()
    bench.ended(output, 0.8, lifted)
    assert bench.history(output)[-1]["why"] in ("released", "the time of its burst was over")
    assert "confirmed that it is off" in bench.result()


def test_from_the_first_frame_to_its_name_on_the_glass(kiosk, within):
    craft = kiosk.craft("plugged_in", "--family", "skua")
    kiosk.kiosk()
    kiosk.glass.wait_for_screen("ride")
    within(lambda: "No craft" in strip(kiosk), 20.0, "no craft is named")
    time.sleep(1.5)  # the tool listens to a bus that sleeps, at one rate after the other
    craft.ask(do="key", on=True)
    took = within(lambda: "Skua" in strip(kiosk), 10.0, "the craft is named")
    print(f"named {took:.2f} s after the key")
    assert took < 5 * NAMED_S  # the figure is measured on a quiet machine; this one is shared


def strip(kiosk):
    return json.dumps(kiosk.glass.shown()["strip"])
