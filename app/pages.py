"""Which signal stands on which page of the Ride lane."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

import msgspec

from app.choices import FOUR, SIX

if TYPE_CHECKING:
    from app.messages import Catalogue, SignalInfo

TILES = 7
"""On a page of signals: three rows of three, less the cell of what can be done and that of the page keys."""


class SignalPage(msgspec.Struct, frozen=True):
    """One page.

    Attributes:
        title: the subsystem; empty on the first page, which is the six big values.
        signals: names, in order.
    """

    title: str
    signals: tuple[str, ...]


def signal_pages(catalogue: Catalogue, six: tuple[str, ...] | None = None) -> tuple[SignalPage, ...]:
    """The big values first, then every other signal of the craft by subsystem; none is left out.

    Args:
        catalogue: of the craft.
        six: the big values a person chose, None = those of the family.
    """
    big = big_values(catalogue, six)
    rest: dict[str, list[str]] = {group: [] for group in catalogue.groups}
    for info in catalogue.signals:
        if info.name not in big:
            rest.setdefault(info.group, []).append(info.name)
    pages = [SignalPage("", big)]
    for group, names in rest.items():
        parts = _parts(names)
        for number, part in enumerate(parts, 1):
            title = group if len(parts) == 1 else f"{group}, {number} of {len(parts)}"
            pages.append(SignalPage(title, part))
    return tuple(pages)


def big_values(catalogue: Catalogue, six: tuple[str, ...] | None) -> tuple[str, ...]:
    """The arc and up to five tiles: what a person chose of what this craft has, else the family's own."""
    infos = {info.name: info for info in catalogue.signals}
    chosen = _known(six or (), infos)
    if not chosen or not on_a_scale(infos[chosen[0]]):
        chosen = _known(catalogue.ride, infos)
    return chosen[:SIX]


def chart_lines(catalogue: Catalogue, four: tuple[str, ...] | None) -> tuple[str, ...]:
    """The lines of the chart: what a person chose, else the first of the big values; all need a scale."""
    infos = {info.name: info for info in catalogue.signals if on_a_scale(info)}
    return _known(catalogue.ride if four is None else four, infos)[:FOUR]


def on_a_scale(info: SignalInfo) -> bool:
    """Whether it is a number with ends of a scale."""
    return not info.enumerated and info.low is not None and info.high is not None and info.low < info.high


def _known(names: tuple[str, ...] | list[str], infos: dict[str, SignalInfo]) -> tuple[str, ...]:
    """Those that there are, none twice."""
    return tuple(name for name in dict.fromkeys(names) if name in infos)


def _parts(names: list[str]) -> list[tuple[str, ...]]:
    """As few pages as they need, all about equally full."""
    count = -(-len(names) // TILES)
    edges = [len(names) * number // count for number in range(count + 1)] if count else [0]
    return [tuple(names[begin:end]) for begin, end in itertools.pairwise(edges)]
