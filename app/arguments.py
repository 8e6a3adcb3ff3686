"""Arguments that several commands share, and those of commands with many."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from app import stop_key

if TYPE_CHECKING:
    from collections.abc import Callable

    Command = Callable[[argparse.Namespace], int]


def places() -> argparse.ArgumentParser:
    """Folders."""
    places = argparse.ArgumentParser(add_help=False)
    places.add_argument("--run", type=Path, help="folder of the running tool's socket")
    places.add_argument("--data", type=Path, help="folder of recordings and the craft book")
    return places


def adapter() -> argparse.ArgumentParser:
    """Which adapter."""
    adapter = argparse.ArgumentParser(add_help=False)
    adapter.add_argument("--interface", help="python-can interface (default: what is plugged in)")
    adapter.add_argument("--channel", help="device or network interface")
    adapter.add_argument("--bitrate", type=int, help="bit/s (default: found by listening)")
    return adapter


def panel() -> argparse.ArgumentParser:
    """What the glass is shown on, and what ends an output."""
    panel = argparse.ArgumentParser(add_help=False)
    panel.add_argument("--panel", help="panel profile (default: the one chosen on the glass, or 7-800x480)")
    panel.add_argument("--fullscreen", action="store_true", help="no window frame")
    panel.add_argument("--event-log", type=Path, help="write touches and pages to this file")
    panel.add_argument(
        "--stop-key",
        action="append",
        metavar="NAME",
        help="a key, or a button the system maps to one (gpio-keys), that ends whatever is armed or held; "
        f"may be given several times (default: {', '.join(stop_key.DEFAULT)}). A physical key is strongly "
        "advised: water on the screen may hide the touch on STOP TEST",
    )
    return panel


def gallery(parser: argparse.ArgumentParser) -> None:
    """Of the gallery."""
    parser.add_argument("--panel", default="7-800x480", help="panel profile (default: %(default)s)")
    parser.add_argument("--skin", choices=["day", "night"], default="day", help="(default: %(default)s)")
    parser.add_argument(
        "--pictures", type=Path, metavar="FOLDER", help="leave a picture of each page, and end"
    )


def families(parser: argparse.ArgumentParser) -> None:
    """Of the families: ``action`` says what to do."""
    actions = parser.add_subparsers(required=True, metavar="list|check|new", dest="action")
    listing = actions.add_parser("list", help="what this tool knows")
    listing.add_argument("--json", action="store_true")
    check = actions.add_parser("check", help="is a family folder sound?")
    check.add_argument("folder", type=Path)
    check.add_argument("--json", action="store_true")
    check.add_argument("--requests", action="store_true", help="print every request it makes possible")
    new = actions.add_parser("new", help="a commented skeleton to begin with")
    new.add_argument("name", help="of the family: small letters, digits and _")
    new.add_argument("--within", type=Path, metavar="DIR", help="not among your own families, but here")
