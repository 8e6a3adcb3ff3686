"""A number typed on a pad: what each key does, and whether the figure may be taken."""

from __future__ import annotations

MOST = 7
"""Figures and point that fit the pad's display."""

POINT, BACK, CLEAR, MINUS = ".", "<", "clear", "-"


class NumberEntry:
    """What is typed so far.

    Args:
        unit: stands behind the figure.
        low, high: permitted range, both included, in that unit.
        decimals: digits after the point that are accepted; 0 = whole numbers.

    Attributes:
        text: as typed; "" = nothing.
    """

    def __init__(self, unit: str, low: float, high: float, decimals: int = 0) -> None:
        if not low <= high:
            raise ValueError(f"A range of {low} to {high} holds no number.")
        self.unit, self.low, self.high, self.decimals = unit, low, high, decimals
        self.text = ""

    def touch(self, key: str) -> None:
        """Take a key: a digit, POINT, MINUS, BACK or CLEAR; what makes no number changes nothing."""
        if key == BACK:
            self.text = self.text[:-1]
        elif key == CLEAR:
            self.text = ""
        elif key == MINUS:
            if self.low < 0:
                self.text = self.text[1:] if self.text.startswith("-") else f"-{self.text}"[:MOST]
        elif key == POINT:
            if self.decimals and POINT not in self.text and len(self.text) < MOST:
                self.text = f"{self.text if self.text not in ('', '-') else self.text + '0'}."
        elif key.isdecimal() and len(self.text) < MOST:
            _, point, behind = self.text.partition(POINT)
            if not point or len(behind) < self.decimals:
                self.text = f"{'' if self.text == '0' else '-' if self.text == '-0' else self.text}{key}"

    @property
    def value(self) -> float | None:
        """The number, None while it is none or lies outside the range."""
        try:
            number = float(self.text)
        except ValueError:
            return None
        return number if self.low <= number <= self.high else None

    @property
    def range_words(self) -> str:
        """What is permitted."""
        return f"{self.low:g} to {self.high:g} {self.unit}".strip()

    @property
    def trouble(self) -> str:
        """Why the figure may not be taken; empty if it may, or while nothing is typed."""
        if self.text in ("", "-") or self.value is not None:
            return ""
        try:
            number = float(self.text)
        except ValueError:
            return "That is no number."
        return f"Too {'low' if number < self.low else 'high'}: {self.range_words}."
