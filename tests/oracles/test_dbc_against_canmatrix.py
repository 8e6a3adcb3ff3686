"""Every signal of the shipped DBC files, decoded from any payload, against canmatrix.

canmatrix (BSD) reads and decodes DBC files without cantools, on which our tables are built; it computes with
decimal fractions, so its values are the exact ones.
"""

import canmatrix.formats
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from app.reading import Quality
from bus.decode import Decoder, enumerated
from bus.family import SHIPPED, load_family
from bus.family_form import Decode
from bus.frame import Frame

PLAIN = Decode(sentinels="none")
"""Without reserved codes, of which a DBC file knows nothing: every raw number is one to compare."""


def oracle(name):
    matrix = canmatrix.formats.loadp_flat(str(SHIPPED / name / "signals.dbc"))
    return {frame.name: frame for frame in matrix.frames}


AUK, NMEA = load_family(SHIPPED / "auk"), load_family(SHIPPED / "nmea2000")
CASES = [(AUK, oracle("auk"), message) for message in AUK.messages]
CASES += [(NMEA, oracle("nmea2000"), message) for message in NMEA.messages if message.length <= 8]
# One signal of several pages is beyond canmatrix; these two are checked against recorded traffic instead.
CASES = [case for case in CASES if case[2].name not in ("FluidLevel", "Temperature")]


def compare(family, frame, message, payload):
    """Decode both ways; gives the number of signals compared."""
    decoder = Decoder([message], family.identifiers, PLAIN)
    readings = {reading.signal: reading for reading in decoder.feed(Frame(0.0, message.ident, payload))}
    selector = next((signal for signal in message.signals if signal.selector), None)
    if selector is not None and payload[0] > 3:
        assert (readings, decoder.bad_frames) == ({}, 1)
        return 0
    expected = frame.decode(payload)
    assert readings.keys() == expected.keys()
    for signal in message.signals:
        if signal.name not in expected:
            continue
        reading, theirs = readings[signal.name], expected[signal.name]
        raw = int(theirs.raw_value)
        text = signal.texts.get(raw, "")
        if text.lower() in ("not available", "error"):
            assert reading.value is None
        elif enumerated(signal):
            assert reading.value == (text or raw)
        else:
            value = theirs.phys_value
            assert reading.value == float(value)
            inside = theirs.signal.min <= value <= theirs.signal.max
            assert reading.quality is (Quality.GOOD if inside else Quality.OUT_OF_RANGE)
    return len(expected)


@pytest.mark.parametrize(("family", "frames", "message"), CASES, ids=[case[2].name for case in CASES])
def test_any_payload_gives_the_values_that_canmatrix_gives(family, frames, message):
    @given(st.binary(min_size=message.length, max_size=message.length))
    @example(bytes(message.length))
    @example(b"\xff" * message.length)
    @example(bytes(range(message.length)))
    def check(payload):
        compare(family, frames[message.name], message, payload)

    check()


def test_every_page_and_every_signal_of_auk_is_among_what_is_compared():
    compared = set()
    for family, frames, message in CASES:
        for page in range(4):
            payload = bytes([page]) + b"\x5a" * 7
            assert compare(family, frames[message.name], message, payload)
            compared |= frames[message.name].decode(payload).keys()
    assert compared >= {signal.name for message in AUK.messages for signal in message.signals}


def test_periods_and_texts_are_those_that_canmatrix_reads():
    for family, frames, message in CASES:
        frame = frames[message.name]
        assert frame.effective_cycle_time == round(message.cycle * 1000)
        for signal in message.signals:
            texts = frame.signal_by_name(signal.name).values
            assert {int(raw): str(text) for raw, text in texts.items()} == signal.texts, family.name
            assert frame.signal_by_name(signal.name).unit == signal.unit
