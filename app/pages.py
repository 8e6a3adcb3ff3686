"""Which signal stands on which page of the Ride lane."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

if TYPE_CHECKING:
    from app.messages import Catalogue

TILES = 8
"""On a page of signals: three rows of three, less the cell of the page keys."""


class SignalPage(msgspec.Struct, frozen=True):
    """One page.

    Attributes:
        title: the subsystem; empty on the first page, which is the six big values.
        signals: names, in order.
    """

    title: str
    signals: tuple[str, ...]


def signal_pages(catalogue: Catalogue) -> tuple[SignalPage, ...]:
    """The big values first, then every other signal of the craft by subsystem; none is left out."""
    rest: dict[str, list[str]] = {group: [] for group in catalogue.groups}
    for info in catalogue.signals:
        if info.name not in catalogue.ride:
            rest.setdefault(info.group, []).append(info.name)
    known = {info.name for info in catalogue.signals}
    pages = [SignalPage("", tuple(name for name in catalogue.ride if name in known))]
    for group, names in rest.items():
        parts = [tuple(names[start : start + TILES]) for start in range(0, len(names), TILES)]
        for number, part in enumerate(parts, 1):
            title = group if len(parts) == 1 else f"{group}, {number} of {len(parts)}"
            pages.append(SignalPage(title, part))
    return tuple(pages)
