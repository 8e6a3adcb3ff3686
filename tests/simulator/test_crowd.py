"""A bus that strangers fill, and the craft's own frames on it."""

import pytest

from simulator.craft import STEP_S, Craft
from simulator.crowd import Crowd, bits


def test_a_frame_is_as_long_as_the_standard_lets_it_be():
    # Davis, Burns, Bril, Lukkien 2007 (response times on CAN), from memory: 55 + 10 s bits at most with
    # identifiers of 11 bits, 80 + 10 s with 29, s bytes of data; without a stuff bit 47 + 8 s and 67 + 8 s.
    for size in range(9):
        assert 47 + 8 * size <= bits(0x123, bytes(size)) <= 55 + 10 * size
        assert 67 + 8 * size <= bits(0x8000_0123, bytes(size)) <= 80 + 10 * size


@pytest.mark.parametrize("bitrate", [250_000, 500_000])
def test_a_crowd_fills_the_bus_and_no_more(bitrate):
    own = [(0x101, bytes(8)), (0x102, bytes(8))]
    crowd = Crowd(bitrate, STEP_S, {0x101, 0x102})
    steps = [crowd.fill(own if number % 4 == 0 else []) for number in range(200)]
    used = sum(bits(*frame) for step in steps for frame in step)
    assert used == pytest.approx(bitrate, abs=bits(0x123, bytes(8)))
    assert all(step[:2] == own for step in steps[::4])
    strangers = [frame for number, step in enumerate(steps) for frame in step[2 if number % 4 == 0 else 0 :]]
    assert not {ident for ident, _ in strangers} & {0x101, 0x102}
    assert max(ident for ident, _ in strangers) < 0x700


def test_more_than_the_bus_holds_leaves_no_room_and_no_debt():
    crowd = Crowd(250_000, STEP_S, ())
    many = [(0x101, bytes(8))] * 50
    assert crowd.fill(many) == many
    assert len(crowd.fill([])) in (10, 11)


def test_a_craft_may_be_crowded_and_left_alone_again():
    craft = Craft("auk", "dock")
    craft.act({"do": "crowd", "on": True})
    assert len(craft.crowd.fill(craft.step())) == pytest.approx(
        500_000 * STEP_S / bits(0x123, bytes(8)), abs=1
    )
    assert not {ident for ident, _ in craft.crowd.fill([])} & craft.broadcast.idents
    craft.act({"do": "crowd", "on": False})
    assert craft.crowd is None
