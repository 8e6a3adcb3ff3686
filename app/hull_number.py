"""Hull identification numbers: 12 characters by 33 CFR 181.25, 14 with a country before them (ISO 10087).

Layout from shared/reference/standards.md 7: maker (3), serial (5, no I, O or Q), month A to L, last digit of
the year, two digits of the model year. Hyphens and spaces are left out before they are counted, because
sources differ about them. Numbers from before August 1984 were written in another way and are not read.
"""

from __future__ import annotations

import calendar
import re
from typing import NamedTuple

_NUMBER = re.compile(
    r"(?P<country>[A-Z]{2})?(?P<maker>[A-Z0-9]{3})(?P<serial>[A-Z0-9]{5})"
    r"(?P<month>[A-Z0-9])(?P<digit>[A-Z0-9])(?P<model>[A-Z0-9]{2})"
)
LENGTHS = (12, 14)
NOT_IN_SERIAL = "IOQ"
MONTHS = "ABCDEFGHIJKL"

FIRST_MODEL_YEAR = 1985
"""The first whose numbers are all of this form; two digits from here to 99 are of the last century."""


class HullNumber(NamedTuple):
    """One that is written as it should be.

    Attributes:
        text: as it is written, without hyphens and spaces.
        country: two letters, empty without one.
        maker, serial: as they stand there.
        month: of building, 1 to 12.
        year: of building; of its last digit the one nearest the model year.
        model_year: four digits.
    """

    text: str
    country: str
    maker: str
    serial: str
    month: int
    year: int
    model_year: int

    def words(self) -> str:
        """What it tells: "serial 12345, built December 1994, model year 1995"."""
        built = f"{calendar.month_name[self.month]} {self.year}"
        country = f", {self.country}" if self.country else ""
        return (
            f"maker {self.maker}{country}, serial {self.serial}, built {built}, model year {self.model_year}"
        )


def hull_number(text: str) -> HullNumber:
    """Read one.

    Raises:
        ValueError: it is not written as the rules ask; what is wrong, in words.
    """
    bare = re.sub(r"[- ]", "", text).upper()
    if len(bare) not in LENGTHS:
        raise ValueError(f"it has {len(bare)} characters, not 12, or 14 with a country")
    found = _NUMBER.fullmatch(bare)
    if found is None:
        raise ValueError("it holds more than letters and digits, or its country is not two letters")
    wrong = [character for character in found["serial"] if character in NOT_IN_SERIAL]
    if wrong:
        raise ValueError(f"its serial {found['serial']} holds {wrong[0]}; I, O and Q are not used")
    if found["month"] not in MONTHS:
        raise ValueError(
            f"its month is {found['month']}; months are A to L (before August 1984 it was written otherwise)"
        )
    if not found["digit"].isdecimal():
        raise ValueError(f"its year is {found['digit']}, which is no digit")
    if not found["model"].isdecimal():
        raise ValueError(f"its model year is {found['model']}, which are no two digits")
    model = _model_year(int(found["model"]))
    return HullNumber(
        bare,
        found["country"] or "",
        found["maker"],
        found["serial"],
        MONTHS.index(found["month"]) + 1,
        _year(int(found["digit"]), model),
        model,
    )


def _model_year(two: int) -> int:
    century = 1900 if two >= FIRST_MODEL_YEAR % 100 else 2000
    return century + two


def _year(digit: int, model: int) -> int:
    """Of the years that end so, the nearest to the model year; of two as near, the one before it."""
    return min(
        (model + step for step in (0, -1, 1, -2, 2, -3, 3, -4, 4, -5)), key=lambda year: year % 10 != digit
    )
