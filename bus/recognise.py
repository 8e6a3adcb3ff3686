"""Names the family of a craft from its traffic."""

from __future__ import annotations

from typing import TYPE_CHECKING

from bus.decode import key_of
from bus.frame import digits

if TYPE_CHECKING:
    from collections.abc import Iterable

    from bus.dbc import MessageLayout
    from bus.family import Family
    from bus.frame import Frame


class _Wanted:
    """A message of one family that has not been heard yet."""

    __slots__ = ("begins", "family", "fast", "length", "words")

    def __init__(self, family: int, message: MessageLayout, *, fast: bool, begins: bytes) -> None:
        self.family, self.length, self.fast, self.begins = family, message.length, fast, begins
        self.words = f"{message.name} (0x{digits(message.ident)}, {message.length} bytes)"

    def is_this(self, data: bytes) -> bool:
        """Whether it has the right length and begins as it must; a fast packet says its own length first."""
        if self.fast:
            return len(data) > 1 and data[0] & 0x1F == 0 and data[1] == self.length
        return len(data) == self.length and data.startswith(self.begins)


class Recogniser:
    """Listens until the messages that name a family have been heard at their right length.

    Attributes:
        heard: whether any frame at all has come.
    """

    def __init__(self, families: Iterable[Family]) -> None:
        self._families = list(families)
        self._missing = [0] * len(self._families)
        self._wanted: dict[int, list[_Wanted]] = {}
        self.heard = False
        for number, family in enumerate(self._families):
            naming = family.recognise
            self._missing[number] = naming.need or len(naming.messages)
            for message in family.messages:
                if message.name in naming.messages:
                    fast = message.name in family.rules.fast_packets
                    begins = bytes.fromhex(naming.begins.get(message.name, ""))
                    wanted = _Wanted(number, message, fast=fast, begins=begins)
                    self._wanted.setdefault(key_of(message.ident), []).append(wanted)

    def feed(self, frame: Frame) -> None:
        """Take any frame."""
        self.heard = True
        key = key_of(frame.ident)
        wanted = self._wanted.get(key)
        if not wanted:
            return
        for item in [item for item in wanted if item.is_this(frame.data)]:
            wanted.remove(item)
            self._missing[item.family] -= 1

    @property
    def candidates(self) -> list[Family]:
        """Every family that the traffic names; more than one = it is not told apart.

        One that another of them takes the place of is left out.
        """
        fit = [family for family, missing in zip(self._families, self._missing, strict=True) if missing <= 0]
        covered = {name for family in fit for name in family.recognise.over}
        return [family for family in fit if family.name not in covered]

    @property
    def family(self) -> Family | None:
        """The family, None while none is named, or more than one."""
        candidates = self.candidates
        return candidates[0] if len(candidates) == 1 else None

    def in_place_of(self, named: Family) -> Family | None:
        """The family that takes the place of one that was named already, now that its own words have come."""
        family = self.family
        return family if family is not None and named.name in family.recognise.over else None

    @property
    def nearly(self) -> list[str]:
        """Families of which some naming messages were heard and others not, with what was waited for."""
        lacks: dict[int, list[str]] = {}
        for wanted in self._wanted.values():
            for item in wanted:
                lacks.setdefault(item.family, []).append(item.words)
        return [
            f"For {family.title} there lacks {', '.join(lacks[number])}."
            for number, family in enumerate(self._families)
            if self._missing[number] > 0 and len(lacks[number]) < len(family.recognise.messages)
        ]

    @property
    def doubt(self) -> str:
        """Why none is named although several fit, in words: which, and by what they differ; else empty."""
        candidates = self.candidates
        if len(candidates) < 2:
            return ""
        both = " and ".join(family.title for family in candidates)
        return f"{both} fit what is heard. {' '.join(_differs(family, candidates) for family in candidates)}"


MOST_NAMED = 3
"""Messages that are named as a difference."""


def _differs(family: Family, candidates: list[Family]) -> str:
    """What only this one of them knows."""
    keys = {
        key_of(message.ident) for other in candidates if other is not family for message in other.messages
    }
    own = [message.name for message in family.messages if key_of(message.ident) not in keys]
    named = ", ".join(own[:MOST_NAMED]) + (" …" if len(own) > MOST_NAMED else "")
    if not own:
        return f"{family.title} knows nothing that others do not."
    return f"Only {family.title} knows {named}."
