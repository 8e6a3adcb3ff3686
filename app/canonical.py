"""One spelling for every JSON value, so that equal content has equal bytes: RFC 8785 (JCS).

A hash over these bytes can be made again in any language that has the standard at hand.
"""

from __future__ import annotations

import math
from decimal import Decimal
from json.encoder import encode_basestring
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

EXACT = 2**53
"""Up to here a double holds every whole number."""

LARGEST_PLAIN = 21
"""Digits before the point; larger numbers are written with an exponent (ECMA-262, Number::toString)."""

MOST_ZEROS = 5
"""Zeros right after the point; smaller numbers are written with an exponent (ECMA-262)."""


class Spelled(str):
    """The canonical text of a value, to be taken over as it is."""

    __slots__ = ()


def canonical(value: Any) -> str:
    """The canonical text of a JSON value; encode it as UTF-8.

    Args:
        value: None, bool, int, float, str, and lists, tuples and dicts of them with text keys.

    Raises:
        ValueError: something JSON cannot say without loss: NaN, infinity, a whole number no double holds,
            half of a surrogate pair, a key that is not text, an object of a class of its own.
    """
    write = _BY_TYPE.get(type(value))
    if write is not None:
        return write(value)
    for form, write in _FORMS:
        if isinstance(value, form):
            return write(value)
    raise ValueError(f"{type(value).__name__} has no JSON form")


def _list(value: Sequence[Any]) -> str:
    return f"[{','.join([canonical(one) for one in value])}]"


def _object(value: dict[Any, Any]) -> str:
    return "{" + ",".join([f"{_string(key)}:{canonical(value[key])}" for key in _order(value)]) + "}"


def _order(value: dict[Any, Any]) -> list[str]:
    """Keys by their UTF-16 code units (RFC 8785, 3.2.3), which is not the order of the code points."""
    try:
        alike = all(map(str.isascii, value))
    except TypeError:
        raise ValueError("a key is not text") from None
    if alike:
        return sorted(value)
    return sorted(value, key=lambda key: str(key).encode("utf-16-be", "surrogatepass"))


def _string(value: str) -> str:
    if not value.isascii():
        value.encode()  # half of a surrogate pair ends here
    return encode_basestring(value)


def _whole(value: int) -> str:
    """A whole number, if a double holds it as it is written: a reader may take every number for a double."""
    text = str(value)
    if -EXACT <= value <= EXACT:
        return text
    try:
        kept = _number(float(value)) == text
    except OverflowError:
        kept = False
    if not kept:
        raise ValueError(f"{text} is too large a number to be kept without loss")
    return text


def _number(value: float) -> str:
    if not math.isfinite(value):
        raise ValueError(f"{value} has no JSON form")
    if value == 0:
        return "0"
    text = float.__repr__(value)
    if "e" not in text:  # between 10^-4 and 10^16 Python and ECMAScript write alike
        return text.removesuffix(".0")
    sign, figures, exponent = Decimal(repr(value)).as_tuple()
    digits = "".join(map(str, figures)).rstrip("0")
    point = len(figures) + int(exponent)
    """The value is 0.DIGITS × 10^point."""
    if len(digits) <= point <= LARGEST_PLAIN:
        text = digits.ljust(point, "0")
    elif 0 < point <= LARGEST_PLAIN:
        text = f"{digits[:point]}.{digits[point:]}"
    elif -MOST_ZEROS <= point <= 0:
        text = f"0.{'0' * -point}{digits}"
    else:
        rest = f".{digits[1:]}" if digits[1:] else ""
        text = f"{digits[0]}{rest}e{point - 1:+d}"
    return f"-{text}" if sign else text


_BY_TYPE: dict[type, Callable[[Any], str]] = {
    type(None): lambda _: "null",
    bool: lambda value: "true" if value else "false",
    Spelled: str,
    str: _string,
    int: _whole,
    float: _number,
    dict: _object,
    list: _list,
    tuple: _list,
}
"""What nearly every value is; its subclasses take the longer way."""

_FORMS: tuple[tuple[type | tuple[type, ...], Callable[[Any], str]], ...] = (
    (str, _string),
    (int, _whole),
    (float, _number),
    (dict, _object),
    ((list, tuple), _list),
)
