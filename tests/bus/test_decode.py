"""Decoding: any frame will do, reserved codes are never numbers, numbers are printable ones."""

import math

import cantools
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.reading import Quality
from bus.dbc_reader import read_dbc
from bus.decode import Decoder
from bus.family import SHIPPED, load_family
from bus.family_form import Decode
from bus.frame import EXTENDED, Frame

AUK = load_family(SHIPPED / "auk")
NMEA = load_family(SHIPPED / "nmea2000")
AUK_DBC = cantools.database.load_file(SHIPPED / "auk" / "signals.dbc")
AUK_IDENTS = [message.ident for message in AUK.messages]
NMEA_IDENTS = [message.ident for message in NMEA.messages]

idents = st.one_of(
    st.sampled_from(AUK_IDENTS + NMEA_IDENTS),
    st.integers(0, 0x7FF),
    st.integers(0, 0x1FFF_FFFF).map(lambda ident: ident | EXTENDED),
)
frames = st.builds(Frame, st.floats(), idents, st.binary(max_size=8))

OWN = """VERSION ""
BS_:
BU_: A
BO_ 256 Own: 8 A
 SG_ Tenth : 0|8@1+ (0.1,0) [0|25] "V" A
 SG_ Depth : 15|16@0- (0.01,0) [0|300] "m" A
 SG_ Count : 24|16@1+ (1,0) [0|0] "" A
 SG_ Gear : 40|4@1+ (1,0) [0|15] "" A
 SG_ Wide : 48|16@1- (0.5,-20) [-100|100] "degC" A
BO_ 257 Paged: 8 A
 SG_ Which M : 7|8@0+ (1,0) [0|255] "" A
 SG_ First m0 : 8|8@1+ (1,0) [0|0] "" A
 SG_ Second m1 : 8|16@1+ (1,0) [0|0] "" A
 SG_ Always : 56|8@1+ (1,0) [0|0] "" A
VAL_ 256 Gear 0 "Neutral" 1 "Forward" 14 "ERROR" 15 "not Available" ;
"""
MESSAGES, FAULTS = read_dbc(OWN, "own.dbc")


@pytest.fixture
def decode():
    """Decode one frame of the family above; gives signal to (value, quality)."""

    def feed(data, ident=256, **rules):
        decoder = Decoder(MESSAGES, "11-bit", Decode(**rules))
        readings = decoder.feed(Frame(0.0, ident, bytes.fromhex(data)))
        assert decoder.bad_frames == (0 if readings else 1)
        return {reading.signal: (reading.value, str(reading.quality)) for reading in readings}

    assert FAULTS == []
    return feed


@given(st.lists(frames, max_size=12))
def test_any_frames_at_all_are_taken_and_a_code_is_never_a_value(sequence):
    decoders = [AUK.decoder(), NMEA.decoder()]
    decoders.append(Decoder(AUK.messages, "11-bit", Decode(short_frames=True)))
    for frame in sequence:
        for decoder in decoders:
            for reading in decoder.feed(frame):
                missing = reading.quality in (Quality.NOT_AVAILABLE, Quality.ERROR)
                assert (reading.value is None) is missing
                assert reading.at is None if math.isnan(frame.at) else reading.at == frame.at
                assert not isinstance(reading.value, float) or math.isfinite(reading.value)


def _raw(message, signal, raw):
    """A payload with a raw number in one signal, encoded by cantools."""
    values = dict.fromkeys((each.name for each in message.signals), 0)
    values |= {each.multiplexer_signal: each.multiplexer_ids[0] for each in [signal] if each.multiplexer_ids}
    values[signal.name] = raw
    return message.encode(values, scaling=False, strict=False)


WIDE = [
    (message, signal)
    for message in AUK_DBC.messages
    for signal in message.signals
    if signal.length >= 8 and signal.name != "Page"
]


@pytest.mark.parametrize(("message", "signal"), WIDE, ids=[signal.name for _, signal in WIDE])
def test_the_reserved_codes_of_every_wide_signal_are_never_numbers(message, signal):
    top = 2 ** (signal.length - (1 if signal.is_signed else 0)) - 1
    for raw, quality in ((top, Quality.NOT_AVAILABLE), (top - 1, Quality.ERROR)):
        data = _raw(message, signal, raw)
        readings = {each.signal: each for each in AUK.decoder().feed(Frame(0, message.frame_id, data))}
        assert (readings[signal.name].value, readings[signal.name].quality) == (None, quality)


@given(st.data())
def test_what_cantools_encodes_we_decode_to_the_same(data):
    message = data.draw(st.sampled_from(AUK_DBC.messages))
    page = data.draw(st.integers(0, 3))
    values = {}
    for signal in message.signals:
        if signal.multiplexer_ids and page not in signal.multiplexer_ids:
            continue
        if signal.is_multiplexer:
            values[signal.name] = page
        elif signal.choices:
            values[signal.name] = data.draw(st.sampled_from(sorted(signal.choices)))
        else:
            low = math.ceil(signal.minimum / signal.scale - signal.offset / signal.scale)
            high = math.floor(signal.maximum / signal.scale - signal.offset / signal.scale)
            high = min(high, 2 ** (signal.length - 2 if signal.is_signed else signal.length) - 3)
            values[signal.name] = data.draw(st.integers(low, high))
    payload = message.encode(values, scaling=False, strict=False)
    readings = {each.signal: each for each in AUK.decoder().feed(Frame(0, message.frame_id, payload))}
    assert readings.keys() == values.keys()
    for signal in message.signals:
        if signal.name not in values:
            continue
        reading, raw = readings[signal.name], values[signal.name]
        text = signal.choices and str(signal.choices[raw])
        if text in ("Not available", "Error"):
            assert reading.value is None
        elif text:
            assert (reading.value, reading.quality) == (text, Quality.GOOD)
        else:
            assert reading.value == pytest.approx(signal.raw_to_scaled(raw), rel=1e-12, abs=1e-12)
            assert reading.quality is Quality.GOOD


def test_a_decimal_factor_leaves_no_binary_rubbish(decode):
    assert 3 * 0.1 != 0.3, "what a plain product would give"
    assert decode("03 0000 0000 00 0000")["Tenth"] == (0.3, "good")
    for raw in range(251):
        value, _ = decode(f"{raw:02X} 0000 0000 00 0000")["Tenth"]
        assert repr(value) == f"{raw // 10}.{raw % 10}"


def test_the_same_reserved_code_means_nothing_to_a_signal_that_uses_its_whole_range(decode):
    assert decode("00 0000 FFFF 00 0000")["Count"] == (None, "not_available")
    assert decode("00 0000 FEFF 00 0000")["Count"] == (None, "error")
    assert decode("00 0000 FFFF 00 0000", no_sentinel=("Count",))["Count"] == (65535, "good")
    assert decode("00 0000 FFFF 00 0000", sentinels="none")["Count"] == (65535, "good")


def test_a_signed_signal_has_its_codes_at_the_top_of_its_positive_half(decode):
    # Source: NMEA 2000 as published with the CANboat database: signed fields 7F…F and 7F…E.
    assert decode("00 7FFF 0000 00 0000")["Depth"] == (None, "not_available")
    assert decode("00 7FFE 0000 00 0000")["Depth"] == (None, "error")
    assert decode("00 0000 0000 00 FFFF")["Wide"] == (-20.5, "good"), "all ones is minus one step"
    assert decode("00 FFFF 0000 00 0000")["Depth"] == (-0.01, "out_of_range"), "a depth is never negative"


def test_a_number_that_the_signal_cannot_have_is_kept_and_marked(decode):
    assert decode("FB 0000 0000 00 0000")["Tenth"] == (25.1, "out_of_range")
    assert decode("FA 0000 0000 00 0000")["Tenth"] == (25.0, "good")
    assert decode("00 0000 0000 00 F100")["Wide"] == (100.5, "out_of_range")


@pytest.mark.parametrize(
    ("nibble", "expected"),
    [
        ("0", ("Neutral", "good")),
        ("1", ("Forward", "good")),
        ("5", (5.0, "out_of_range")),
        ("E", (None, "error")),
        ("F", (None, "not_available")),
    ],
)
def test_texts_are_values_unknown_ones_are_marked_and_reserved_ones_are_none(decode, nibble, expected):
    assert decode(f"00 0000 0000 0{nibble} 0000")["Gear"] == expected
    assert decode(f"00 0000 0000 0{nibble} 0000", sentinels="none")["Gear"] == expected


def test_a_short_signal_has_no_reserved_code_but_its_texts():
    auk = {each.signal: each for each in AUK.decoder().feed(Frame(0, 0x120, b"\0\0\0\0\0\0\xf2\0"))}
    assert (auk["AliveCounter"].value, auk["AliveCounter"].quality) == (15, Quality.GOOD)


def test_only_the_signals_of_the_page_are_read(decode):
    assert decode("00 05 00 00 00 00 00 07", 257).keys() == {"Which", "First", "Always"}
    assert decode("01 05 01 00 00 00 00 07", 257)["Second"] == (0x105, "good")


def test_an_unlisted_page_is_a_bad_frame(decode):
    assert decode("02 05 00 00 00 00 00 07", 257) == {}


def test_a_selector_that_says_not_available_names_no_page_and_is_no_fault(decode):
    assert decode("FF 05 00 00 00 00 00 07", 257) == {
        "Which": (None, "not_available"),
        "Always": (7, "good"),
    }
    assert decode("FF 05 00 00 00 00 00 07", 257, no_sentinel=("Which",)) == {}


def test_a_short_frame_is_bad_unless_the_family_allows_it(decode):
    assert decode("03 0064 0700") == {}
    assert decode("") == {}
    assert decode("03 0064 0700", short_frames=True) == {
        "Tenth": (0.3, "good"),
        "Depth": (1.0, "good"),
        "Count": (7, "good"),
    }
    assert decode("03 00", short_frames=True) == {"Tenth": (0.3, "good")}, "half a signal is no signal"
    assert decode("", 257, short_frames=True) == {}, "without its selector no page is known"
    assert decode("00 05", 257, short_frames=True).keys() == {"Which", "First"}


def test_a_longer_frame_is_read_as_far_as_it_is_known():
    messages, _ = read_dbc(
        OWN.replace("Own: 8", "Own: 7").replace(" SG_ Wide : 48|16", " SG_ Wide : 44|8"), "x"
    )
    decoder = Decoder(messages, "11-bit", Decode())
    readings = decoder.feed(Frame(0, 256, bytes.fromhex("03 0064 0700 01 00 EE")))
    values = {each.signal: each.value for each in readings}
    assert (values["Tenth"], values["Depth"], values["Count"]) == (0.3, 1.0, 7)


def test_unknown_identifiers_are_no_fault():
    for decoder in (AUK.decoder(), NMEA.decoder()):
        assert decoder.feed(Frame(0, 0x7F0, b"SIMULATE")) == []
        assert decoder.feed(Frame(0, EXTENDED | 0x120, bytes(8))) == []
        assert decoder.bad_frames == 0


def test_a_parameter_group_is_known_whoever_sends_it_and_with_whatever_priority():
    for priority, source in ((0, 0), (2, 16), (7, 253)):
        ident = EXTENDED | priority << 26 | 127488 << 8 | source
        decoder = NMEA.decoder()
        assert decoder.knows(ident)
        (instance, speed, *_) = decoder.feed(Frame(0, ident, bytes.fromhex("00 7A 0C FF FF 7F FF FF")))
        assert (speed.value, speed.source, instance.source) == (798.5, source, source)
    assert not NMEA.decoder().knows(127488 << 8)
    assert not NMEA.decoder().knows(EXTENDED | 127487 << 8)
    assert AUK.decoder().knows(0x120)
    assert not AUK.decoder().knows(EXTENDED | 0x120)


def test_readings_carry_the_time_of_their_frame_and_none_where_there_is_none():
    decoder = AUK.decoder()
    assert {each.at for each in decoder.feed(Frame(12.5, 0x120, bytes(8)))} == {12.5}
    assert {each.at for each in decoder.feed(Frame(math.nan, 0x120, bytes(8)))} == {None}
