"""The least and the most of every signal of this craft."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from app.reading import Quality
from app.show import figure, unit_words

if TYPE_CHECKING:
    from app.messages import Catalogue
    from app.moment import Moment
    from app.pages import SignalPage


class Extremes:
    """Holds the least and the most good number of each signal since it began.

    Attributes:
        since: when it began, seconds on CLOCK_MONOTONIC.
    """

    def __init__(self, now: float) -> None:
        self.since = now
        self._held: dict[str, tuple[float, float]] = {}

    def reset(self, now: float) -> None:
        """Forget all and begin again."""
        self.since = now
        self._held.clear()

    def take(self, moment: Moment) -> None:
        """Look at every value; one that is not good counts for nothing."""
        if moment.catalogue is None or not moment.live:
            return
        held = self._held
        for info in moment.catalogue.signals:
            value = moment.value(info.name)
            if value is None or not isinstance(value.value, int | float):
                continue
            number, known = float(value.value), held.get(info.name)
            if known is not None and known[0] <= number <= known[1]:
                continue
            if moment.quality(info.name) is Quality.GOOD:
                held[info.name] = (
                    (number, number)
                    if known is None
                    else (
                        min(known[0], number),
                        max(known[1], number),
                    )
                )

    def of(self, signal: str) -> tuple[float, float] | None:
        """Least and most of a signal in its unit; None before a good number came."""
        return self._held.get(signal)


class ExtremeRow(NamedTuple):
    """One line of the page: what, least, most (figures, or a dash), unit."""

    label: str
    least: str
    most: str
    unit: str


def number_pages(pages: tuple[SignalPage, ...], catalogue: Catalogue) -> list[SignalPage]:
    """The pages of signals without those that are texts; pages with nothing left fall out."""
    numbers = {info.name for info in catalogue.signals if not info.enumerated}
    kept = [
        page.__class__(page.title or "Big values", tuple(name for name in page.signals if name in numbers))
        for page in pages
    ]
    return [page for page in kept if page.signals]


def extreme_rows(page: SignalPage, extremes: Extremes, moment: Moment) -> list[ExtremeRow]:
    """The lines of one page."""
    rows = []
    for name in page.signals:
        info, held = moment.info(name), extremes.of(name)
        if info is None:
            continue
        low, high = ("–", "–") if held is None else (figure(number, info.decimals) for number in held)
        low, high = low.replace("-", "−"), high.replace("-", "−")
        rows.append(ExtremeRow(info.label, low, high, unit_words(info.unit)))
    return rows
