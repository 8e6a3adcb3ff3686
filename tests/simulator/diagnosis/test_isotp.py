"""The transport against worked examples of ISO 15765-2 and against can-isotp, a general library.

Frames of examples A to C and the rules beside them: collected from open secondary sources and run through
can-isotp 2.0.7 and scapy 2.8.0, which agreed byte for byte.
"""

import itertools

import isotp
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.isotp import Endpoint, Request, separation_s, single_frame

FLOW = bytes.fromhex("3000000000000000")


def endpoint(**arguments):
    return Endpoint(0x7E0, 0x7E8, 0x7DF, **arguments)


def hexes(frames):
    assert all(ident == 0x7E8 for ident, _ in frames)
    return [data.hex(" ").upper() for _, data in frames]


def feed(one, text, now=0.0, ident=0x7E0):
    one.receive(ident, bytes.fromhex(text), now)


def test_example_a_goes_out_frame_by_frame():
    one = endpoint()
    one.send(bytes.fromhex("62F190") + b"1M8GDM9AXKP042788", 0.0)
    assert hexes(one.poll(0.0)) == ["10 14 62 F1 90 31 4D 38"]
    assert one.poll(0.5) == []
    one.receive(0x7E0, FLOW, 0.5)
    assert hexes(one.poll(0.5)) == ["21 47 44 4D 39 41 58 4B", "22 50 30 34 32 37 38 38"]
    assert not one.busy


def test_example_b_wraps_its_numbers_and_waits_after_every_block():
    one = endpoint()
    one.send(bytes(range(0x82)), 0.0)
    assert hexes(one.poll(0.0)) == ["10 82 00 01 02 03 04 05"]
    blocks = []
    for _ in range(3):
        feed(one, "3008000000000000")
        blocks.append(hexes(one.poll(0.0)))
        assert one.poll(0.5) == []
    assert [len(block) for block in blocks] == [8, 8, 2]
    assert [frame[:5] for frame in blocks[0]][::7] == ["21 06", "28 37"]
    assert [blocks[1][0][:5], blocks[1][6][:5], blocks[1][7][:5]] == ["29 3E", "2F 68", "20 6F"]
    assert blocks[2] == ["21 76 77 78 79 7A 7B 7C", "22 7D 7E 7F 80 81 00 00"]


def test_example_c_is_filled_with_the_filler_that_is_set():
    one = endpoint(padding=0xCC)
    one.send(bytes.fromhex("7F2231"), 0.0)
    assert hexes(one.poll(0.0)) == ["03 7F 22 31 CC CC CC CC"]


@pytest.mark.parametrize(
    ("code", "seconds"),
    [(0x00, 0), (0x14, 0.02), (0x7F, 0.127), (0xF1, 0.0001), (0xF5, 0.0005), (0xF9, 0.0009)]
    + [(code, 0.127) for code in (0x80, 0xF0, 0xFA, 0xFF)],
)
def test_the_pause_asked_for_is_kept_and_a_reserved_code_means_the_longest(code, seconds):
    assert separation_s(code) == pytest.approx(seconds)
    one = endpoint()
    one.send(bytes(40), 0.0)
    one.poll(0.0)
    one.receive(0x7E0, bytes([0x30, 0, code]), 0.0)
    times = [step / 1000 for step in range(800) for _ in one.poll(step / 1000)]
    assert len(times) == 5
    assert all(after - before >= seconds - 1e-9 for before, after in itertools.pairwise(times))
    assert times[-1] <= 4 * max(seconds, 0.001) + 0.005


def test_without_a_flow_control_the_answer_is_dropped_after_one_second():
    # N_Bs = 1000 ms (Zephyr's documentation of CONFIG_ISOTP_BS_TIMEOUT).
    late, early = endpoint(), endpoint()
    for one in (late, early):
        one.send(bytes(20), 0.0)
        one.poll(0.0)
    assert early.poll(1.0) == []
    early.receive(0x7E0, FLOW, 1.0)
    assert len(early.poll(1.0)) == 2
    assert late.poll(1.01) == []
    late.receive(0x7E0, FLOW, 1.02)
    assert late.poll(1.02) == []
    assert late.problems == ["a flow control that nobody waits for"]


def test_a_wait_frame_starts_the_second_again_and_overflow_ends_the_answer():
    one = endpoint()
    one.send(bytes(20), 0.0)
    one.poll(0.0)
    for now in (0.8, 1.6, 2.4):
        feed(one, "3100000000000000", now)
        assert one.poll(now) == []
    one.receive(0x7E0, FLOW, 3.2)
    assert len(one.poll(3.2)) == 2
    one.send(bytes(20), 4.0)
    one.poll(4.0)
    feed(one, "3200000000000000", 4.0)
    one.receive(0x7E0, FLOW, 4.0)
    assert one.poll(4.0) == []


def test_a_reserved_flow_status_ends_the_answer():
    # 3..F reserved: abort. From memory.
    one = endpoint()
    one.send(bytes(20), 0.0)
    one.poll(0.0)
    feed(one, "3500000000000000")
    assert one.problems == ["a flow control of a reserved kind, or not full"]
    assert not one.busy


def test_a_long_request_is_taken_in_blocks():
    one = endpoint(block_size=2, st_min=5)
    feed(one, "101B000102030405")
    assert hexes(one.poll(0.0)) == ["30 02 05 00 00 00 00 00"]
    feed(one, "21060708090A0B0C")
    assert one.poll(0.0) == []
    feed(one, "220D0E0F10111213")
    assert hexes(one.poll(0.0)) == ["30 02 05 00 00 00 00 00"]
    feed(one, "2314151617181 91A".replace(" ", ""))
    assert one.poll(0.0) == []
    assert list(one.requests) == [Request(bytes(range(0x1B)), functional=False)]


def test_a_long_request_beyond_the_buffer_is_told_so():
    one = endpoint(buffer=16)
    feed(one, "1011000102030405")
    assert hexes(one.poll(0.0)) == ["32 00 00 00 00 00 00 00"]
    feed(one, "1000000100000000")  # the escape for lengths of 32 bits (2016 edition), from memory
    assert hexes(one.poll(0.0)) == ["32 00 00 00 00 00 00 00"]
    assert not one.requests


@pytest.mark.parametrize(
    ("frames", "problem"),
    [
        (["00"], "a single frame with a length that does not fit it"),
        (["0811223344556677"], "a single frame with a length that does not fit it"),
        (["0522F190"], "a single frame with a length that does not fit it"),
        (["1007000102030405"], "a first frame for a message that fits a single frame"),
        (["1014000102"], "a first frame that is not full"),
        (["2100000000000000"], "a consecutive frame without a first one"),
        (["1014000102030405", "2200000000000000"], "a consecutive frame out of its order, or not full"),
        (["1014000102030405", "2100"], "a consecutive frame out of its order, or not full"),
        (["3000000000000000"], "a flow control that nobody waits for"),
        (["4000000000000000"], "no frame of ISO 15765-2"),
        ([""], "no frame of ISO 15765-2"),
    ],
)
def test_a_frame_that_does_not_belong_is_named_and_gives_no_request(frames, problem):
    one = endpoint()
    for frame in frames:
        feed(one, frame)
    assert one.problems == [problem]
    assert not one.requests


def test_a_functional_request_is_a_single_frame():
    one = endpoint()
    feed(one, "023E000000000000", ident=0x7DF)
    feed(one, "1014000102030405", ident=0x7DF)
    assert list(one.requests) == [Request(b"\x3e\x00", functional=True)]
    assert one.problems == ["a functional request must be a single frame"]
    assert one.poll(0.0) == []


def test_a_new_first_frame_takes_the_place_of_an_old_one():
    one = endpoint()
    feed(one, "1014000102030405")
    feed(one, "100A101112131415")
    feed(one, "2116171819000000")
    assert [request.payload.hex() for request in one.requests] == ["10111213141516171819"]


def test_a_consecutive_frame_a_second_late_is_too_late():
    one = endpoint()
    feed(one, "100A101112131415", 0.0)
    feed(one, "2116171819000000", 1.01)
    assert not one.requests


def test_frames_for_others_are_ignored():
    one = endpoint()
    feed(one, "023E000000000000", ident=0x7E1)
    assert not one.requests
    assert not one.problems


def test_what_fits_no_frame_is_refused():
    with pytest.raises(ValueError, match="0 bytes"):
        single_frame(b"")
    with pytest.raises(ValueError, match="4096 bytes"):
        endpoint().send(bytes(4096), 0.0)


class Outside:
    """can-isotp at the other end, stepped by hand."""

    def __init__(self, one, **params):
        self.one, self.now = one, 0.0
        self.to_craft, self.to_tester = [], []
        self.layer = isotp.TransportLayerLogic(
            rxfn=lambda _timeout: self.to_tester.pop(0) if self.to_tester else None,
            txfn=lambda message: self.to_craft.append(bytes(message.data)),
            address=isotp.Address(isotp.AddressingMode.Normal_11bits, rxid=0x7E8, txid=0x7E0),
            params={"stmin": 0, "blocksize": 0, "tx_padding": 0, **params},
        )

    def turn(self):
        for _ in range(4000):
            self.layer.process()
            while self.to_craft:
                self.one.receive(0x7E0, self.to_craft.pop(0), self.now)
            for ident, data in self.one.poll(self.now):
                self.to_tester.append(isotp.CanMessage(ident, data=data))
            self.now += 0.001
            if self.layer.available() or self.one.requests:
                return
        raise AssertionError("nothing came through")


@given(st.binary(min_size=1, max_size=600), st.integers(0, 20))
@settings(max_examples=40, deadline=None)
def test_any_answer_reaches_an_outside_library_whole(payload, block_size):
    one = endpoint()
    outside = Outside(one, blocksize=block_size)
    one.send(payload, 0.0)
    outside.turn()
    assert outside.layer.recv() == payload
    assert one.problems == []


@given(st.binary(min_size=1, max_size=600), st.integers(0, 20))
@settings(max_examples=40, deadline=None)
def test_any_request_of_an_outside_library_arrives_whole(payload, block_size):
    one = endpoint(block_size=block_size)
    outside = Outside(one)
    outside.layer.send(payload)
    outside.turn()
    assert one.requests.popleft() == Request(payload, functional=False)
    assert one.problems == []


@given(st.lists(st.tuples(st.binary(max_size=8), st.floats(0, 0.4)), max_size=40))
@settings(max_examples=60, deadline=None)
def test_no_sequence_of_frames_breaks_it(frames):
    one = endpoint(block_size=3)
    now = 0.0
    for data, pause in frames:
        now += pause
        one.receive(0x7E0, data, now)
        assert all(len(sent) == 8 for _, sent in one.poll(now))
    one.reset()
    one.receive(0x7E0, single_frame(b"\x3e\x00"), now)
    assert [request.payload for request in one.requests] == [b"\x3e\x00"]
