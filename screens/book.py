"""The Book lane: what was seen and done, newest first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.bench_words import who_words
from app.book_words import book_rows, book_title, craft_of
from screens.sheet import Sheet
from screens.widgets.key import Key

if TYPE_CHECKING:
    from app.board import Board
    from app.entry import Entry
    from app.output_words import Line
    from screens.actions import Actions

MOST = 8
"""Entries that may have room on one page; no more of them are measured."""


class BookPage(Sheet):
    """Entries of the craft on the glass, or of all; as many on a page as have room."""

    name = "book/1"

    def __init__(self, actions: Actions, **kwargs):
        self._keeper = actions.keeper
        self._craft = ""
        self._all_craft = False
        self._starts: list[str] = []
        """Ids of the entries with which the second page and every further one up to this begins."""
        self._entries: tuple[Entry, ...] = ()
        self._begin = 0
        self._rows: tuple[Line, ...] = ()
        self._extra = 0
        self._measured: tuple[object, ...] = ()
        self._room = 1
        super().__init__(**kwargs)
        self._which = Key(action=self._switch)
        self._who = Key(action=lambda: actions.open("people"))
        self._newer = Key(text="Newer", action=self._back)
        self._older = Key(text="Older", action=self._further)
        self.ids.lines.fbind("size", self._lay)

    def show(self, board: Board) -> None:
        """See Page."""
        self._craft = craft_of(board.moment)
        self._who.text = who_words(board.moment)
        self._look()

    def on_parent(self, _page: BookPage, parent: object) -> None:
        """Whoever comes back finds the newest entries, of the craft on the glass."""
        if parent is None:
            self._all_craft = False
            self._starts.clear()

    def _look(self) -> None:
        keeper, one = self._keeper, bool(self._craft) and not self._all_craft
        if keeper is not None:
            self._entries = keeper.of(self._craft) if one else keeper.entries
        places = {entry.id: place for place, entry in enumerate(self._entries)}
        if self._starts and self._starts[-1] not in places:
            self._starts.clear()
        self._begin = places[self._starts[-1]] if self._starts else 0
        entries = self._entries[self._begin :][:MOST]
        rows = book_rows(keeper, entries, with_craft=not one, first=not self._starts)
        self._rows, self._extra = tuple(rows), len(rows) - len(entries)
        self._which.text = "This craft" if self._all_craft else "All craft"
        self._lay()

    def _lay(self, *_args) -> None:
        """Show as many rows as have room; the next page begins with the first that has none."""
        measured = (self._rows, tuple(self.ids.lines.size))
        if measured != self._measured:
            self._measured = measured
            self._room = self._most()
        title = book_title(self._craft, all_craft=self._all_craft)
        keys = (
            self._which if self._craft else None,
            self._who,
            self._newer if self._starts else None,
            self._older if self._next() < len(self._entries) else None,
        )
        self.fill(title, self._rows[: self._room], keys)

    def _most(self) -> int:
        """How many rows have room at once; one that has none alone is shown as far as it has."""
        lines = self.ids.lines
        for count in range(2, len(self._rows) + 1):
            lines.show(self._rows[:count])
            if lines.parts > 1:
                return count - 1
        return max(1, len(self._rows))

    def _next(self) -> int:
        """Place of the first entry that is older than this page."""
        return self._begin + min(self._room, len(self._rows)) - self._extra

    def _switch(self) -> None:
        self._all_craft = not self._all_craft
        self._starts.clear()
        self._look()

    def _back(self) -> None:
        self._starts.pop()
        self._look()

    def _further(self) -> None:
        self._starts.append(self._entries[self._next()].id)
        self._look()
