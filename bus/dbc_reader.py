"""Reads the text of a DBC file with cantools and checks it; every finding names its line."""

from __future__ import annotations

import itertools
import math
import re
from fractions import Fraction
from typing import Any

import cantools

from app.errors import FamilyError
from bus.dbc import MessageLayout, SignalLayout
from bus.frame import EXTENDED

_STANDARD_MAX = 0x7FF
_EXTENDED_MAX = 0x1FFF_FFFF
_LONGEST_NUMBER = 2**62
"""Factors and offsets are kept as whole numbers; beyond this no instrument has them."""

_QUOTED = re.compile(r'"[^"]*"')
_MESSAGE = re.compile(r"^BO_\s+(\d+)\s+(\w+)\s*:\s*(\d+)")
_SIGNAL = re.compile(r"^\s*SG_\s+(\w+)")
_NO_MESSAGE = 0xC000_0000
"""The identifier under which the format keeps signals that belong to no message; the parser leaves it out."""


class _Findings:
    """Everything wrong with one file, and on which line its names stand."""

    def __init__(self, text: str, file: str) -> None:
        self.file = file
        self.errors: list[FamilyError] = []
        self.messages: dict[str, int] = {}
        self.signals: dict[tuple[str, str], int] = {}
        self._scan(text)

    def add(self, line: int | None, what: str, mend: str) -> None:
        self.errors.append(FamilyError(self.file, line, what, mend))

    def _scan(self, text: str) -> None:
        """Note the lines and find what the parser passes over: names and identifiers given twice."""
        plain = _QUOTED.sub(lambda match: '""' + "\n" * match[0].count("\n"), text)
        idents: dict[int, str] = {}
        owners: dict[str, str] = {}
        message = ""
        for number, line in enumerate(plain.split("\n"), 1):
            if found := _MESSAGE.match(line):
                message = found[2] if int(found[1]) != _NO_MESSAGE else ""
                if message:
                    self._message(message, int(found[1]), number, idents)
            elif (found := _SIGNAL.match(line)) and message:
                self._signal(message, found[1], number, owners)

    def _message(self, name: str, ident: int, line: int, idents: dict[int, str]) -> None:
        if name in self.messages:
            self.add(line, f"the message name {name} is given twice", "Give each message its own name.")
        if ident in idents:
            what = f"{name} has the identifier {_words(ident)} of {idents[ident]}"
            self.add(line, what, "Give each message its own identifier.")
        if ident & ~EXTENDED > (_EXTENDED_MAX if ident & EXTENDED else _STANDARD_MAX):
            mend = "11-bit identifiers end at 2047; for a 29-bit one add 2147483648 to it."
            self.add(line, f"{name} has an identifier that no frame can carry, {ident}", mend)
        idents.setdefault(ident, name)
        self.messages.setdefault(name, line)

    def _signal(self, message: str, name: str, line: int, owners: dict[str, str]) -> None:
        if name in owners:
            mend = "Give each signal of the family its own name."
            self.add(line, f"the signal name {name} stands in {owners[name]} already", mend)
        owners.setdefault(name, message)
        self.signals.setdefault((message, name), line)


def read_dbc(text: str, file: str) -> tuple[tuple[MessageLayout, ...], list[FamilyError]]:
    """Turn DBC text into tables.

    Args:
        text: content of the file.
        file: its name, for the findings.

    Returns:
        The messages that could be understood, and everything that is wrong, in the order of the lines.
    """
    findings = _Findings(text, file)
    messages: tuple[MessageLayout, ...] = ()
    if not findings.errors:
        try:
            database: Any = cantools.database.load_string(text, database_format="dbc", strict=False)
        except cantools.Error as error:
            _parser_said(str(error), findings)
        else:
            messages = tuple(_message(message, findings) for message in database.messages)
            if not messages:
                findings.add(None, "the file holds no message", "Describe at least one message (BO_).")
            if not findings.errors:
                _strictly(database, findings)
    findings.errors.sort(key=lambda error: error.line or 0)
    return messages, findings.errors


def _parser_said(words: str, findings: _Findings) -> None:
    """Place what the parser found: by the line it names, or by the first name of ours in its sentence."""
    words = " ".join(words.removeprefix("DBC: ").strip('"').split())
    if found := re.search(r"at line (\d+)", words):
        line: int | None = int(found[1])
    else:
        known = {name: number for (_, name), number in findings.signals.items()} | findings.messages
        line = next((known[word] for word in re.findall(r"\w+", words) if word in known), None)
    findings.add(line, f"this is not sound DBC: {words.rstrip('.')}", "Mend the line, or the one before it.")


def _strictly(database: Any, findings: _Findings) -> None:
    """The parser's own strict check, as a net under ours."""
    for message in database.messages:
        try:
            message.refresh(strict=True)
        except cantools.Error as error:
            findings.add(findings.messages.get(message.name), str(error).rstrip("."), "Mend its signals.")


def _message(message: Any, findings: _Findings) -> MessageLayout:
    line = findings.messages.get(message.name, 1)
    lines = {
        signal.name: findings.signals.get((message.name, signal.name), line) for signal in message.signals
    }
    ordered = sorted(message.signals, key=lambda signal: lines[signal.name])
    signals = tuple(_signal(signal, message, lines[signal.name], findings) for signal in ordered)
    selectors = [signal for signal in ordered if signal.is_multiplexer]
    if len(selectors) > 1 or any(selector.multiplexer_ids for selector in selectors):
        what = f"{message.name} chooses its page by more than one signal"
        findings.add(lines[selectors[-1].name], what, "Only one signal may be marked M; split the message.")
    _overlaps(signals, message.length, findings)
    cycle = message.cycle_time / 1000 if message.cycle_time else None
    ident = message.frame_id | (EXTENDED if message.is_extended_frame else 0)
    return MessageLayout(message.name, ident, message.length, cycle, signals, line)


def _signal(signal: Any, message: Any, line: int, findings: _Findings) -> SignalLayout:
    name, length = signal.name, signal.length
    big = signal.byte_order == "big_endian"
    # Motorola bits are numbered downwards within a byte; counted from the first bit of the message they rise.
    first = signal.start // 8 * 8 + 7 - signal.start % 8 if big else signal.start
    end = first + length
    if not 1 <= length <= 64:
        findings.add(line, f"{name} has {length} bits", "A signal has 1 to 64 bits.")
    if end > 8 * message.length:
        what = f"{name} ends at bit {end} of {message.name}, which has only {8 * message.length}"
        findings.add(line, what, "Mend its start, its length or the length of the message.")
    if signal.is_float:
        findings.add(line, f"{name} is a floating-point signal", "Only whole-number signals are read.")
    factor, offset = Fraction(str(signal.scale)), Fraction(str(signal.offset))
    if factor == 0:
        findings.add(line, f"{name} has the factor 0", "Give it the size of one step.")
        factor = Fraction(1)
    denominator = math.lcm(factor.denominator, offset.denominator)
    numerator, constant = int(factor * denominator), int(offset * denominator)
    if max(abs(numerator), abs(constant), denominator) > _LONGEST_NUMBER:
        findings.add(line, f"{name} has a factor or offset beyond reason", "Write it with fewer digits.")
    low, high = _limits(signal, factor, offset, line, findings)
    texts = {int(raw): str(text) for raw, text in (signal.choices or {}).items()}
    for raw in texts:
        if not _lowest(signal) <= raw <= _highest(signal):
            what = f"{name} has a text for {raw}, which {length} bits cannot carry"
            findings.add(line, what, "Mend its VAL_ line.")
    return SignalLayout(
        name=name,
        unit=signal.unit or "",
        big=big,
        shift=max(0, 8 * message.length - end) if big else first,
        length=length,
        signed=signal.is_signed,
        last_byte=(end - 1) // 8,
        numerator=numerator,
        offset=constant,
        denominator=denominator,
        low=low,
        high=high,
        texts=texts,
        pages=tuple(sorted(signal.multiplexer_ids or ())),
        selector=signal.is_multiplexer,
        line=line,
    )


def _words(ident: int) -> str:
    return f"0x{ident & ~EXTENDED:X}"


def _lowest(signal: Any) -> int:
    return -(1 << signal.length - 1) if signal.is_signed else 0


def _highest(signal: Any) -> int:
    return int((1 << signal.length - (1 if signal.is_signed else 0)) - 1)


def _limits(
    signal: Any, factor: Fraction, offset: Fraction, line: int, findings: _Findings
) -> tuple[int, int]:
    """[minimum|maximum] in raw numbers, exactly; the format says [0|0] for "no limits"."""
    low, high = _lowest(signal), _highest(signal)
    if signal.minimum is None or signal.maximum is None:
        return low, high
    if signal.minimum > signal.maximum:
        what = f"{signal.name} has a minimum above its maximum"
        findings.add(line, what, "Write [minimum|maximum] the right way round.")
        return low, high
    ends = sorted((Fraction(str(end)) - offset) / factor for end in (signal.minimum, signal.maximum))
    low, high = max(low, math.ceil(ends[0])), min(high, math.floor(ends[1]))
    if low > high:
        what = f"no raw number of {signal.name} lies within its minimum and maximum"
        findings.add(line, what, "Mend its limits, its factor or its offset.")
    return low, high


def _bits(signal: SignalLayout, length: int) -> int:
    """The message's bits that a signal takes, as a mask numbered the Intel way."""
    mask = ((1 << signal.length) - 1) << signal.shift
    try:
        return int.from_bytes(mask.to_bytes(length, "big" if signal.big else "little"), "little")
    except OverflowError:  # reaches beyond the message: said already
        return 0


def _overlaps(signals: tuple[SignalLayout, ...], length: int, findings: _Findings) -> None:
    placed = [(signal, _bits(signal, length)) for signal in signals]
    for (first, bits), (second, more) in itertools.combinations(placed, 2):
        together = not first.pages or not second.pages or set(first.pages) & set(second.pages)
        if bits & more and together:
            what = f"{second.name} takes bits that {first.name} has already"
            findings.add(second.line, what, "Mend the start or the length of one of the two.")
