"""Frames into readings.

Reserved codes are looked at in the raw number, before any scaling: a sensor that is missing or at fault
never becomes a value.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from app.reading import Quality, Reading
from bus.fast_packet import FastPackets
from bus.frame import EXTENDED

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from bus.dbc import MessageLayout, SignalLayout
    from bus.family_form import Decode
    from bus.frame import Frame

Judged = tuple[float | str | None, Quality]
"""What a raw number means."""

_RESERVED_TEXTS = {"not available": Quality.NOT_AVAILABLE, "error": Quality.ERROR}
"""VAL_ texts, in any case, that mark a reserved code."""

_TOPS = {
    0xFF: Quality.NOT_AVAILABLE,
    0xFE: Quality.ERROR,
    **dict.fromkeys((0xFB, 0xFC, 0xFD), Quality.OUT_OF_RANGE),
}
"""SAE J1939: a number whose highest byte is one of these is no value. FF and FE of one byte are verified by
open code; the other lengths, and FB to FD (reserved, or of one parameter's own meaning), are from memory."""

_NO_TABLE_ABOVE = 8
"""Bits; the meaning of every raw number of shorter signals is worked out once."""


def key_of(ident: int) -> int:
    """What a frame's message is looked up by.

    Args:
        ident: ``Frame.ident``.

    Returns:
        An 11-bit identifier as it is; of a 29-bit one the parameter group number, with EXTENDED set. Groups
        under 0xF000 carry a destination in their low byte, which is no part of the number (SAE J1939-21).
    """
    if ident < EXTENDED:
        return ident
    group = ident >> 8 & 0x3FFFF
    return EXTENDED | (group if group & 0xFF00 >= 0xF000 else group & 0x3FF00)


def enumerated(signal: SignalLayout) -> bool:
    """Whether the signal's values are texts; texts for reserved codes alone do not make it so."""
    return any(text.strip().lower() not in _RESERVED_TEXTS for text in signal.texts.values())


def reserved_codes(signal: SignalLayout, rules: Decode) -> dict[int, Quality]:
    """Raw numbers (as bits, without sign) that are no value.

    NMEA 2000's rule, used where the family says "all_ones": unsigned all ones = not available, one less =
    error; signed 7F…F and 7F…E. Source of the rule: the open CANboat database, commit 01d0dc3d.
    Those of SAE J1939 that are longer than a byte are told by ``reserved_tops``.
    """
    codes: dict[int, Quality] = {}
    if rules.sentinels == "j1939" and signal.length == 8 and signal.name not in rules.no_sentinel:
        codes = dict(_TOPS)
    if rules.sentinels == "all_ones" and signal.length >= 8 and signal.name not in rules.no_sentinel:
        top = (1 << signal.length - signal.signed) - 1
        codes = {top: Quality.NOT_AVAILABLE, top - 1: Quality.ERROR}
    mask = (1 << signal.length) - 1
    for raw, text in signal.texts.items():
        quality = _RESERVED_TEXTS.get(text.strip().lower())
        if quality is not None:
            codes[raw & mask] = quality
    return codes


def reserved_tops(signal: SignalLayout, rules: Decode) -> dict[int, Quality]:
    """Highest bytes of raw numbers that are no value, whatever stands in the bytes below; empty = none.

    SAE J1939's rule for 2, 3 and 4 bytes, used where the family says "j1939".
    """
    whole = rules.sentinels == "j1939" and signal.length in {16, 24, 32}
    return _TOPS if whole and signal.name not in rules.no_sentinel else {}


def _judge(signal: SignalLayout, codes: dict[int, Quality]) -> Callable[[int], Judged]:
    """The meaning of a raw number of this signal."""
    sign = 1 << signal.length - 1 if signal.signed else 0
    span = 1 << signal.length
    low, high = signal.low, signal.high
    numerator, offset, denominator = signal.numerator, signal.offset, signal.denominator
    texts = signal.texts
    code = codes.get
    good, out_of_range = Quality.GOOD, Quality.OUT_OF_RANGE

    def number(raw: int) -> Judged:
        if (quality := code(raw)) is not None:
            return None, quality
        if raw & sign:
            raw -= span
        quality = good if low <= raw <= high else out_of_range
        return (raw * numerator + offset) / denominator, quality

    def text(raw: int) -> Judged:
        if (quality := code(raw)) is not None:
            return None, quality
        if raw & sign:
            raw -= span
        word = texts.get(raw)
        return (float(raw), out_of_range) if word is None else (word, good)

    return text if enumerated(signal) else number


class _Row(NamedTuple):
    """One signal, ready for use."""

    big: bool
    shift: int
    mask: int
    table: tuple[Judged, ...] | None
    judge: Callable[[int], Judged]
    name: str
    unit: str
    last_byte: int


class _Plan:
    """One message, ready for use.

    Attributes:
        rows: of the signals that are always present; all of them where there are no pages.
        pages: selector's raw value to the rows present then, None without a selector.
        selector: row of the selector.
        pageless: raw values of the selector that say "not available" or "error": no page, yet a sound frame.
    """

    __slots__ = ("big", "fast", "length", "little", "pageless", "pages", "rows", "selector")

    def __init__(self, message: MessageLayout, rules: Decode) -> None:
        self.length = message.length
        self.fast = message.name in rules.fast_packets
        self.little = any(not signal.big for signal in message.signals)
        self.big = any(signal.big for signal in message.signals)
        codes = {signal.name: reserved_codes(signal, rules) for signal in message.signals}
        rows = {
            signal.name: _row(signal, codes[signal.name], reserved_tops(signal, rules))
            for signal in message.signals
        }
        self.rows = tuple(rows[signal.name] for signal in message.signals if not signal.pages)
        self.selector: _Row | None = None
        self.pages: dict[int, tuple[_Row, ...]] = {}
        self.pageless: frozenset[int] = frozenset()
        for selector in message.signals:
            if selector.selector:
                self.selector = rows[selector.name]
                self.pageless = frozenset(codes[selector.name])
        for page in {page for signal in message.signals for page in signal.pages}:
            present = (signal for signal in message.signals if not signal.pages or page in signal.pages)
            self.pages[page] = tuple(rows[signal.name] for signal in present)


def _unless_reserved(
    judge: Callable[[int], Judged], tops: dict[int, Quality], shift: int
) -> Callable[[int], Judged]:
    """The meaning of a raw number whose highest byte may say that it is none."""

    def number(raw: int) -> Judged:
        quality = tops.get(raw >> shift)
        return judge(raw) if quality is None else (None, quality)

    return number


def _row(signal: SignalLayout, codes: dict[int, Quality], tops: dict[int, Quality]) -> _Row:
    judge = _judge(signal, codes)
    if tops:
        judge = _unless_reserved(judge, tops, signal.length - 8)
    table = tuple(map(judge, range(1 << signal.length))) if signal.length <= _NO_TABLE_ABOVE else None
    mask = (1 << signal.length) - 1
    return _Row(signal.big, signal.shift, mask, table, judge, signal.name, signal.unit, signal.last_byte)


class Decoder:
    """Decodes the frames of one family; keeps the fast packets that are under way.

    Attributes:
        bad_frames: frames of known messages that could not be decoded: too short, an unlisted page, a fast
            packet that did not come whole.
    """

    def __init__(self, messages: Iterable[MessageLayout], identifiers: str, rules: Decode) -> None:
        self._by_group = identifiers == "pgn"
        self._short = rules.short_frames
        self._plans = {key_of(message.ident): _Plan(message, rules) for message in messages}
        self._packets = FastPackets()
        self._bad = 0

    @property
    def bad_frames(self) -> int:
        """See the class."""
        return self._bad + self._packets.unused

    @property
    def waiting(self) -> int:
        """Frames of fast packets that are not complete; at the end of a recording they are bad ones."""
        return self._packets.waiting

    def knows(self, ident: int) -> bool:
        """Whether frames with this identifier (bit 31 set for 29 bits) belong to the family."""
        return key_of(ident) in self._plans

    def feed(self, frame: Frame) -> list[Reading]:
        """Decode one frame; any frame will do.

        Returns:
            Its readings in the order of the DBC; none for unknown and bad frames, and for all frames of a
            fast packet but the last, which carries the readings of the whole.
        """
        at, ident, data = frame
        source = key = ident
        if self._by_group:
            if ident < EXTENDED:
                return []
            key = ident >> 8 & 0x3FFFF
            key = EXTENDED | (key if key & 0xFF00 >= 0xF000 else key & 0x3FF00)
            source = ident & 0xFF
        plan = self._plans.get(key)
        if plan is None:
            return []
        if plan.fast:
            packet = self._packets.feed(source, key, at, data)
            if packet is None:
                return []
            data = packet
        rows = plan.rows
        if len(data) != plan.length or plan.selector is not None:
            present = self._present(plan, data)
            if present is None:
                self._bad += 1
                return []
            rows, data = present
        little = int.from_bytes(data, "little") if plan.little else 0
        big = int.from_bytes(data, "big") if plan.big else 0
        heard = at if at == at else None  # noqa: PLR0124  # NaN: the recording has no time
        readings = []
        for is_big, shift, mask, table, judge, name, unit, _ in rows:
            raw = (big if is_big else little) >> shift & mask
            value, quality = judge(raw) if table is None else table[raw]
            readings.append(Reading(name, value, unit, heard, quality, source))
        return readings

    def _present(self, plan: _Plan, data: bytes) -> tuple[tuple[_Row, ...], bytes] | None:
        """Which signals a frame of odd length, or with pages, carries; and its bytes at the DBC's length.

        Returns:
            None for a frame that cannot be decoded.
        """
        size = len(data)
        if size < plan.length:
            if not self._short:
                return None
            data = data + bytes(plan.length - size)
        else:
            data = data[: plan.length]
        rows, selector = plan.rows, plan.selector
        if selector is not None:
            page = int.from_bytes(data, "big" if selector.big else "little") >> selector.shift & selector.mask
            rows = plan.pages.get(page, rows)
            known = page in plan.pages or page in plan.pageless
            if not known or selector.last_byte >= size:
                return None
        if size < plan.length:
            rows = tuple(row for row in rows if row.last_byte < size)
        return rows, data
