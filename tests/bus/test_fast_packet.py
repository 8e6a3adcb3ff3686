"""Fast packets: put together whole or not at all, and never out of two."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bus.fast_packet import LONGEST, STALE_S, FastPackets


def split(sequence, payload):
    """The frames of a packet, as a sender makes them: filled up with FF."""
    frames = [bytes([sequence << 5, len(payload)]) + payload[:6].ljust(6, b"\xff")]
    for number, start in enumerate(range(6, len(payload), 7), 1):
        frames.append(bytes([sequence << 5 | number]) + payload[start : start + 7].ljust(7, b"\xff"))
    return frames


@pytest.fixture
def packets():
    return FastPackets()


def feed(packets, frames, source=1, at=0.0):
    """Everything that came out while these frames went in."""
    out = [packets.feed(source, 127489, at, frame) for frame in frames]
    return [packet for packet in out if packet is not None]


def test_the_worked_example_of_26_bytes_comes_together(packets):
    # Worked example with sequence 3; bytes of PGN 127489 from analyzer/tests/pgn-test.in of the CANboat
    # repository, commit 01d0dc3d, split into frames by the PyPI package nmea2000 2026.10.3.
    lines = ["601A002F06FFFFE3", "61736505FF7F7210", "620000FFFFFFFFFF", "6306000000 7F7FFF"]
    (packet,) = feed(packets, [bytes.fromhex(line) for line in lines])
    assert packet.hex() == "002f06ffffe3736505ff7f72100000ffffffffff06000000 7f7f".replace(" ", "")
    assert (packets.unused, packets.waiting) == (0, 0)


@given(st.binary(min_size=1, max_size=LONGEST), st.integers(0, 7))
def test_every_packet_of_1_to_223_bytes_comes_together_on_its_last_frame(payload, sequence):
    packets = FastPackets()
    *early, last = split(sequence, payload)
    assert feed(packets, early) == []
    assert packets.waiting == len(early)
    assert feed(packets, [last]) == [payload]
    assert packets.waiting == 0


def test_the_longest_packet_has_32_frames_and_223_bytes():
    assert LONGEST == 223
    assert len(split(0, bytes(LONGEST))) == 32


@pytest.mark.parametrize(
    "order",
    [
        pytest.param([0, 2, 3], id="one lost"),
        pytest.param([0, 1, 1, 2, 3], id="one twice"),
        pytest.param([0, 2, 1, 3], id="out of order"),
        pytest.param([1, 2, 3], id="the first lost"),
        pytest.param([3, 2, 1], id="backwards"),
    ],
)
def test_a_packet_that_did_not_come_whole_and_in_order_is_dropped_and_its_frames_counted(packets, order):
    frames = split(2, bytes(range(26)))
    assert feed(packets, [frames[number] for number in order]) == []
    assert packets.unused + packets.waiting == len(order)
    assert feed(packets, split(3, b"the next one is whole")) == [b"the next one is whole"]
    assert packets.unused == len(order)


def test_a_packet_begun_anew_replaces_the_one_under_way(packets):
    first, second = split(1, bytes(26)), split(1, bytes(range(26)))
    assert feed(packets, [*first[:2], *second]) == [bytes(range(26))]
    assert packets.unused == 2


def test_frames_of_two_packets_are_never_mixed(packets):
    first, second = split(1, bytes(26)), split(2, bytes(range(26)))
    assert feed(packets, [first[0], second[1], second[2], second[3]]) == []
    assert packets.unused == 4


def test_several_senders_take_turns_without_harm(packets):
    payloads = {source: bytes([source]) * 26 for source in (1, 2, 40)}
    frames = {source: split(5, payload) for source, payload in payloads.items()}
    out = {}
    for number in range(4):
        for source in payloads:
            for packet in feed(packets, [frames[source][number]], source):
                out[source] = packet
    assert out == payloads
    assert packets.unused == 0


def test_two_groups_of_one_sender_take_turns_without_harm(packets):
    one, other = split(0, b"x" * 20), split(0, b"y" * 20)
    out = []
    for first, second in zip(one, other, strict=True):
        out += [packets.feed(1, 127489, 0, first), packets.feed(1, 127497, 0, second)]
    assert [packet for packet in out if packet] == [b"x" * 20, b"y" * 20]


def test_a_packet_whose_rest_comes_too_late_is_dropped(packets):
    frames = split(0, bytes(26))
    assert feed(packets, frames[:2], at=10.0) == []
    assert feed(packets, frames[2:], at=10.0 + STALE_S + 0.001) == []
    assert packets.unused == 4
    assert feed(packets, frames[:2], at=20.0) == []
    assert feed(packets, frames[2:], at=20.0 + STALE_S) == [bytes(26)]


def test_a_recording_without_times_is_put_together_all_the_same(packets):
    assert feed(packets, split(0, bytes(26)), at=math.nan) == [bytes(26)]


@pytest.mark.parametrize(
    "frame",
    ["", "60", "6000010203040506", "60E0010203040506", "60FF010203040506", "601A0102"],
    ids=["empty", "no length", "length 0", "length 224", "length 255", "cut"],
)
def test_a_first_frame_that_cannot_be_one_is_counted_and_passed_over(packets, frame):
    assert feed(packets, [bytes.fromhex(frame)]) == []
    assert (packets.unused, packets.waiting) == (1, 0)


def test_a_cut_frame_in_the_middle_drops_the_packet(packets):
    frames = split(4, bytes(26))
    assert feed(packets, [frames[0], frames[1][:5], *frames[2:]]) == []
    assert packets.unused == 4


def test_a_last_frame_needs_no_filling(packets):
    frames = split(4, bytes(26))
    assert feed(packets, [*frames[:3], frames[3][:7]]) == [bytes(26)]


@given(st.lists(st.tuples(st.integers(0, 2), st.floats(), st.binary(max_size=8)), max_size=60))
def test_any_frames_at_all_are_taken_and_every_one_is_accounted_for(frames):
    packets = FastPackets()
    used = 0
    for source, at, data in frames:
        before = packets.waiting + packets.unused
        packet = packets.feed(source, 127489, at, data)
        if packet is not None:
            assert 1 <= len(packet) <= LONGEST
            used += 1 + before - packets.waiting - packets.unused
    assert used + packets.unused + packets.waiting == len(frames)
