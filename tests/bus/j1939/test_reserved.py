"""Reserved codes of SAE J1939 (shared/reference/standards.md 5.2) are never a number."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.reading import Quality
from bus.family import SHIPPED, load_family
from bus.frame import Frame

TERN = load_family(SHIPPED / "tern")
DECODER = TERN.decoder()
LAYOUTS = {signal.name: (message, signal) for message in TERN.messages for signal in message.signals}
NUMBERS = [name for name, (_, signal) in LAYOUTS.items() if signal.length >= 8 and name != "MakeMark"]
LONG = [name for name in NUMBERS if LAYOUTS[name][1].length > 8]

MEANT = [
    (0xFF, Quality.NOT_AVAILABLE),
    (0xFE, Quality.ERROR),
    (0xFD, Quality.OUT_OF_RANGE),
    (0xFC, Quality.OUT_OF_RANGE),
    (0xFB, Quality.OUT_OF_RANGE),
]


def reading(name, raw):
    message, signal = LAYOUTS[name]
    data = (raw << signal.shift).to_bytes(8, "little")
    readings = DECODER.feed(Frame(0.0, message.ident, data))
    return next(each for each in readings if each.signal == name)


@pytest.mark.parametrize(("top", "quality"), MEANT, ids=[f"{top:X}" for top, _ in MEANT])
@pytest.mark.parametrize("name", NUMBERS)
def test_the_highest_byte_says_that_there_is_no_number(name, top, quality):
    below = LAYOUTS[name][1].length - 8
    for rest in {0, (1 << below) - 1, (1 << below) // 2}:
        said = reading(name, top << below | rest)
        assert (said.value, said.quality) == (None, quality)


@pytest.mark.parametrize("name", NUMBERS)
def test_the_highest_code_that_is_not_reserved_is_a_value(name):
    below = LAYOUTS[name][1].length - 8
    said = reading(name, (0xFB << below) - 1)
    assert said.quality is Quality.GOOD
    assert said.value is not None


def test_engine_speed_ends_where_the_standard_says():
    # A public manual: SPN 190 has the range 0 to 8031.875 rpm, 0.125 x FAFF (standards.md 5.2).
    assert reading("EngineSpeed", 0xFAFF).value == 8031.875


@pytest.mark.parametrize("name", ["TorqueMode", "StarterMode"])
def test_half_bytes_have_their_own_two_codes(name):
    assert (reading(name, 15).value, reading(name, 15).quality) == (None, Quality.NOT_AVAILABLE)
    assert (reading(name, 14).value, reading(name, 14).quality) == (None, Quality.ERROR)
    assert reading(name, 13).value == 13


@pytest.mark.parametrize("data", [b"", b"\x00" * 7, b"\xff" * 3])
def test_a_short_frame_gives_no_reading_and_is_counted(data):
    decoder = TERN.decoder()
    assert decoder.feed(Frame(0.0, LAYOUTS["EngineSpeed"][0].ident, data)) == []
    assert decoder.bad_frames == 1


@given(st.sampled_from(list(TERN.messages)), st.binary(max_size=8))
@settings(deadline=None)
def test_any_bytes_give_a_number_only_below_the_reserved_codes(message, data):
    readings = {each.signal: each for each in DECODER.feed(Frame(0.0, message.ident, data))}
    assert bool(readings) == (len(data) == 8)
    for signal in message.signals if readings else ():
        raw = int.from_bytes(data, "little") >> signal.shift & ((1 << signal.length) - 1)
        if signal.length >= 8 and signal.name != "MakeMark":
            reserved = raw >> (signal.length - 8) >= 0xFB
            assert (readings[signal.name].value is None) == reserved
