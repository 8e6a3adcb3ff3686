"""Setting a limit of one craft, step by step: which limit, its number, why."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from app.bench_words import signed_in
from app.book_words import craft_of
from app.choosing import Entry, two_lines
from app.craft_limits import REASONS, Own, key_of
from app.number_entry import NumberEntry
from app.operators import Role
from app.show import figure, unit_words, whose

if TYPE_CHECKING:
    from app.board import Board
    from app.messages import Limit, SignalInfo

BACK_TO_FAMILY = "own"
"""Key of the entry that takes a limit of this craft back."""

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
            return "A technician may set them: sign in under Bench."
        if self.step == "limit":
            return "Touch the one that is another on this craft."
        picked = self._picked
        return f"{self._value:g} {unit_words(picked.info.unit)}: why?" if picked else ""

    def entries(self, board: Board) -> list[Entry]:
        """What can be touched now; empty while there is no craft."""
        said = board.limits.said
        if said is None:
            return []
        if self.step == "reason":
            reasons = [Entry(reason, text) for reason, text in REASONS.items()]
            return [*reasons, Entry(BACK_TO_FAMILY, "As the\nfamily")]
        own = board.choices.limits.of(craft_of(board.moment))
        found = []
        for info in said.signals:
            for limit in info.limits:
                mine = own.get(key_of(info.name, limit))
                number = figure(limit.value if mine is None else mine.value, info.decimals)
                text = f"{two_lines(info.label)}\n{_SIDE[limit.side]} {number}"
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
                    self._picked, self.step = _Picked(info, limit), "number"

    def asked(self) -> tuple[str, NumberEntry] | None:
        """What the pad asks for: title and entry; None while no limit is picked."""
        picked = self._picked
        if picked is None:
            return None
        info = picked.info
        low = info.low if info.low is not None else min(0.0, picked.limit.value)
        high = info.high if info.high is not None else 2 * abs(picked.limit.value)
        return picked.words, NumberEntry(unit_words(info.unit), low, high, max(1, info.decimals))

    def number(self, value: float) -> None:
        """The number was taken."""
        self._value, self.step = value, "reason"

    def reason(self, reason: str, board: Board) -> str:
        """Why: the limit holds from now on. Returns what goes into the book; empty if nothing was set."""
        if reason == BACK_TO_FAMILY:
            return self._take_back(board)
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

    def _take_back(self, board: Board) -> str:
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
