"""Setting a limit of one craft, step by step: which limit, its number, why."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from app.bench_words import signed_in
from app.book_words import craft_of
from app.choosing import Entry
from app.craft_limits import REASONS, Own, key_of
from app.operators import Role
from app.show import figure, unit_words, whose

if TYPE_CHECKING:
    from app.board import Board
    from app.messages import Limit, SignalInfo

BACK_TO_FAMILY, TAKE = "own", "take"
"""Keys of the entries that take a limit of this craft back, and its number."""

STEPS = 100
"""Of a scale, about so many of the small steps in which a number is set."""

_SIDE = {"above": "over", "below": "under"}


class _Picked(NamedTuple):
    """The limit that is being set, as the family has it."""

    info: SignalInfo
    limit: Limit

    @property
    def words(self) -> str:
        """What it is, without its number."""
        return f"{self.info.label}: {self.limit.severity} {_SIDE[self.limit.side]}"


class Limiting:
    """Where a person is on the way to a limit of this craft.

    Attributes:
        step: "limit", "number" or "reason".
    """

    def __init__(self) -> None:
        self.step = "limit"
        self._picked: _Picked | None = None
        self._value = 0.0

    def begin(self) -> None:
        """From the first step."""
        self.step, self._picked = "limit", None

    def may(self, board: Board) -> bool:
        """Whether who is signed in may set one: a technician, with a craft that is heard and named."""
        who = signed_in(board.moment)
        return who is not None and who.role is Role.TECHNICIAN and bool(craft_of(board.moment))

    def title(self, board: Board) -> str:
        """What is being done."""
        if self._picked is None or self.step == "limit":
            return f"Limits of {craft_of(board.moment) or 'this craft'}"
        return self._picked.words

    def note(self, board: Board) -> str:
        """What to touch."""
        if not self.may(board):
            return "A technician may set them: sign in under Book."
        if self.step == "limit":
            return "Touch the one that is another on this craft."
        picked = self._picked
        said = "" if picked is None else f"{self._value:g} {unit_words(picked.info.unit)}".strip()
        return f"{said}: why?" if self.step == "reason" else f"{said}. Move it, then take it."

    def entries(self, board: Board) -> list[Entry]:
        """What can be touched now; empty while there is no craft."""
        said = board.limits.said
        if said is None:
            return []
        if self.step == "number" and self._picked is not None:
            fine = fine_step(*_ends(self._picked))
            moves = [
                Entry(f"{step:g}", f"{'+' if step > 0 else '−'} {abs(step):g}")
                for step in (-10 * fine, -fine, fine, 10 * fine)
            ]
            return [*moves, Entry(TAKE, "Take it"), Entry(BACK_TO_FAMILY, "As the\nfamily")]
        if self.step == "reason":
            return [Entry(reason, text) for reason, text in REASONS.items()]
        own = board.choices.limits.of(craft_of(board.moment))
        found = []
        for info in said.signals:
            for limit in info.limits:
                mine = own.get(key_of(info.name, limit))
                number = figure(limit.value if mine is None else mine.value, info.decimals)
                text = f"{info.label}\n{_SIDE[limit.side]} {number}"
                found.append(Entry(key_of(info.name, limit), text, mine is not None))
        return found

    def pick(self, key: str, board: Board) -> None:
        """Touch an entry of the list."""
        said = board.limits.said
        if said is None or not self.may(board):
            return
        for info in said.signals:
            for limit in info.limits:
                if key_of(info.name, limit) == key:
                    mine = board.choices.limits.of(craft_of(board.moment)).get(key)
                    self._value = limit.value if mine is None else mine.value
                    self._picked, self.step = _Picked(info, limit), "number"

    def move(self, key: str) -> None:
        """A step up or down, or the number is taken."""
        picked = self._picked
        if picked is None:
            return
        if key == TAKE:
            self.step = "reason"
            return
        low, high = _ends(picked)
        self._value = round(min(max(self._value + float(key), low), high), 6)

    def reason(self, reason: str, board: Board) -> str:
        """Why: the limit holds from now on. Returns what goes into the book; empty if nothing was set."""
        picked, who = self._picked, signed_in(board.moment)
        may = self.may(board)
        self.begin()
        if picked is None or who is None or not may:
            return ""
        craft = craft_of(board.moment)
        key = key_of(picked.info.name, picked.limit)
        board.choices.limits.put(craft, key, Own(self._value, reason, who.name))
        unit = unit_words(picked.info.unit)
        return f"{picked.words} {self._value:g} {unit} ({reason.lower()}); {_was(picked)}"

    def take_back(self, board: Board) -> str:
        """The limit that is picked is the family's again; what goes into the book, empty if it was."""
        picked = self._picked
        self.begin()
        if picked is None or not self.may(board):
            return ""
        craft, key = craft_of(board.moment), key_of(picked.info.name, picked.limit)
        if key not in board.choices.limits.of(craft):
            return ""
        board.choices.limits.put(craft, key, None)
        return f"{picked.words} as before; {_was(picked)}"


def _was(picked: _Picked) -> str:
    return f"{whose(picked.limit)} {picked.limit.value:g} {unit_words(picked.info.unit)}"


def _ends(picked: _Picked) -> tuple[float, float]:
    """Between which its number may be: the ends of the signal's scale."""
    info, value = picked.info, picked.limit.value
    low = min(0.0, value) if info.low is None else info.low
    high = 2 * abs(value) + 1.0 if info.high is None else info.high
    return low, high


def fine_step(low: float, high: float) -> float:
    """1, 2 or 5 of a decimal place, so that a scale has about STEPS of them."""
    wanted = (high - low) / STEPS
    place = 10.0 ** math.floor(math.log10(wanted))
    return place * next((of for of in (1, 2, 5) if of * place >= wanted * 0.75), 10)
