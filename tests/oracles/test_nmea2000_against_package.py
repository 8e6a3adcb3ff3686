"""Any payload of the groups of family nmea2000, and their layout, against the PyPI package nmea2000.

nmea2000 2026.10.3 (Apache-2.0) carries the CANboat database; only the groups, the texts and the reserved
codes are compared, our names are our own.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from nmea2000 import NMEA2000Decoder
from nmea2000._canboat import Database

from app.reading import Quality
from bus.family import SHIPPED, load_family
from bus.frame import EXTENDED, Frame

MESSAGES = [(message.ident >> 8 & 0x1FFFF, message) for message in load_family(SHIPPED / "nmea2000").messages]
IDS = [message.name for _, message in MESSAGES]

payload_bytes = st.one_of(st.sampled_from([0x00, 0x7E, 0x7F, 0x80, 0xFE, 0xFF]), st.integers(0, 255))


def split(pgn, payload, length):
    if length <= 8:
        return [payload]
    parts = [bytes([length]) + payload[:6]]
    parts += [payload[start : start + 7] for start in range(6, length, 7)]
    return [bytes([number]) + part for number, part in enumerate(parts)]


@pytest.mark.parametrize(("pgn", "message"), MESSAGES, ids=IDS)
def test_any_payload_gives_the_values_that_the_package_gives(pgn, message, nmea, expected_readings):
    package = NMEA2000Decoder()
    length = 9 if message.name == "EngineTrip" else message.length

    @given(st.lists(payload_bytes, min_size=length, max_size=length).map(bytes))
    def check(payload):
        decoder = nmea.decoder()
        ident = EXTENDED | 2 << 26 | pgn << 8 | 15
        readings = {
            reading.signal: reading
            for data in split(pgn, payload, length)
            for reading in decoder.feed(Frame(0.0, ident, data))
        }
        text = ",".join(f"{byte:02x}" for byte in payload)
        theirs = package.decode(f"2020-01-01T00:00:00.000Z,2,{pgn},15,255,{length},{text}")
        fields = {
            field.id: field.value for field in theirs.fields if not field.id.startswith(("reserved", "spare"))
        }
        if not readings:  # a page that the standard does not name: the package has no text for it either
            assert decoder.bad_frames == 1
            assert next(fields[field] for field in ("type", "source") if field in fields) is None
            return
        for name, value in expected_readings(pgn, fields).items():
            reading = readings[name]
            if reading.quality is Quality.GOOD:
                assert reading.value == (value if isinstance(value, str) else pytest.approx(value)), name
            elif reading.quality is Quality.OUT_OF_RANGE:
                assert value is None or reading.value == pytest.approx(value), name
            else:
                assert value is None or (value, reading.quality) == ("Error", Quality.ERROR), name

    check()


@pytest.mark.parametrize(("pgn", "message"), MESSAGES, ids=IDS)
def test_every_field_lies_where_the_database_says(pgn, message):
    (variant,) = Database("si").pgn_variants(pgn)
    fields = [field for field in variant.fields if field.field_type != "RESERVED"]
    places = {(signal.shift, signal.length) for signal in message.signals}
    for field in fields:
        if field.field_type == "BITLOOKUP":
            bits = len(Database("si").bit_lookup(field.lookup_bit_enumeration))
            assert {(field.bit_offset + bit, 1) for bit in range(min(bits, 8))} <= places, field.id
        else:
            assert (field.bit_offset, field.bit_length) in places, field.id
    assert (variant.packet_type == "Fast") == (message.length > 8)
    assert variant.transmission_interval == round(message.cycle * 1000)


@pytest.mark.parametrize(
    ("signal", "lookup"),
    [
        ("EngineInstance", "ENGINE_INSTANCE"),
        ("DynamicEngineInstance", "ENGINE_INSTANCE"),
        ("Gear", "GEAR_STATUS"),
        ("FluidType", "TANK_TYPE"),
        ("TemperatureSource", "TEMPERATURE_SOURCE"),
        ("HeadingReference", "DIRECTION_REFERENCE"),
        ("CourseReference", "DIRECTION_REFERENCE"),
        ("SpeedSensorType", "WATER_REFERENCE"),
    ],
)
def test_the_texts_are_the_standards(nmea, signal, lookup):
    texts = {raw: text for raw, text in nmea.signal(signal).texts.items() if text != "Not available"}
    theirs = dict(Database("si").lookup(lookup))
    if signal == "FluidType":
        theirs[14] = "Error"
    assert texts == theirs
