"""Makes a page when it is opened first: its module and layout are read only then."""

# ruff: noqa: PLC0415 - the first picture must not wait for pages that nobody has opened

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from screens.actions import Actions
    from screens.page import Page

FIRST = {"Check": "faults", "Bench": "bench", "Book": "book"}
"""The page that a lane opens with; the Ride lane shows what there is."""


def make(which: str, actions: Actions) -> Page:
    """Make one page of PAGES."""
    return PAGES[which](actions)


def _ride(actions: Actions) -> Page:
    from screens.ride import RidePage

    return RidePage(actions)


def _signals(actions: Actions) -> Page:
    from screens.signals import SignalsPage

    return SignalsPage(actions)


def _more(actions: Actions) -> Page:
    from screens.more import MorePage

    return MorePage(actions)


def _chart(actions: Actions) -> Page:
    from screens.chart import ChartPage

    return ChartPage(actions)


def _most(actions: Actions) -> Page:
    from screens.most import MostPage

    return MostPage(actions)


def _choose_six(actions: Actions) -> Page:
    from screens.choose import ChoosePage

    return ChoosePage(actions, kind="six", leads_to="more")


def _choose_chart(actions: Actions) -> Page:
    from screens.choose import ChoosePage

    return ChoosePage(actions, kind="chart", leads_to="chart")


def _link(actions: Actions) -> Page:
    from screens.link import LinkPage

    return LinkPage(actions)


def _riding(actions: Actions) -> Page:
    from screens.riding import RidingPage

    return RidingPage(actions)


def _alarm(actions: Actions) -> Page:
    from screens.alarm import AlarmPage

    return AlarmPage(actions)


def _about(actions: Actions) -> Page:
    from screens.about import AboutPage

    return AboutPage(actions)


def _identity(actions: Actions) -> Page:
    from screens.identity import IdentityPage

    return IdentityPage(actions)


def _raw(actions: Actions) -> Page:
    from screens.raw import RawPage

    return RawPage(actions)


def _hours(actions: Actions) -> Page:
    from screens.hours import HoursPage

    return HoursPage(actions)


def _counters(actions: Actions) -> Page:
    from screens.counters import CountersPage

    return CountersPage(actions)


def _limits(actions: Actions) -> Page:
    from screens.limits import LimitsPage

    return LimitsPage(actions)


def _trailer(actions: Actions) -> Page:
    from screens.trailer import TrailerPage

    return TrailerPage(actions)


def _dry(actions: Actions) -> Page:
    from screens.trailer import DryPage

    return DryPage(actions)


def _faults(actions: Actions) -> Page:
    from screens.faults import FaultsPage

    return FaultsPage(actions)


def _fault(actions: Actions) -> Page:
    from screens.fault import FaultPage

    return FaultPage(actions)


def _clear(actions: Actions) -> Page:
    from screens.clear import ClearPage

    return ClearPage(actions)


def _quick(actions: Actions) -> Page:
    from screens.quick import QuickPage

    return QuickPage(actions)


def _connection(actions: Actions) -> Page:
    from screens.connection import ConnectionPage

    return ConnectionPage(actions)


def _settings(actions: Actions) -> Page:
    from screens.settings import SettingsPage

    return SettingsPage(actions)


def _bench(actions: Actions) -> Page:
    from screens.bench import BenchPage

    return BenchPage(actions)


def _output(actions: Actions) -> Page:
    from screens.output import OutputPage

    return OutputPage(actions)


def _hold(actions: Actions) -> Page:
    from screens.hold import HoldPage

    return HoldPage(actions)


def _latched(actions: Actions) -> Page:
    from screens.latched import LatchedPage

    return LatchedPage(actions)


def _unconfirmed(actions: Actions) -> Page:
    from screens.unconfirmed import UnconfirmedPage

    return UnconfirmedPage(actions)


def _people(actions: Actions) -> Page:
    from screens.people import PeoplePage

    return PeoplePage(actions)


def _book(actions: Actions) -> Page:
    from screens.book import BookPage

    return BookPage(actions)


PAGES: Mapping[str, Callable[[Actions], Page]] = {
    "ride": _ride,
    "signals": _signals,
    "more": _more,
    "chart": _chart,
    "most": _most,
    "choose_six": _choose_six,
    "choose_chart": _choose_chart,
    "riding": _riding,
    "alarm": _alarm,
    "about": _about,
    "trailer": _trailer,
    "dry": _dry,
    "link": _link,
    "faults": _faults,
    "fault": _fault,
    "clear": _clear,
    "quick": _quick,
    "connection": _connection,
    "identity": _identity,
    "hours": _hours,
    "raw": _raw,
    "counters": _counters,
    "limits": _limits,
    "settings": _settings,
    "bench": _bench,
    "output": _output,
    "hold": _hold,
    "latched": _latched,
    "unconfirmed": _unconfirmed,
    "people": _people,
    "book": _book,
}
"""Every page by the name it is opened by."""
