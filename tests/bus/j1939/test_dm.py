"""DM1 and DM2 against bytes that the PyPI package can-j1939 made (shared/reference/standards.md 5.4)."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bus.dm import Trouble, decode

NONE = "FF FF"

WORKED = [
    ("6E 00 00 01", (110, 0, 1)),
    ("6E 00 03 01", (110, 3, 1)),
    ("64 00 01 03", (100, 1, 3)),
    ("BE 00 08 02", (190, 8, 2)),
    ("18 A2 E7 02", (500248, 7, 2)),
    ("00 F0 FF 7E", (520192, 31, 126)),
    ("75 02 0C 01", (629, 12, 1)),
    ("A8 00 04 01", (168, 4, 1)),
]


def of(text):
    return decode(bytes.fromhex(text))


@pytest.mark.parametrize(("code", "meant"), WORKED)
def test_each_worked_code_is_read(code, meant):
    assert of(f"04 FF {code} FF FF").troubles == (Trouble(*meant, old=False),)


def test_all_worked_codes_of_one_broadcast_are_read_in_their_order():
    message = of("04 FF" + "".join(code for code, _ in WORKED))
    assert [(each.spn, each.fmi, each.times) for each in message.troubles] == [meant for _, meant in WORKED]


@pytest.mark.parametrize(
    ("lamps", "words"),
    [
        ("04 FF", "amber warning"),
        ("40 FF", "malfunction"),
        ("10 DF", "red stop, fast flash"),
        ("00 FF", ""),
        # By hand: protect 01 and flash 00.
        ("01 FC", "protect, slow flash"),
        ("54 FF", "amber warning; red stop; malfunction"),
        ("FF FF", ""),
        ("AA FF", ""),
    ],
)
def test_lamps_run_from_low_to_high(lamps, words):
    assert of(f"{lamps} 00 00 00 00 FF FF").words() == words


def test_a_lamp_of_which_nothing_is_told_is_neither_lit_nor_dark():
    assert [lamp.lit for lamp in of("E4 FF 00 00 00 00 FF FF").lamps] == [False, True, None, None]


@pytest.mark.parametrize("data", ["00 FF 00 00 00 00 FF FF", "00 FF FF FF FF FF FF FF"])
def test_both_ways_of_saying_no_fault_give_no_code(data):
    # The first is a frame of a real engine, CANboat repository, analyzer/tests/j1939-pgn-test.in.
    assert of(data).troubles == ()


def test_filling_at_the_end_of_a_broadcast_is_no_code():
    assert len(of("04 FF 6E 00 00 01 FF FF FF FF").troubles) == 1


def test_a_count_of_127_is_not_told_and_the_conversion_bit_is_kept():
    assert of("04 FF 6E 00 00 7F FF FF").troubles == (Trouble(110, 0, None, old=False),)
    assert of("04 FF 6E 00 00 81 FF FF").troubles == (Trouble(110, 0, 1, old=True),)


def test_a_code_that_stands_there_twice_is_one():
    assert len(of("04 FF 6E 00 00 01 6E 00 00 02").troubles) == 1


@given(st.binary(max_size=1785))
@settings(deadline=None)
def test_any_bytes_give_codes_of_the_standards_size_or_nothing(data):
    message = decode(data)
    sound = len(data) == 8 or (len(data) > 8 and (len(data) - 2) % 4 == 0)
    assert (message is not None) == sound
    for trouble in message.troubles if message else ():
        assert 0 <= trouble.spn < 1 << 19
        assert 0 <= trouble.fmi < 32
        assert trouble.times is None or 0 <= trouble.times < 127
