"""The serial-line CAN text protocol."""

from hypothesis import given
from hypothesis import strategies as st

from bus import slcan
from bus.frame import EXTENDED, Frame

frames = st.tuples(
    st.one_of(st.integers(0, 0x7FF), st.integers(0, 0x1FFF_FFFF).map(lambda i: i | EXTENDED)),
    st.binary(max_size=8),
)


def test_the_documented_examples_parse():
    # Lines as the Linux kernel's slcan documentation gives them: t1230 = id 0x123, no data; t4563112233;
    # T12ABCDEF2AA55; r1230 = remote frame (no data of its own).
    decoder = slcan.LineDecoder()
    got = decoder.feed(b"t1230\rt4563112233\rT12ABCDEF2AA55\rr1230\r", 1.0)
    assert got == [
        Frame(1.0, 0x123, b""),
        Frame(1.0, 0x456, bytes.fromhex("112233")),
        Frame(1.0, 0x12ABCDEF | EXTENDED, bytes.fromhex("AA55")),
    ]
    assert decoder.noise == 0


def test_a_time_stamp_behind_the_data_is_passed_over():
    assert slcan.LineDecoder().feed(b"t10021122ABCD\r", 0.0) == [Frame(0.0, 0x100, b"\x11\x22")]


@given(st.lists(frames, max_size=20), st.integers(1, 40))
def test_frames_survive_any_cut_of_the_stream(wanted, size):
    stream = b"".join(slcan.frame_line(ident, data) for ident, data in wanted)
    decoder = slcan.LineDecoder()
    got = []
    for start in range(0, len(stream), size):
        got += decoder.feed(stream[start : start + size], 2.0)
    assert [(frame.ident, frame.data) for frame in got] == wanted
    assert decoder.noise == 0


@given(st.binary(max_size=300))
def test_noise_never_raises_and_never_grows_the_memory(block):
    decoder = slcan.LineDecoder()
    for frame in decoder.feed(block, 0.0) + decoder.feed(b"\r" + block, 0.0):
        assert len(frame.data) <= 8
    assert len(decoder._rest) <= slcan._LONGEST


def test_answers_are_told_from_frames():
    decoder = slcan.LineDecoder()
    assert decoder.feed(b"\r\at1001FF\rV1013\rF00\r", 0.0) == [Frame(0.0, 0x100, b"\xff")]
    assert decoder.take_answers() == [True, False, True, True]
    assert decoder.take_answers() == []
