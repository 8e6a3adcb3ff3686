"""The commands ``boathook book list``, ``book show`` and ``book verify``."""

from __future__ import annotations

import argparse
import contextlib
from pathlib import Path
from typing import TextIO

import msgspec

from app.book import Book
from app.chain import Broken
from app.entry import Entry
from app.entry_words import headline, line, page
from app.errors import UsageError
from app.journal_words import how_many


class _Said(msgspec.Struct):
    """One entry and its words, as JSON."""

    says: str
    entry: Entry


class _List(msgspec.Struct):
    """Newest first, as JSON; ``hidden`` entries of what was asked and sent are left out."""

    device: str
    entries: list[_Said]
    hidden: int = 0


class _Verdict(msgspec.Struct):
    """Whether a book is as it was written, as JSON."""

    device: str
    sound: bool
    entries: int
    broken: list[Broken]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what stands behind ``boathook book``; --data may stand before or behind the action."""
    parser.add_argument("--data", type=Path, help="folder of recordings and the craft book")
    actions = parser.add_subparsers(required=True, dest="action", metavar="list|show|verify")

    def action(name: str, text: str) -> argparse.ArgumentParser:
        sub = actions.add_parser(name, help=text, description=text)
        sub.add_argument("--data", type=Path, default=argparse.SUPPRESS, help="folder of the craft book")
        sub.add_argument("--json", action="store_true", help="one JSON object")
        return sub

    listing = action("list", "the newest entries, newest first")
    listing.add_argument("--craft", help='of this craft only: family and serial, such as "auk 1042"')
    listing.add_argument("--all", action="store_true", help="with every request and frame that was sent")
    listing.add_argument("--limit", type=int, default=50, help="at most so many (default: %(default)s)")
    show = action("show", "one entry")
    show.add_argument("number", type=int)
    show.add_argument("--device", help="of another handheld, as book list --json names it")
    action("verify", "is every entry as it was written?")


def run(options: argparse.Namespace, data: Path, out: TextIO) -> int:
    """Do what was asked of the book of a data folder, which is only read.

    Raises:
        StorageError: there is no book, or it cannot be read.
        UsageError: there is no such entry, or the limit makes no sense.

    Returns:
        Exit code, see the three commands.
    """
    with contextlib.closing(Book.read(data)) as book:
        if options.action == "list":
            if options.limit < 1:
                raise UsageError("The limit must be 1 or more.")
            return list_entries(
                book,
                craft=options.craft,
                limit=options.limit,
                as_json=options.json,
                out=out,
                everything=options.all,
            )
        if options.action == "show":
            return show_entry(book, options.number, device=options.device, as_json=options.json, out=out)
        return verify_book(book, as_json=options.json, out=out)


def list_entries(
    book: Book, *, craft: str | None, limit: int, as_json: bool, out: TextIO, everything: bool = False
) -> int:
    """Print the newest entries, newest first.

    Args:
        book: to be read.
        craft: family and serial in words; None = all.
        limit: at most so many.
        as_json: one JSON object.
        out: where to print.
        everything: with what was asked and sent, line by line.

    Returns:
        Exit code: 0, an empty list is an answer.
    """
    entries = book.entries(craft, limit, audit=everything)
    hidden = 0 if everything else book.hidden(craft)
    if as_json:
        _write(_List(book.device, [_Said(headline(entry), entry) for entry in entries], hidden), out)
        return 0
    for entry in entries:
        number = str(entry.number) if entry.device == book.device else f"{entry.device[:8]}/{entry.number}"
        out.write(f"{number:>6}  {line(entry)}\n")
    if not entries:
        out.write("There is no entry yet.\n" if craft is None else f"There is no entry of {craft}.\n")
    if hidden:
        out.write(f"Not listed: {how_many(hidden, 'line')} of what was asked and sent. See them: --all\n")
    return 0


def show_entry(book: Book, number: int, *, device: str | None, as_json: bool, out: TextIO) -> int:
    """Print one entry.

    Args:
        book: to be read.
        number: of the entry.
        device: of another handheld whose entries stand in this book, as ``book list --json`` gives it.
        as_json: one JSON object.
        out: where to print.

    Returns:
        Exit code: 0.

    Raises:
        UsageError: there is no such entry.
    """
    entry = book.entry(number, device)
    if as_json:
        _write(_Said(headline(entry), entry), out)
    else:
        out.writelines(f"{text}\n" for text in page(entry))
    return 0


def verify_book(book: Book, *, as_json: bool, out: TextIO) -> int:
    """Print whether every entry is as it was written.

    Returns:
        Exit code: 0 sound, 1 not.
    """
    broken = book.verify()
    if as_json:
        _write(_Verdict(book.device, not broken, book.count(), broken), out)
    else:
        for one in broken:
            where = "" if one.device == book.device else f" of handheld {one.device}"
            out.write(f"Number {one.number}{where} {one.what}.\n")
        if not broken:
            out.write(
                f"All {book.count()} entries are as they were written; none before the newest is missing.\n"
            )
    return 1 if broken else 0


def _write(answer: msgspec.Struct, out: TextIO) -> None:
    out.write(msgspec.json.encode(answer).decode() + "\n")
