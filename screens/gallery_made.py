"""Widgets of the gallery in a state, with invented values."""

from __future__ import annotations

import math
from functools import partial
from typing import TYPE_CHECKING

from app.facts import Fact
from app.hours_words import BandRow
from app.number_entry import NumberEntry
from app.ride_words import few_words
from app.show import Look, Tile
from app.strip import Box, Strip
from app.trend import SLOTS, Track
from screens import theme
from screens.page_keys import PageKeys
from screens.widgets.arc import Arc
from screens.widgets.band_bars import BandBars
from screens.widgets.banner import Banner
from screens.widgets.bar import Bar
from screens.widgets.hold import ArmKey
from screens.widgets.lanes import Lanes
from screens.widgets.lines import LineList
from screens.widgets.number_pad import NumberPad
from screens.widgets.rows import Rows
from screens.widgets.sign import Sign
from screens.widgets.strip_chart import StripChart
from screens.widgets.strip_line import StripLine
from screens.widgets.table import Table
from screens.widgets.time_line import TimeLine
from screens.widgets.value_tile import BigTile, ValueTile
from screens.widgets.verdict_row import VerdictRows

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from kivy.uix.widget import Widget

    from app.output_words import Line
    from app.quick_words import RowWords
    from app.time_line import Event

State = tuple[str, "Callable[[], Widget]"]
"""What it is called, and what makes a widget in it."""

WORDS = {
    Look.GOOD: ("71", "°C", "", ""),
    Look.WATCH: ("97", "°C", "watch", "max 95 · family data"),
    Look.ALARM: ("104", "°C", "alarm", "max 102 · generic default"),
    Look.STALE: ("no data 12 s", "", "", "was 71 °C"),
    Look.NOT_AVAILABLE: ("not sent", "", "", "or not fitted"),
    Look.ERROR: ("sensor fault", "", "", "says the controller"),
    Look.OUT_OF_RANGE: ("214", "°C", "", "out of range"),
    Look.WAITING: ("waiting", "", "", ""),
    Look.FROZEN: ("71", "°C", "", ""),
}


def tile_of(look: Look, label: str = "Coolant") -> Tile:
    """A tile of an invented signal in this state."""
    main, unit, word, note = WORDS[look]
    return Tile("", label, word, main, unit, note, look, figure=main[0].isdecimal())


def _shown(widget: type[ValueTile], look: Look) -> Widget:
    made, tile = widget(), tile_of(look)
    made.show(few_words(tile) if widget is BigTile else tile)
    return made


def tiles(widget: type[ValueTile], looks: Sequence[Look]) -> tuple[State, ...]:
    """A state for each of these looks."""
    return tuple((look.value.replace("_", " "), partial(_shown, widget, look)) for look in looks)


def arc(look: Look, share: float) -> Widget:
    """The arc of engine speed; the share is of its scale."""
    made = Arc()
    made.scale(0.0, 9000.0, 8000.0)
    main = f"{share * 9000:.0f}" if look in (Look.GOOD, Look.ALARM) else WORDS[look][0]
    made.show(
        Tile("", "Engine speed", "", main, "", "", look, figure=main[0].isdecimal()),
        "most 8120 · limit 8000",
        "limit from family data",
    )
    made.sweep(share * 9000.0 if main[0].isdecimal() else None)
    return made


def bar(share: float) -> Widget:
    """A bar filled to this share."""
    return Bar(share=share)


def chart(kind: str) -> Widget:
    """A wave: "good", "a gap", "a spike" or "nothing"."""
    made = StripChart()
    made.scale(0.0, 100.0, "0", "100")
    track = Track()
    for slot in range(SLOTS + 1):
        wave = 50 + 40 * math.sin(slot / 17)
        gap = kind == "a gap" and 90 < slot < 150
        track.low[slot] = track.high[slot] = math.nan if gap else wave
        if kind == "a spike" and slot == 120:
            track.high[slot] = 99.0
    made.show(None if kind == "nothing" else track, SLOTS)
    return made


def strip(engine: str, *boxes: Box) -> Widget:
    """The line at the top of every page."""
    line = StripLine(size_hint_y=None, height=theme.smm(6.5))
    line.show(Strip("Auk 20417", engine, boxes))
    return line


def lines(said: Sequence[Line], part: int = 0) -> Widget:
    """Rows of words; ``part`` from 0."""
    made = LineList()
    made.show(said, part)
    return made


def verdicts(*rows: RowWords) -> Widget:
    """Rows of a verdict."""
    made = VerdictRows()
    made.show(rows)
    return made


def banner(text: str, *, loud: bool = False, shape: str = "triangle") -> Widget:
    """A line that stands over the values."""
    return Banner(text=text, loud=loud, shape=shape)


def arm(share: float) -> Widget:
    """The arming key after this share of its time."""
    return ArmKey(text="Hold 1 s\nto arm", share=share, down=share > 0)


def pages(number: int, total: int) -> Widget:
    """Keys that turn pages."""
    keys = PageKeys(lambda _by: None, more=(lambda: None) if number == 1 else None)
    keys.show(number, total)
    return keys


def pad(typed: str, speed: float | None = None) -> Widget:
    """A number pad after these keys; ``speed`` in rev/min."""
    entry = NumberEntry("bar", 8.0, 16.0, 1)
    for key in typed:
        entry.touch(key)
    made = NumberPad(lambda _number: None, lambda: None)
    made.ask("Compression of cylinder 1", entry)
    made.see(speed)
    return made


def times(*events: Event) -> Widget:
    """Seven minutes with these events."""
    line = TimeLine()
    line.show(events, 0.0, 420.0)
    return line


def band_bars(*shares: float) -> Widget:
    """Bars of these shares beside those of an even use; without any, of hours that are not given."""
    labels = ("0 to 2000", "2000 to 4000", "4000 to 6000", "6000 to 8000")
    made = BandBars()
    if shares:
        pairs = zip(labels, shares, strict=True)
        made.show([BandRow(label, f"{share * 100:.1f} h", share, 0.25) for label, share in pairs])
    else:
        made.show([BandRow(label, "not given") for label in labels])
    return made


def table() -> Widget:
    """Least and most of some values."""
    made = Table()
    rows = [("Coolant", "18", "71", "°C"), ("Exhaust", "18", "62", "°C"), ("Oil pressure", "–", "–", "kPa")]
    made.show(("Heat", "least", "most", "in 4 min"), rows, 4)
    return made


def rows() -> Widget:
    """Some facts."""
    made = Rows()
    made.show([Fact("Adapter", "slcan"), Fact("Bit rate", "500 kbit/s"), Fact("Frames", "48 213")])
    return made


def sign(shape: str) -> Widget:
    """A shape as large as a finger."""
    return Sign(shape=shape, ink=theme.paints.ink, size=(theme.mm(15), theme.mm(15)))


def lanes(here: str) -> Widget:
    """The four lanes while one is open."""
    made = Lanes(lambda _lane: None, gap=theme.mm(3))
    made.mark(here)
    return made
