"""What the craft book says on the glass: its title and its rows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.entry import Kind
from app.entry_words import headline, when
from app.output_words import Line

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import tzinfo

    from app.entry import Entry
    from app.keeper import BookKeeper
    from app.moment import Moment

LONGEST = 240
"""Letters of what happened that have room in one row of the smallest panel. Longer words lose their middle:
which craft or output it was stands first, what was not read or why it ended stands last."""

NO_BOOK = Line("No book is open.", "A recording that is played back adds nothing to the craft book.")
OPENING = Line("One moment.", "The craft book is being opened.")
NOTHING_YET = Line("Nothing stands here yet.", "Readings, output tests and who did them will.")


def craft_of(moment: Moment) -> str:
    """Family and serial in words, as the book names it, of the craft on the glass; empty if not known."""
    craft = None if moment.snapshot is None else moment.snapshot.craft
    return f"{craft.family} {craft.serial}" if craft is not None and craft.serial else ""


def book_title(craft: str, *, all_craft: bool) -> str:
    """What the page shows: entries of ``craft`` (empty = none is known), or of all."""
    if not craft:
        return "Craft book"
    return "Craft book: all craft" if all_craft else f"Craft book: {craft}"


def entry_row(entry: Entry, zone: tzinfo | None = None, *, with_craft: bool = True) -> Line:
    """When and what, then by whom and on which craft; a triangle where care is still needed."""
    parts = [f"By {entry.operator}" if entry.operator else "", entry.craft if with_craft else ""]
    what = f"{headline(entry).rstrip('.')}."
    if len(what) > LONGEST:
        half = LONGEST // 2
        what = f"{what[:half].rstrip()} … {what[-half:].lstrip()} (All of it: entry {entry.number}.)"
    plain = ", ".join(part for part in parts if part)
    return Line(f"{when(entry, zone)} {what}", plain, "triangle" if _wants_care(entry) else "")


def book_rows(
    keeper: BookKeeper | None, entries: Sequence[Entry], *, with_craft: bool, first: bool
) -> list[Line]:
    """Rows of one page, every entry last in its own; what is wrong with the book stands before the first.

    Args:
        keeper: None where no book is kept.
        entries: of this page, newest first.
        with_craft: say of which craft each is.
        first: this is the first page.
    """
    if keeper is None:
        return [NO_BOOK]
    rows = [Line(keeper.trouble, "", "triangle")] if first and keeper.trouble else []
    rows += [entry_row(entry, with_craft=with_craft) for entry in entries]
    if entries or (rows and not keeper.entries):
        return rows
    return [*rows, NOTHING_YET if keeper.entries else OPENING]


def _wants_care(entry: Entry) -> bool:
    """Whether an output may still be on, or is locked because of that; what is stored may not be known."""
    what = entry.body.get("what")
    if entry.kind == Kind.OUTPUT_END and isinstance(what, dict):
        return what.get("fired") is not False and what.get("confirmed") is not True
    if entry.kind == Kind.CLEAR_END and isinstance(what, dict):
        return what.get("known") is not True
    return entry.kind == Kind.LOCKED
