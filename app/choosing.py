"""Choosing what stands where, step by step: a place, a part of the craft, a signal."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from app.choices import FOUR, SIX
from app.pages import on_a_scale

if TYPE_CHECKING:
    from app.board import Board
    from app.messages import Catalogue, SignalInfo

NOTHING = "-"
"""Key of the entry that leaves a line of the chart out."""

OWN = "own"
"""Key of the entry that takes a choice back."""


class Entry(NamedTuple):
    """One thing to touch: its key, words of one or two lines, and whether it is shown already."""

    key: str
    text: str
    here: bool = False


class Choosing:
    """Where a person is on the way to a choice.

    Args:
        kind: "six" = the big values, "chart" = the lines of the chart.

    Attributes:
        step: "place", "group" or "signal".
    """

    def __init__(self, kind: str) -> None:
        self.kind = kind
        self.step = "place"
        self._place = 0
        self._group = ""

    def begin(self) -> None:
        """From the first step."""
        self.step = "place"

    def back(self) -> bool:
        """One step back; False if this is the first."""
        before = {"signal": "group", "group": "place"}.get(self.step)
        if before is None:
            return False
        self.step = before
        return True

    def title(self, board: Board) -> str:
        """What is being done."""
        if self.step == "place":
            return "Six big values" if self.kind == "six" else "Lines of the chart"
        names = self._names(board)
        if self._place >= len(names):
            return "In the empty place"
        info = board.moment.info(names[self._place])
        return f"Instead of {info.label}" if info is not None else "In its place"

    def note(self) -> str:
        """What to touch."""
        if self.step == "place":
            return "Touch the one that is to give way."
        return "Where is the new one?" if self.step == "group" else f"{self._group}: touch the new one."

    def entries(self, board: Board) -> list[Entry]:
        """What can be touched now; empty while there is no craft."""
        catalogue = board.moment.catalogue
        if catalogue is None:
            return []
        names = self._names(board)
        if self.step == "place":
            return self._places(board, names)
        allowed = self._allowed(catalogue)
        if self.step == "group":
            groups = [group for group in catalogue.groups if any(info.group == group for info in allowed)]
            entries = [Entry(group, two_lines(group)) for group in groups]
            return [*entries, Entry(NOTHING, "Nothing")] if self.kind == "chart" else entries
        return [
            Entry(info.name, two_lines(info.label), info.name in names)
            for info in allowed
            if info.group == self._group
        ]

    def pick(self, key: str, board: Board) -> None:
        """Touch an entry."""
        if key == OWN:
            board.choose(self.kind, None)
        elif self.step == "place":
            self._place, self.step = int(key), "group"
        elif key == NOTHING:
            names = self._names(board)
            board.choose(self.kind, (*names[: self._place], *names[self._place + 1 :]))
            self.step = "place"
        elif self.step == "group":
            self._group, self.step = key, "signal"
        else:
            board.choose(self.kind, exchanged(self._names(board), self._place, key))
            self.step = "place"

    def _names(self, board: Board) -> tuple[str, ...]:
        if self.kind == "chart":
            return board.lines()
        return board.pages[0].signals if board.pages else ()

    def _places(self, board: Board, names: tuple[str, ...]) -> list[Entry]:
        entries = []
        for place in range(SIX if self.kind == "six" else FOUR):
            info = board.moment.info(names[place]) if place < len(names) else None
            entries.append(Entry(str(place), "empty" if info is None else two_lines(info.label)))
        return entries

    def _allowed(self, catalogue: Catalogue) -> list[SignalInfo]:
        """The arc and the chart need a number with a scale, a tile takes anything."""
        scaled = self.kind == "chart" or self._place == 0
        return [info for info in catalogue.signals if not scaled or on_a_scale(info)]


def exchanged(names: tuple[str, ...], place: int, name: str) -> tuple[str, ...]:
    """Names with one put into a place; where it stood before comes what gives way, so that none is lost."""
    new = list(names)
    if place >= len(new):
        return (*(each for each in new if each != name), name)
    if name in new:
        new[new.index(name)] = new[place]
    new[place] = name
    return tuple(new)


def two_lines(text: str) -> str:
    """A text broken at the space nearest its middle, if it is long."""
    spaces = [number for number, letter in enumerate(text) if letter == " "]
    if len(text) <= 10 or not spaces:
        return text
    middle = min(spaces, key=lambda number: abs(number - len(text) / 2))
    return f"{text[:middle]}\n{text[middle + 1 :]}"
