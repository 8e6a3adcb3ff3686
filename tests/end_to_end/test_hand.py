"""What a hand does beside touching, end to end: a stop key, a lift that is lost, a window that is woken."""

import time

import pytest

pytestmark = pytest.mark.glass

STOP_S = 1.0
"""From the key to the controller's end of it, on a slow machine."""


@pytest.fixture(autouse=True)
def whole(bench):
    """Every test begins with no finger on the glass and leaves no violation."""
    yield
    bench.glass.lift()
    assert bench.violations() == []


def test_a_stop_key_ends_what_is_held_while_the_finger_stays(bench):
    bench.fire("fan")
    at = time.monotonic()
    bench.glass.hand("key", "space")
    bench.ended("fan", STOP_S, at)
    assert "The stop key was pressed" in bench.result()


def test_a_stop_key_disarms_and_sends_nothing(bench):
    bench.make_ready("horn")
    before = bench.frames()
    bench.arm()
    bench.glass.hand("key", "Escape")
    bench.glass.wait_for_screen("bench/ready")
    assert bench.frames() == before


def test_a_lift_that_the_window_did_not_see_leaves_no_finger(bench):
    x, y, window = before_check(bench)
    bench.glass.hand("mousemove", x, y, "mousedown", "1", "sleep", "0.2", "windowunmap", window)
    bench.glass.hand("sleep", "0.3", "mouseup", "1", "sleep", "0.3", "windowmap", window)
    bench.glass.tap("Book")
    bench.glass.wait_for_screen("book")


def test_the_touch_that_wakes_the_window_does_nothing_else(bench):
    x, y, window = before_check(bench)
    touched = len(bench.kiosk.touches())
    bench.glass.hand("windowunmap", window, "sleep", "0.3")
    bench.glass.hand("windowmap", window, "mousemove", x, y, "mousedown", "1", "sleep", "0.1", "mouseup", "1")
    bench.until(lambda: len(bench.kiosk.touches()) > touched, "the touch has ended", 5.0)
    assert bench.kiosk.touches()[touched]["key"] is None
    bench.glass.tap("Book")
    bench.glass.wait_for_screen("book")


def before_check(bench):
    """On the Ride lane: where the key of the Check lane is, and which window it is in."""
    bench.glass.tap("Ride")
    bench.glass.wait_for_screen("ride")
    window = bench.glass.hand("search", "--onlyvisible", "--pid", str(bench.glass.shown()["pid"])).split()[0]
    return (*map(str, bench.glass.middle("Check")), window)
