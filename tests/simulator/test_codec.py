"""The packing plans against cantools: every signal of auk, random values."""

import random

import pytest

from simulator import auk
from simulator.codec import ERROR, NOT_AVAILABLE, Field, Message, read_family
from simulator.errors import Misunderstood

MESSAGES = read_family("auk", auk.PLAIN)
FIELDS = {field.name: field for message in MESSAGES for field in message.fields}


@pytest.mark.parametrize("message", MESSAGES, ids=lambda message: message.name)
def test_every_frame_is_packed_as_cantools_packs_it(message, database):
    chance = random.Random(message.name)
    theirs = database.get_message_by_name(message.name)
    for _ in range(300):
        page = chance.choice(message.pages) if message.pages else None
        raws = {}
        for field in message.on_page(page):
            ends = [field.bottom, field.top, field.top - 1, 0]
            raws[field.name] = chance.choice(
                [*ends, *(chance.randint(field.bottom, field.top) for _ in "1234")]
            )
        if message.selector:
            raws[message.selector] = page
        assert message.pack(raws, page) == theirs.encode(raws, scaling=False, strict=False)


@pytest.mark.parametrize("name", sorted(FIELDS))
def test_numbers_and_texts_come_back_as_cantools_reads_them(name, database):
    field = FIELDS[name]
    signal = next(s for m in database.messages for s in m.signals if s.name == name)
    chance = random.Random(name)
    for raw in {0, *(chance.randint(field.bottom, field.top) for _ in range(200))}:
        meaning = field.meaning(raw)
        if meaning in {NOT_AVAILABLE, ERROR}:
            assert raw >= field.top - 1
            continue
        theirs = signal.raw_to_scaled(raw)
        if isinstance(meaning, str):
            assert meaning == str(theirs)
        else:
            assert meaning == pytest.approx(float(theirs))
        assert field.exact(meaning) == raw


@pytest.mark.parametrize("name", sorted(FIELDS))
def test_a_healthy_number_never_becomes_a_reserved_code(name):
    field = FIELDS[name]
    for value in (-1e9, -1.0, 0.0, 1e9):
        raw = field.raw(value)
        assert field.bottom <= raw <= field.top
        if name not in auk.PLAIN and field.length >= 8:
            assert raw < field.top - 1


@pytest.mark.parametrize(("signed", "last"), [(False, 0xFD), (True, 0x7D)])
def test_a_field_without_ends_still_keeps_its_reserved_codes_free(signed, last):
    field = Field("a", 0, 8, signed=signed)
    assert field.raw(1e9) == last
    assert field.raw(None) == last + 2


def test_reserved_codes_are_all_ones_and_one_less_and_for_signed_ones_7f():
    # The open CANboat database states this rule for NMEA 2000; family auk takes it over.
    assert FIELDS["EngineSpeed"].codes[NOT_AVAILABLE] == 0xFFFF
    assert FIELDS["EngineSpeed"].codes[ERROR] == 0xFFFE
    assert FIELDS["CoolantTemperature"].codes[NOT_AVAILABLE] == 0x7FFF
    assert FIELDS["IgnitionTiming"].codes[ERROR] == 0x7FE
    assert FIELDS["Lanyard"].codes[NOT_AVAILABLE] == 3
    assert FIELDS["EngineState"].codes[ERROR] == 14
    assert NOT_AVAILABLE not in FIELDS["AliveCounter"].codes
    assert NOT_AVAILABLE not in FIELDS["Page"].codes


@pytest.mark.parametrize("value", [1e6, -1.0, "open", float("nan"), float("inf")])
def test_a_value_that_does_not_fit_its_bits_is_refused_in_words(value):
    with pytest.raises(Misunderstood, match="EngineSpeed"):
        FIELDS["EngineSpeed"].exact(value)


def test_unused_bits_keep_the_base():
    message = Message("M", 1, 2, cycle_ms=10, sender="", fields=[Field("a", 4, 4)], base=0xFFFF)
    assert message.pack({"a": 5}) == b"\x5f\xff"


def test_a_family_without_a_file_is_named():
    with pytest.raises(Misunderstood, match="gannet"):
        read_family("gannet")
