"""Packing of signals into frames: a plan per message, made once, and fast to use.

The plans come from a family's DBC file, read as data with cantools, or from a table written by hand. The
tool's own reader of DBC files is not used: what the two make of one file is a check on both.
"""

from __future__ import annotations

import dataclasses
import functools
from pathlib import Path
from typing import TYPE_CHECKING

import cantools.database

from simulator.errors import Misunderstood

if TYPE_CHECKING:
    from collections.abc import Mapping

FAMILIES = Path(__file__).resolve().parent.parent / "bus" / "families"

EXTENDED = 0x8000_0000
"""Set in an identifier of 29 bits, as the DBC format does."""

NOT_AVAILABLE = "not_available"
ERROR = "error"

SENTINEL_BITS = 8
"""A field of so many bits and more has the two reserved codes; a shorter one only as its texts say."""


@dataclasses.dataclass(frozen=True)
class Field:
    """Where one signal sits and what its bits mean.

    Attributes:
        start: bit number as the DBC format counts: of the lowest bit (little-endian), of the highest (big).
        length: bits.
        scale, offset: physical value = raw × scale + offset.
        low, high: physical ends of what the signal can be; None = whatever fits.
        texts: raw code to text of an enumerated field.
        page: value of the message's page selector that this field belongs to; None = every frame.
        reserved: whether its highest codes are the reserved ones.
    """

    name: str
    start: int
    length: int
    signed: bool = False
    big_endian: bool = False
    scale: float = 1.0
    offset: float = 0.0
    low: float | None = None
    high: float | None = None
    texts: Mapping[int, str] = dataclasses.field(default_factory=dict)
    page: int | None = None
    reserved: bool = True

    @functools.cached_property
    def codes(self) -> dict[str, int]:
        """Raw codes by text, the reserved ones among them."""
        codes = {text: raw for raw, text in self.texts.items()}
        if self.reserved and self.length >= SENTINEL_BITS:
            codes[NOT_AVAILABLE] = self.top
            codes[ERROR] = self.top - 1
        for word, text in ((NOT_AVAILABLE, "Not available"), (ERROR, "Error")):
            if text in codes:
                codes[word] = codes[text]
        return codes

    @property
    def top(self) -> int:
        """The highest raw code."""
        return (1 << (self.length - 1 if self.signed else self.length)) - 1

    @property
    def bottom(self) -> int:
        """The lowest raw code."""
        return -(1 << (self.length - 1)) if self.signed else 0

    @functools.cached_property
    def _ends(self) -> tuple[int, int]:
        """Raw codes that a healthy value is kept within."""
        first, last = self.bottom, self.top
        if self.reserved and self.length >= SENTINEL_BITS:
            last -= 2
        if self.low is not None:
            first = max(first, round((self.low - self.offset) / self.scale))
        if self.high is not None:
            last = min(last, round((self.high - self.offset) / self.scale))
        return first, last

    def raw(self, value: float | str | None) -> int:
        """Raw code of a healthy value, kept within the signal's ends; None = not available."""
        if value is None:
            return self.codes[NOT_AVAILABLE]
        if isinstance(value, str):
            return self.codes[value]
        first, last = self._ends
        return min(max(round((value - self.offset) / self.scale), first), last)

    def exact(self, value: float | str) -> int:
        """Raw code of any value that fits the bits, likely or not.

        Raises:
            Misunderstood: it does not fit, or is no text of this signal.
        """
        if isinstance(value, str):
            if value not in self.codes:
                known = ", ".join(self.texts.values()) or "only numbers"
                raise Misunderstood(f"{self.name} cannot be {value!r}; it knows {known}.")
            return self.codes[value]
        try:
            raw = round((value - self.offset) / self.scale)
        except (TypeError, ValueError, OverflowError) as error:
            raise Misunderstood(f"{value!r} is not a value for {self.name}.") from error
        if not self.bottom <= raw <= self.top:
            low, high = self.physical(self.bottom), self.physical(self.top)
            raise Misunderstood(f"{value} does not fit {self.name}; its bits hold {low} to {high}.")
        return raw

    def physical(self, raw: int) -> float:
        """The number a raw code stands for."""
        return round(raw * self.scale + self.offset, 9)

    def meaning(self, raw: int) -> float | str:
        """The number or text a raw code stands for; a reserved code as its word."""
        if raw in self.texts:
            return self.texts[raw]
        if self.reserved and self.length >= SENTINEL_BITS and raw >= self.top - 1:
            return NOT_AVAILABLE if raw == self.top else ERROR
        return self.physical(raw)

    def shift(self, size: int) -> int:
        """How far its raw code is moved up in the frame read as one number of its byte order."""
        if not self.big_endian:
            return self.start
        byte, bit = divmod(self.start, 8)
        return size * 8 - (byte * 8 + 7 - bit) - self.length


class Message:
    """One message and its packing plan.

    Attributes:
        name: name of the message.
        ident: identifier, EXTENDED set for 29 bits.
        size: bytes.
        cycle_ms: how often it is sent.
        sender: the node that sends it.
        fields: its signals in the order of the file.
        selector: name of the field that says which page it is; None where there are no pages.
        pages: the pages there are, empty where there are none.
        base: bits of the empty frame (all ones where a standard says that unused bits are ones).
    """

    def __init__(
        self,
        name: str,
        ident: int,
        size: int,
        *,
        cycle_ms: int,
        sender: str,
        fields: list[Field],
        selector: str | None = None,
        base: int = 0,
    ) -> None:
        self.name, self.ident, self.size, self.cycle_ms, self.sender = name, ident, size, cycle_ms, sender
        self.fields, self.selector, self.base = fields, selector, base
        self.pages = sorted({field.page for field in fields if field.page is not None})
        pages: list[int | None] = [*self.pages] if self.pages else [None]
        self._on_page = {
            page: [field for field in fields if field.page is None or field.page == page] for page in pages
        }
        self._plans = {page: self._plan(page) for page in pages}

    def _plan(self, page: int | None) -> tuple[int, list[tuple[str, int, int, bool]]]:
        """What is left of the base, and for each field its name, mask, shift and byte order."""
        steps = []
        base = self.base
        for field in self.on_page(page):
            mask, shift = (1 << field.length) - 1, field.shift(self.size)
            steps.append((field.name, mask, shift, field.big_endian))
            if base and not field.big_endian:
                base &= ~(mask << shift)
        return base, steps

    def on_page(self, page: int | None) -> list[Field]:
        """The fields of a frame that shows this page."""
        return self._on_page[page]

    def pack(self, raws: Mapping[str, int], page: int | None = None) -> bytes:
        """The bytes of a frame.

        Args:
            raws: raw code of every field on the page; more may be in it.
            page: which page, None where there are none.
        """
        little, steps = self._plans[page]
        big = 0
        for name, mask, shift, big_endian in steps:
            if big_endian:
                big |= (raws[name] & mask) << shift
            else:
                little |= (raws[name] & mask) << shift
        if not big:
            return little.to_bytes(self.size, "little")
        return (int.from_bytes(little.to_bytes(self.size, "little"), "big") | big).to_bytes(self.size, "big")


def read_family(family: str, plain: frozenset[str] = frozenset()) -> list[Message]:
    """The messages of a family's DBC file that have a cycle time, in the order of the file.

    Args:
        family: name of its folder.
        plain: signals without reserved codes.

    Raises:
        Misunderstood: there is no such file.
    """
    path = FAMILIES / family / "signals.dbc"
    if not path.is_file():
        raise Misunderstood(f"There is no file {path}; the simulator needs it to know the bits of {family}.")
    database = cantools.database.can.Database()
    database.add_dbc_file(path)
    messages = []
    for message in database.messages:
        if not message.cycle_time:
            continue
        selector = next((signal.name for signal in message.signals if signal.is_multiplexer), None)
        fields = [
            Field(
                signal.name,
                signal.start,
                signal.length,
                signed=signal.is_signed,
                big_endian=signal.byte_order == "big_endian",
                scale=signal.scale,
                offset=signal.offset,
                low=signal.minimum,
                high=signal.maximum,
                texts={int(raw): str(text) for raw, text in (signal.choices or {}).items()},
                page=signal.multiplexer_ids[0] if signal.multiplexer_ids else None,
                reserved=signal.name not in plain,
            )
            for signal in message.signals
        ]
        ident = message.frame_id | (EXTENDED if message.is_extended_frame else 0)
        messages.append(
            Message(
                message.name,
                ident,
                message.length,
                cycle_ms=message.cycle_time,
                sender=(message.senders or [""])[0],
                fields=fields,
                selector=selector,
            )
        )
    return messages
