"""Traffic of every simulated craft, spoilt in every way: no exception, and no short frame is a good value."""

import itertools

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.reading import Quality
from bus.family import SHIPPED, load_family
from bus.frame import EXTENDED, Frame
from bus.hub import Hub
from bus.way import GateStatus, Outlet, Way
from simulator.craft import Craft

FAMILIES = [load_family(SHIPPED / name) for name in ("auk", "j1939", "nmea2000", "skua", "tern")]


class Gate:
    status = GateStatus(Way.QUIET, 0.0, adapter="test on bench", bitrate=500_000)
    bad = 0


def hub_of():
    clock = [0.0]
    outlet = Outlet()
    return Hub(Gate(), outlet, FAMILIES, lambda: None, clock=lambda: clock[0]), outlet, clock


def frames_of(name, seconds=1.2):
    craft = Craft(name, "ride")
    return [Frame(at, ident, data) for at, ident, data in craft.advance(seconds)]


TRAFFIC = {name: frames_of(name) for name in ("auk", "nmea2000", "skua", "tern")}
NOISE = st.tuples(
    st.integers(0, 0x7FF) | st.integers(EXTENDED, EXTENDED | 0x1FFF_FFFF), st.binary(max_size=8)
)


def elsewhere(ident):
    """An identifier beside it: of 11 bits the next, of 29 another priority."""
    return ident ^ 1 if ident < EXTENDED else ident ^ 0x0400_0000


SPOILT = {
    "whole": lambda at, ident, data, _: [(at, ident, data)],
    "short": lambda at, ident, data, _: [(at, ident, data[: len(data) // 2])],
    "empty": lambda at, ident, _data, _noise: [(at, ident, b"")],
    "long": lambda at, ident, data, _: [(at, ident, (data + b"\xff" * 8)[:8])],
    "noise": lambda at, _ident, _data, noise: [(at, *noise)],
    "twice": lambda at, ident, data, _: [(at, ident, data)] * 2,
    "gone": lambda *_: [],
    "other address": lambda at, ident, data, _: [(at, elsewhere(ident), data)],
}


def spoilt(frame, how, noise=None):
    return [Frame(*each) for each in SPOILT[how](*frame, noise)]


@pytest.mark.parametrize("name", TRAFFIC)
@given(hows=st.lists(st.sampled_from(list(SPOILT)), min_size=7, max_size=31), noise=NOISE)
@settings(deadline=None, max_examples=25, suppress_health_check=[HealthCheck.too_slow])
def test_the_hub_never_raises_and_says_nothing_of_the_future(name, hows, noise):
    hub, outlet, clock = hub_of()
    for frame, how in zip(TRAFFIC[name], itertools.cycle(hows), strict=False):
        clock[0] = frame.at
        outlet.put(spoilt(frame, how, noise))
        hub.pump()
    clock[0] += 0.01
    snapshot = hub.snapshot()
    assert all(value.at <= clock[0] for value in snapshot.values)
    for value in snapshot.values:
        assert (value.value is None) or value.quality in (Quality.GOOD, Quality.STALE, Quality.OUT_OF_RANGE)


@pytest.mark.parametrize("name", ["auk", "skua"])
@pytest.mark.parametrize("how", ["short", "empty"])
def test_a_craft_whose_every_frame_comes_short_after_it_was_named_has_no_good_value_any_more(name, how):
    hub, outlet, clock = hub_of()
    for frame in TRAFFIC[name]:
        clock[0] = frame.at
        outlet.put([frame])
        hub.pump()
    assert any(value.quality is Quality.GOOD for value in hub.snapshot().values)
    for number in range(400):
        clock[0] += 0.01
        _, ident, data = TRAFFIC[name][number % len(TRAFFIC[name])]
        outlet.put(spoilt(Frame(clock[0], ident, data), how))
        assert hub.pump() == []
    snapshot = hub.snapshot()
    assert {value.quality for value in snapshot.values} == {Quality.STALE}
    assert snapshot.link.bad_frames > 100
