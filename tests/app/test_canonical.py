"""One spelling for every JSON value."""

import json
import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.canonical import Spelled, canonical

# RFC 8785, appendix B: bits of a double and how it is written.
APPENDIX_B = {
    "0000000000000000": "0",
    "8000000000000000": "0",
    "0000000000000001": "5e-324",
    "8000000000000001": "-5e-324",
    "7fefffffffffffff": "1.7976931348623157e+308",
    "ffefffffffffffff": "-1.7976931348623157e+308",
    "4340000000000000": "9007199254740992",
    "c340000000000000": "-9007199254740992",
    "4430000000000000": "295147905179352830000",
    "44b52d02c7e14af5": "9.999999999999997e+22",
    "44b52d02c7e14af6": "1e+23",
    "44b52d02c7e14af7": "1.0000000000000001e+23",
    "444b1ae4d6e2ef4e": "999999999999999700000",
    "444b1ae4d6e2ef4f": "999999999999999900000",
    "444b1ae4d6e2ef50": "1e+21",
    "3eb0c6f7a0b5ed8c": "9.999999999999997e-7",
    "3eb0c6f7a0b5ed8d": "0.000001",
    "41b3de4355555553": "333333333.3333332",
    "41b3de4355555554": "333333333.33333325",
    "41b3de4355555555": "333333333.3333333",
    "41b3de4355555556": "333333333.3333334",
    "41b3de4355555557": "333333333.33333343",
    "becbf647612f3696": "-0.0000033333333333333333",
    "43143ff3c1cb0959": "1424953923781206.2",
}


@pytest.mark.parametrize(("bits", "text"), APPENDIX_B.items())
def test_numbers_are_written_as_the_standard_writes_them(bits, text):
    assert canonical(struct.unpack(">d", bytes.fromhex(bits))[0]) == text


@pytest.mark.parametrize("bits", ["7fffffffffffffff", "7ff0000000000000", "fff0000000000000"])
def test_what_is_no_number_is_refused_as_the_standard_asks(bits):
    with pytest.raises(ValueError, match="no JSON form"):
        canonical([struct.unpack(">d", bytes.fromhex(bits))[0]])


def test_the_worked_example_of_the_standard_comes_out_byte_for_byte():
    # RFC 8785, 3.2.2 (input), 3.2.3 and 3.2.4 (bytes).
    given_text = r"""{
        "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
        "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
        "literals": [null, true, false]
    }"""
    expected = bytes.fromhex(
        "7b226c69746572616c73223a5b6e756c6c2c747275652c66616c73655d2c226e756d62657273223a"
        "5b3333333333333333332e333333333333332c31652b33302c342e352c302e3030322c31652d32375d2c"
        "22737472696e67223a22e282ac245c75303030665c6e4127425c225c5c5c5c5c222f227d"
    )
    assert canonical(json.loads(given_text)).encode() == expected


def test_keys_stand_in_the_order_of_the_standard_which_is_that_of_utf_16():
    # RFC 8785, 3.2.3.
    given_text = r"""{
        "\u20ac": "Euro Sign",
        "\r": "Carriage Return",
        "\ufb33": "Hebrew Letter Dalet With Dagesh",
        "1": "One",
        "\ud83d\ude00": "Emoji: Grinning Face",
        "\u0080": "Control",
        "\u00f6": "Latin Small Letter O With Diaeresis"
    }"""
    values = list(json.loads(canonical(json.loads(given_text))).values())
    assert values == [
        "Carriage Return",
        "One",
        "Control",
        "Latin Small Letter O With Diaeresis",
        "Euro Sign",
        "Emoji: Grinning Face",
        "Hebrew Letter Dalet With Dagesh",
    ]


numbers = st.floats(allow_nan=False, allow_infinity=False) | st.integers(-(2**53), 2**53)
texts = st.text(st.characters(exclude_categories=["Cs"]))
values = st.recursive(
    st.none() | st.booleans() | numbers | texts,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(texts, inner, max_size=4),
    max_leaves=20,
)


@given(values)
def test_a_value_comes_back_as_it_was_and_its_spelling_is_settled(value):
    text = canonical(value)
    assert json.loads(text, parse_int=float) == value  # every JSON number is a double (RFC 8785, 3.2.2.3)
    assert canonical(json.loads(text)) == text


@given(st.dictionaries(texts, values), st.randoms())
def test_the_order_in_which_a_body_was_put_together_does_not_matter(body, random):
    pairs = list(body.items())
    random.shuffle(pairs)
    assert canonical(dict(pairs)) == canonical(body)


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_double_keeps_its_bits_but_for_the_sign_of_zero(number):
    assert struct.pack(">d", float(canonical(number))) == struct.pack(">d", number + 0.0 if number else 0.0)


@pytest.mark.parametrize(
    "value", [2**53 + 1, 10**400, "\ud800", {"\udfff": 1}, {1: 2}, {None: 1}, object(), b"bytes", {1, 2}]
)
def test_what_json_would_lose_or_cannot_say_is_refused(value):
    with pytest.raises(ValueError, match=r"\w"):
        canonical({"value": value} if not isinstance(value, dict) else value)


class Wordy(str):
    """Text of a class of its own, as the names of an enumeration are."""

    __slots__ = ()


@given(
    st.recursive(
        st.one_of(
            st.none(),
            st.booleans(),
            st.integers(-(2**54), 2**54),
            st.floats(allow_nan=False, allow_infinity=False),
            st.text(),
        ),
        lambda inner: st.one_of(st.lists(inner), st.dictionaries(st.text(), inner)),
        max_leaves=20,
    )
)
def test_the_short_way_and_the_long_way_of_every_value_spell_alike(value):
    """Values of exactly the plain classes are looked up by their class, all others tried one by one."""
    try:
        text = canonical(value)
    except ValueError:
        with pytest.raises(ValueError, match=r"."):
            canonical(as_subclasses(value))
    else:
        assert canonical(as_subclasses(value)) == text


def as_subclasses(value):
    if isinstance(value, str):
        return Wordy(value)
    if isinstance(value, float):
        return type("Float", (float,), {})(value)
    if isinstance(value, int) and not isinstance(value, bool):
        return type("Whole", (int,), {})(value)
    if isinstance(value, list):
        return tuple(map(as_subclasses, value))
    if isinstance(value, dict):
        return type("Named", (dict,), {})((Wordy(key), as_subclasses(inner)) for key, inner in value.items())
    return value


@given(st.floats(min_value=1e-9, max_value=1e25), st.booleans())
def test_a_number_is_written_as_ecmascript_does_where_python_differs(number, negative):
    """ECMA-262, Number::toString: an exponent below 10^-6 and from 10^21 on, never ".0"."""
    number = -number if negative else number
    text = canonical(number)
    assert float(text) == number
    assert ("e" in text) == (abs(number) < 1e-6 or abs(number) >= 1e21)
    assert not text.endswith(".0")


def test_a_text_already_spelled_is_taken_over_as_it_is():
    assert canonical({"a": Spelled('{"b":1}'), "c": [Spelled("2")]}) == '{"a":{"b":1},"c":[2]}'
