"""watch --from: every reading of a recording, one line each, in the order of the frames."""

import io
import json
import os
import subprocess
import sys
import threading

import pytest

from app.errors import RecordingError, UsageError
from app.reading import Quality, Reading
from bus.family import SHIPPED, load_family
from bus.frame import EXTENDED, Frame
from bus.recording import candump_line
from bus.watch_file import BLOCK, reading_line, reading_text, run

AUK, NMEA = load_family(SHIPPED / "auk"), load_family(SHIPPED / "nmea2000")
SPEED = "E02E000000000000"
NAMING = [(0x120, SPEED), (0x1A0, "7403000000000000"), (0x210, "00" * 8)]
HEADING = EXTENDED | 2 << 26 | 127250 << 8 | 15


@pytest.fixture
def recording(tmp_path):
    """A recording of these (identifier, hexadecimal data) frames, 0.1 s apart, and lines as they are."""

    def write(*items):
        path = tmp_path / "ride.log"
        lines = []
        for number, item in enumerate(items):
            if isinstance(item, str):
                lines.append(item.encode() + b"\n")
            else:
                frame = Frame(0.0, item[0], bytes.fromhex(item[1]))
                lines.append(candump_line(1.0 + number / 10, "can0", frame))
        path.write_bytes(b"".join(lines))
        return path

    return write


@pytest.fixture
def watch():
    """Run on a recording; gives the exit code and the lines."""

    def call(path, families=(AUK, NMEA), family=None, *, as_json=True):
        out = io.StringIO()
        code = run(path, families, family, as_json=as_json, out=out)
        lines = out.getvalue().splitlines()
        return code, [json.loads(line) for line in lines] if as_json else lines

    return call


def test_a_line_has_exactly_the_promised_keys_in_their_order():
    reading = Reading("OilPressure", 345.6, "kPa", 1700000000.123456, Quality.GOOD, 0x1A8)
    assert list(json.loads(reading_line(reading)).items()) == [
        ("t", 1700000000.123456),
        ("source", 424),
        ("signal", "OilPressure"),
        ("value", 345.6),
        ("unit", "kPa"),
        ("quality", "good"),
    ]


@pytest.mark.parametrize(
    ("value", "at", "quality", "said"),
    [
        (None, None, Quality.NOT_AVAILABLE, {"t": None, "value": None, "quality": "not_available"}),
        (None, 1.0, Quality.ERROR, {"value": None, "quality": "error"}),
        ("Running", 1.0, Quality.GOOD, {"value": "Running", "quality": "good"}),
        (-0.1, 1.0, Quality.OUT_OF_RANGE, {"value": -0.1, "quality": "out_of_range"}),
    ],
)
def test_a_code_is_null_and_a_text_is_a_text(value, at, quality, said):
    line = json.loads(reading_line(Reading("X", value, "", at, quality, 1)))
    assert {key: line[key] for key in said} == said


def test_a_line_for_a_person_has_columns_and_names_what_is_not_good():
    good = reading_text(Reading("OilPressure", 345.6, "kPa", 12.5, Quality.GOOD, 0x1A8))
    gone = reading_text(Reading("OilPressure", None, "kPa", None, Quality.NOT_AVAILABLE, 0x1A8))
    assert good.split() == ["12.500000", "1A8", "OilPressure", "345.6", "kPa"]
    assert gone.split() == ["-", "1A8", "OilPressure", "-", "kPa", "not", "available"]
    assert good.index("kPa") == gone.index("kPa")


def test_every_reading_comes_in_the_order_of_the_frames_from_the_first_frame_on(recording, watch):
    code, lines = watch(recording(*NAMING, *NAMING))
    assert code == 0
    wanted = [message.signals for message in AUK.messages if message.ident in (0x120, 0x1A0, 0x210)]
    names = [signal.name for signals in wanted for signal in signals]
    assert [line["signal"] for line in lines] == names * 2
    assert [line["t"] for line in lines if line["signal"] == "EngineSpeed"] == [1.0, 1.3]
    assert lines[0] == {
        "t": 1.0,
        "source": 0x120,
        "signal": "EngineSpeed",
        "value": 3000.0,
        "unit": "rev/min",
        "quality": "good",
    }


def test_a_family_of_each_kind_of_identifier_is_decoded_side_by_side(recording, watch):
    _, lines = watch(recording((HEADING, "FF2BC2FF7FFF7FFD"), *NAMING, (HEADING, "FF2CC2FF7FFF7FFD")))
    headings = [(line["t"], line["source"], line["value"]) for line in lines if line["signal"] == "Heading"]
    assert headings == [(1.0, 15, 4.9707), (1.4, 15, 4.9708)]
    assert sum(line["source"] == 0x120 for line in lines) == 7


def test_a_named_family_is_decoded_without_being_recognised(recording, watch):
    path = recording((0x120, SPEED))
    assert watch(path)[0] == 1
    code, lines = watch(path, family="auk")
    assert (code, lines[0]["value"]) == (0, 3000.0)
    assert watch(path, family="nmea2000") == (0, [])


def test_an_unknown_name_is_a_usage_error_that_names_the_known_ones(recording, watch):
    with pytest.raises(UsageError, match="auk, nmea2000"):
        watch(recording((0x120, SPEED)), family="gull")


def test_a_recording_that_no_family_explains_is_told_in_a_sentence(recording, watch, capsys):
    assert watch(recording((0x555, "00"), (0x556, "01"))) == (1, [])
    assert "No family explains" in capsys.readouterr().err


def test_two_families_that_both_fit_are_named_and_neither_is_taken(recording, watch, capsys):
    code, lines = watch(recording(*NAMING), families=(AUK, AUK))
    assert (code, lines) == (1, [])
    assert "several families (auk, auk)" in capsys.readouterr().err


def test_what_could_not_be_used_is_told_in_one_sentence_with_its_first_line(recording, watch, capsys):
    path = recording(*NAMING, "rubbish", (0x120, "00"), "(1.0) can0 123#R", (0x120, SPEED))
    code, lines = watch(path)
    assert (code, lines[-7]["value"]) == (0, 3000.0)
    said = capsys.readouterr().err
    assert "2 lines gave no data frame (first: line 4)" in said
    assert "1 frame of known messages could not be decoded (first: line 5)" in said
    assert said.count("\n") == 1


def test_a_packet_cut_off_by_the_end_is_told(recording, watch, capsys):
    first = EXTENDED | 127489 << 8 | 1
    watch(recording((first, "601A002F06FFFFE3")), family="nmea2000")
    assert "1 frame of known messages could not be decoded" in capsys.readouterr().err


def test_a_sound_recording_is_not_commented(recording, watch, capsys):
    watch(recording(*NAMING))
    assert capsys.readouterr().err == ""


def test_a_recording_without_times_gives_null(recording, watch):
    lines = [f"  can0  {ident:03X}   [8]  {bytes.fromhex(data).hex(' ')}" for ident, data in NAMING]
    assert {line["t"] for line in watch(recording(*lines))[1]} == {None}


def test_long_recordings_are_written_whole(recording, watch):
    path = recording(*NAMING, *[(0x120, SPEED)] * BLOCK)
    assert sum(line["signal"] == "EngineSpeed" for line in watch(path)[1]) == BLOCK + 1


def test_lines_for_a_person_are_one_a_reading(recording, watch):
    path = recording(*NAMING)
    assert len(watch(path, as_json=False)[1]) == len(watch(path)[1])


def test_a_file_that_is_no_recording_is_an_error(tmp_path, watch):
    with pytest.raises(RecordingError):
        watch(tmp_path / "none")


def test_a_reader_that_has_enough_ends_it_quietly(recording):
    path = recording(*NAMING, *[(0x120, SPEED)] * 20_000)
    code = (
        "import sys; from pathlib import Path; from bus.family import load_families; "
        "from bus.watch_file import run; families, _ = load_families(); "
        f"sys.exit(run(Path({str(path)!r}), families, None, as_json=True, out=sys.stdout))"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as process:
        assert b"EngineSpeed" in process.stdout.readline()
        process.stdout.close()
        assert process.stderr.read() == b""
        assert process.wait(60) == 0


def test_a_closed_pipe_is_no_error_within_a_process_either(recording):
    reading, writing = os.pipe()
    path = recording(*NAMING, *[(0x120, SPEED)] * 5_000)
    with os.fdopen(writing, "w") as out:
        codes = []
        thread = threading.Thread(target=lambda: codes.append(run(path, (AUK,), None, as_json=True, out=out)))
        os.close(reading)
        thread.start()
        thread.join(60)
        assert codes == [0]
