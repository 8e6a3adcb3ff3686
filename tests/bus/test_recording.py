"""Recordings: both text forms, python-can's formats, and any rubbish without an exception."""

import math
import subprocess
import sys

import can
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.errors import RecordingError
from bus.frame import EXTENDED, Frame
from bus.recording import BLOCK, LONGEST_LINE, RecordingReader, candump_line, read_frames

frames = st.builds(
    Frame,
    st.integers(0, 4_000_000_000_000_000).map(lambda micro: micro / 1e6),
    st.one_of(st.integers(0, 0x7FF), st.integers(0, 0x1FFF_FFFF).map(lambda ident: ident | EXTENDED)),
    st.binary(max_size=8),
)


@pytest.fixture
def recording(tmp_path):
    def write(content, name="a.log"):
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return path

    return write


@pytest.fixture(scope="module")
def scratch(tmp_path_factory):
    return tmp_path_factory.mktemp("scratch") / "any.log"


def test_the_line_is_the_one_that_candump_writes():
    # Form: man page of candump and can.io.CanutilsLogReader; 29-bit identifiers have eight digits.
    line = candump_line(1700000000.123456, "can0", Frame(0.0, 0x123, b"\x11\xaa"))
    assert line == b"(1700000000.123456) can0 123#11AA\n"
    assert (
        candump_line(2.5, "vcan1", Frame(0.0, EXTENDED | 1, b"")) == b"(0000000002.500000) vcan1 00000001#\n"
    )


@given(st.lists(frames, min_size=1, max_size=20))
def test_what_we_write_python_can_and_we_ourselves_read_back(scratch, sequence):
    scratch.write_bytes(b"".join(candump_line(frame.at, "can0", frame) for frame in sequence))
    assert [(round(at * 1e6), ident, data) for at, ident, data in read_frames(scratch)] == [
        (round(frame.at * 1e6), frame.ident, frame.data) for frame in sequence
    ]
    with can.io.CanutilsLogReader(scratch) as reader:
        messages = list(reader)
    assert [
        (
            message.arbitration_id | (EXTENDED if message.is_extended_id else 0),
            bytes(message.data),
            message.channel,
        )
        for message in messages
    ] == [(frame.ident, frame.data, "can0") for frame in sequence]
    assert all(
        abs(message.timestamp - frame.at) < 1e-6 for message, frame in zip(messages, sequence, strict=True)
    )


READABLE = [
    ("(1.500000) can0 123#11AA", (1.5, 0x123, "11AA")),
    ("(1.500000) can0 123#11AA R", (1.5, 0x123, "11AA")),
    ("(1.500000) vcan12 00000123#11aa T", (1.5, EXTENDED | 0x123, "11AA")),
    ("(1436509052.249713) can0 7FF#", (1436509052.249713, 0x7FF, "")),
    ("can0 123#11AA", (None, 0x123, "11AA")),
    ("  can0  123   [2]  11 AA", (None, 0x123, "11AA")),
    ("  can0  0CF00400   [8]  FF FF FF 8A 03 FF FF FF", (None, EXTENDED | 0x0CF00400, "FFFFFF8A03FFFFFF")),
    (" (000.010203)  can0  123   [2]  11 AA   '..'", (0.010203, 0x123, "11AA")),
    (" (1.0)  can0  RX - -  123   [0] ", (1.0, 0x123, "")),
    ("(1.500000) can0 123#11AA\r", (1.5, 0x123, "11AA")),
]


@pytest.mark.parametrize(("line", "expected"), READABLE, ids=[line.strip() for line, _ in READABLE])
def test_every_form_of_a_data_frame_is_read(recording, line, expected):
    (frame,) = read_frames(recording(line + "\n"))
    at, ident, data = expected
    assert (frame.ident, frame.data.hex().upper()) == (ident, data)
    assert math.isnan(frame.at) if at is None else frame.at == at


UNREADABLE = [
    "(1.0) can0 123#R",
    "(1.0) can0 123#R8",
    "(1.0) can0 123##011AA",
    "(1.0) can0 20000080#0000000000000000",
    "  can0  20000004   [8]  00 04 00 00 00 00 00 00   ERRORFRAME",
    "  can0  123   [8]  remote request",
    "  can0  123  [08]  00 01 02 03 04 05 06 07",
    "  can0  123  [12]  00 01 02 03 04 05 06 07 08 09 0A 0B",
    "  can0  123   [3]  11 AA",
    "  can0  123   [1]  11 AA",
    "  can0  123   [2]  11 A",
    "  123   [2]  11 AA",
    "(1.0) can0 123#1",
    "(1.0) can0 123#11223344556677889",
    "(1.0) can0 123#112233445566778899",
    "(1.0) can0 1234#11",
    "(1.0) can0 923#11",
    "(1.0) can0 0x1#11",
    "(1.0) can0 #11",
    "(1.0) can0 +12#11",
    "(1.0) 123#11",
    "(1.0) can0 123",
    "(1.0) can0 123#11 Q",
    "(1.0 can0 123#11",
    "1.0) can0 123#11",
    "(nan) can0 123#11",
    "(inf) can0 123#11",
    "(-1.0) can0 123#11",
    "() can0 123#11",
    "(",
    "#",
    "[",
    "\0\0\0\0\0\0",
    "\0(1.0) can0 123#11",
    "Linux candump",
]


@pytest.mark.parametrize("line", UNREADABLE)
def test_what_is_no_whole_data_frame_is_counted_with_its_line(recording, line):
    reader = RecordingReader(recording(f"(1.0) can0 001#01\n\n{line}\n(2.0) can0 001#02\n"))
    assert [frame.data for frame in reader] == [b"\x01", b"\x02"]
    assert (reader.lines, reader.unreadable, reader.first_unreadable) == (4, 1, 3)


def test_a_cut_last_line_is_counted(recording):
    reader = RecordingReader(recording("(1.0) can0 001#01\n(2.0) can0 001#0"))
    assert len(list(reader)) == 1
    assert (reader.unreadable, reader.first_unreadable) == (1, 2)


def test_each_frame_knows_its_line(recording):
    reader = RecordingReader(recording("\n(1.0) can0 001#01\nrubbish\n\n(2.0) can0 001#02\n"))
    assert [reader.line for _ in reader] == [2, 5]


def test_every_reading_begins_at_the_beginning(recording):
    reader = RecordingReader(recording("(1.0) can0 001#01\nrubbish\n"))
    assert list(reader) == list(reader)
    assert reader.unreadable == 1


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_lines_may_end_in_any_way_and_lie_across_blocks(recording, end):
    count = 3 * BLOCK // 33
    lines = [f"({number:017.6f}) can0 123#{number:08X}" for number in range(count)]
    reader = RecordingReader(recording(end.join(lines) + end))
    assert [int.from_bytes(frame.data, "big") for frame in reader] == list(range(count))
    assert (reader.lines, reader.unreadable) == (count, 0)


def test_a_hole_of_zeros_as_a_power_cut_leaves_it_costs_one_line(recording):
    good = b"(1.0) can0 001#01\n"
    reader = RecordingReader(recording(good + bytes(10 * LONGEST_LINE) + b"\n" + good))
    assert len(list(reader)) == 2
    assert reader.unreadable == 1


@given(
    st.lists(
        st.one_of(st.binary(max_size=60), st.sampled_from([b"\n", b"\r", b"(1.0) can0 001#01"])), max_size=30
    )
)
def test_any_bytes_at_all_are_read_without_an_exception(scratch, pieces):
    scratch.write_bytes(b"".join(pieces) + b"\n(1.0) can0 001#01\n")
    reader = RecordingReader(scratch)
    found = list(reader)
    assert found[-1] == Frame(1.0, 1, b"\x01")
    assert len(found) + reader.unreadable <= reader.lines


@given(st.text(alphabet="0123456789ABCDEFabcdefR#()[]. 'canx_+-", max_size=40))
def test_nearly_right_lines_give_a_frame_or_are_counted(scratch, line):
    scratch.write_text(f"{line}\n(1.0) can0 001#01\n")
    reader = RecordingReader(scratch)
    for frame in reader:
        assert len(frame.data) <= 8
        assert frame.ident <= 0x7FF or EXTENDED <= frame.ident <= EXTENDED | 0x1FFF_FFFF
    assert reader.unreadable + len(list(reader)) == (2 if line.strip() else 1)


@pytest.mark.parametrize("content", [b"", b"\n\n", b"hello\nworld\n", bytes(range(256)) * 40], ids=range(4))
def test_a_file_without_a_single_frame_is_told_in_a_sentence(recording, content):
    path = recording(content)
    with pytest.raises(RecordingError, match="holds no CAN frame"):
        list(read_frames(path))


def test_a_file_that_is_not_there_or_is_a_folder_is_told_before_reading(tmp_path):
    with pytest.raises(RecordingError, match="No such file"):
        RecordingReader(tmp_path / "none.log")
    with pytest.raises(RecordingError, match="directory"):
        RecordingReader(tmp_path)


@pytest.mark.parametrize("ending", [".blf", ".asc", ".trc", ".csv", ".db", ".log"])
def test_formats_of_python_can_give_the_same_frames(tmp_path, ending):
    path = tmp_path / f"a{ending}"
    sent = [Frame(1700000000 + number / 100, 0x120 + number, bytes([number]) * 8) for number in range(20)]
    sent.append(Frame(1700000001.0, EXTENDED | 0x09F20101, b"\x01\x02"))
    with can.Logger(path) as logger:
        for frame in sent:
            logger.on_message_received(
                can.Message(
                    timestamp=frame.at,
                    arbitration_id=frame.ident & ~EXTENDED,
                    is_extended_id=frame.ident >= EXTENDED,
                    data=frame.data,
                    channel=0 if ending == ".blf" else "can0",
                )
            )
    reader = RecordingReader(path)
    found = list(reader)
    assert [(frame.ident, frame.data) for frame in found] == [(frame.ident, frame.data) for frame in sent]
    assert found[-1].at - found[0].at == pytest.approx(1.0, abs=0.002)
    assert reader.unreadable == 0


def test_remote_and_error_frames_of_another_format_are_counted(tmp_path):
    path = tmp_path / "a.blf"
    with can.Logger(path) as logger:
        for message in (
            can.Message(timestamp=1.0, arbitration_id=1, is_extended_id=False, data=b"\1", channel=0),
            can.Message(timestamp=2.0, arbitration_id=1, is_remote_frame=True, dlc=8, channel=0),
            can.Message(timestamp=3.0, is_error_frame=True, channel=0),
        ):
            logger.on_message_received(message)
    reader = RecordingReader(path)
    assert [frame.data for frame in reader] == [b"\1"]
    assert (reader.unreadable, reader.first_unreadable) == (2, 2)


@pytest.mark.parametrize("ending", [".blf", ".asc", ".trc", ".csv", ".db", ".mf4"])
def test_rubbish_under_the_name_of_another_format_is_told_in_a_sentence(recording, ending):
    with pytest.raises(RecordingError, match=r"cannot be read|holds no CAN frame"):
        list(read_frames(recording(b"\x01\xff rubbish\n" * 9, f"a{ending}")))


def test_a_damaged_end_of_another_format_keeps_what_came_before(tmp_path):
    path = tmp_path / "a.asc"
    with can.Logger(path) as logger:
        for number in range(5):
            message = can.Message(timestamp=float(number), arbitration_id=1, is_extended_id=False, data=b"\1")
            logger.on_message_received(message)
    text = path.read_text()
    path.write_text(text + " 9.0 1  1  Rx   d 8 ZZ\n")
    reader = RecordingReader(path)
    assert len(list(reader)) == 5
    assert reader.unreadable == 1


def test_text_is_read_without_loading_python_can(recording):
    path = recording("(1.0) can0 001#01\n")
    code = (
        "import sys; from pathlib import Path; from bus.recording import read_frames; "
        f"assert len(list(read_frames(Path({str(path)!r})))) == 1; assert 'can' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)
