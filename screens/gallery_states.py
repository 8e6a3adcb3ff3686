"""Every widget in all its states, with invented values: what the gallery shows."""

from __future__ import annotations

import math
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

from app.facts import Fact
from app.number_entry import NumberEntry
from app.output_words import Line
from app.quick_words import RowWords
from app.ride_words import few_words
from app.show import Look, Tile
from app.strip import Box, Strip
from app.time_line import Event
from app.trend import SLOTS, Track
from screens import theme
from screens.page_keys import PageKeys
from screens.widgets.arc import Arc
from screens.widgets.banner import Banner
from screens.widgets.bar import Bar
from screens.widgets.grid import Grid
from screens.widgets.hold import ArmKey, HoldTarget, StopKey
from screens.widgets.key import Key
from screens.widgets.lanes import Lanes
from screens.widgets.lines import LineList
from screens.widgets.number_pad import NumberPad
from screens.widgets.rows import Rows
from screens.widgets.sign import OUTLINES, Sign
from screens.widgets.strip_chart import StripChart
from screens.widgets.strip_line import StripLine
from screens.widgets.table import Table
from screens.widgets.time_line import TimeLine
from screens.widgets.value_tile import BigTile, ValueTile
from screens.widgets.verdict_row import VerdictRows

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from kivy.uix.widget import Widget


State = tuple[str, "Callable[[], Widget]"]
"""What it is called, and what makes a widget in it."""


class Family(NamedTuple):
    """A page of the gallery.

    Attributes:
        title: what is shown.
        widget: its class.
        columns, rows: places on the page.
        states: what a state is called, and what makes a widget in it.
    """

    title: str
    widget: type[Widget]
    columns: int
    rows: int
    states: tuple[State, ...]


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


def _tiles(widget: type[ValueTile], looks: Sequence[Look]) -> tuple[State, ...]:
    return tuple((look.value.replace("_", " "), partial(_shown, widget, look)) for look in looks)


def _arc(look: Look, share: float) -> Widget:
    arc = Arc()
    arc.scale(0.0, 9000.0, 8000.0)
    main = f"{share * 9000:.0f}" if look in (Look.GOOD, Look.ALARM) else WORDS[look][0]
    arc.show(
        Tile("", "Engine speed", "", main, "", "", look, figure=main[0].isdecimal()),
        "most 8120 · limit 8000",
        "limit from family data",
    )
    arc.sweep(share * 9000.0 if main[0].isdecimal() else None)
    return arc


def _bar(share: float) -> Widget:
    return Bar(share=share)


def _chart(kind: str) -> Widget:
    chart = StripChart()
    chart.scale(0.0, 100.0, "0", "100")
    track = Track()
    for slot in range(SLOTS + 1):
        wave = 50 + 40 * math.sin(slot / 17)
        gap = kind == "a gap" and 90 < slot < 150
        track.low[slot] = track.high[slot] = math.nan if gap else wave
        if kind == "a spike" and slot == 120:
            track.high[slot] = 99.0
    chart.show(None if kind == "nothing" else track, SLOTS)
    return chart


def _strip(engine: str, *boxes: Box) -> Widget:
    line = StripLine(size_hint_y=None, height=theme.smm(6.5))
    line.show(Strip("Auk 20417", engine, boxes))
    return line


def _lines(*lines: Line) -> Widget:
    made = LineList()
    made.show(lines)
    return made


def _verdicts(*rows: RowWords) -> Widget:
    made = VerdictRows()
    made.show(rows)
    return made


def _banner(text: str, *, loud: bool = False, shape: str = "triangle") -> Widget:
    return Banner(text=text, loud=loud, shape=shape)


def _arm(share: float) -> Widget:
    return ArmKey(text="Hold 1 s\nto arm", share=share, down=share > 0)


def _pages(number: int, total: int) -> Widget:
    keys = PageKeys(lambda _by: None, more=(lambda: None) if number == 1 else None)
    keys.show(number, total)
    return keys


def _pad(typed: str) -> Widget:
    entry = NumberEntry("bar", 8.0, 16.0, 1)
    for key in typed:
        entry.touch(key)
    pad = NumberPad(lambda _number: None, lambda: None)
    pad.ask("Compression of cylinder 1", entry)
    return pad


def _times(*events: Event) -> Widget:
    line = TimeLine()
    line.show(events, 0.0, 420.0)
    return line


def _table() -> Widget:
    table = Table()
    rows = [("Coolant", "18", "71", "°C"), ("Exhaust", "18", "62", "°C"), ("Oil pressure", "–", "–", "kPa")]
    table.show(("Heat", "least", "most", "in 4 min"), rows, 4)
    return table


def _rows() -> Widget:
    rows = Rows()
    rows.show([Fact("Adapter", "slcan"), Fact("Bit rate", "500 kbit/s"), Fact("Frames", "48 213")])
    return rows


def _sign(shape: str) -> Widget:
    return Sign(shape=shape, ink=theme.paints.ink, size=(theme.mm(15), theme.mm(15)))


def _lanes(here: str) -> Widget:
    lanes = Lanes(lambda _lane: None, gap=theme.mm(3))
    lanes.mark(here)
    return lanes


NEEDS = (
    Line("Engine runs.", "Stop it.", "cross"),
    Line("Lanyard: not seen pulled.", "Pull it once, put it back.", "cross"),
    Line("Battery 12.6 V.", "", "tick"),
)
STEPS = (
    Line("1. Hose on, tap off.", "", "tick"),
    Line("2. Start the engine.", "", "tick"),
    Line("3. Tap on.", "Idle for some minutes."),
    Line("4. Tap off.", "5 to 10 s."),
)
RIDE = Event(20, "", "ride", 380)
EVENTS = (
    RIDE,
    Event(150, "square", "Oil pressure"),
    Event(160, "triangle", "Exhaust"),
    Event(260, "", "Mark 1"),
)

FAMILIES = (
    Family("Value tile", ValueTile, 3, 3, _tiles(ValueTile, list(Look))),
    *(
        Family(
            f"Big tile, {number} of 3",
            BigTile,
            3,
            1,
            _tiles(BigTile, list(Look)[3 * number - 3 : 3 * number]),
        )
        for number in (1, 2, 3)
    ),
    Family(
        "Arc",
        Arc,
        3,
        1,
        (
            ("good", lambda: _arc(Look.GOOD, 0.4)),
            ("alarm", lambda: _arc(Look.ALARM, 0.92)),
            ("old", lambda: _arc(Look.STALE, 0.0)),
        ),
    ),
    Family(
        "Bar",
        Bar,
        1,
        3,
        tuple((f"{share:.0%}", partial(_bar, share)) for share in (0.0, 0.4, 1.0)),
    ),
    Family(
        "Strip chart",
        StripChart,
        1,
        4,
        tuple((kind, partial(_chart, kind)) for kind in ("good", "a gap", "a spike", "nothing")),
    ),
    Family(
        "Strip",
        StripLine,
        1,
        4,
        (
            ("running", lambda: _strip("Engine running", Box("a", "3480 rev/min", 2), Box("b", "14.1 V", 3))),
            ("watch", lambda: _strip("Engine stopped, key on", Box("r", "Not recording", 1, watch=True))),
            ("alarm", lambda: _strip("Engine running", Box("x", "ALARM Coolant +1", 0, alarm=True))),
            ("simulated", lambda: _strip("Under way · glass locked", Box("m", "SIMULATED", 0))),
        ),
    ),
    Family(
        "Lanes",
        Lanes,
        1,
        3,
        tuple((here, partial(_lanes, here)) for here in ("Ride", "Bench", "Book")),
    ),
    Family(
        "Key",
        Key,
        4,
        2,
        (
            ("at rest", lambda: Key(text="Read\nagain")),
            ("a finger on it", lambda: Key(text="Read\nagain", down=True)),
            ("where you are", lambda: Key(text="Ride", here=True)),
            ("both", lambda: Key(text="Ride", here=True, down=True)),
        ),
    ),
    Family(
        "Hold target",
        HoldTarget,
        2,
        1,
        (
            ("at rest", lambda: HoldTarget(text="Hold here", kind="hold")),
            ("held", lambda: HoldTarget(text="Keep\nholding", kind="hold", down=True)),
        ),
    ),
    Family(
        "Arming key",
        ArmKey,
        3,
        1,
        tuple((f"{share:.0%}", partial(_arm, share)) for share in (0.0, 0.5, 1.0)),
    ),
    Family(
        "STOP TEST",
        StopKey,
        1,
        2,
        (
            ("at rest", lambda: StopKey(text="STOP TEST", kind="stop")),
            ("touched", lambda: StopKey(text="STOP TEST", kind="stop", down=True)),
        ),
    ),
    Family(
        "Page keys",
        PageKeys,
        1,
        3,
        (
            ("first", lambda: _pages(1, 11)),
            ("later", lambda: _pages(4, 11)),
            ("the only one", lambda: _pages(1, 1)),
        ),
    ),
    Family(
        "Needs list",
        LineList,
        1,
        2,
        (("missing", lambda: _lines(*NEEDS)), ("all met", lambda: _lines(NEEDS[2]))),
    ),
    Family("Step list", LineList, 1, 1, (("under way", lambda: _lines(*STEPS)),)),
    Family(
        "Verdict rows",
        VerdictRows,
        1,
        1,
        (
            (
                "all three",
                lambda: _verdicts(
                    RowWords("tick", "Battery 12.6 V", "at least 12.2 V · family data"),
                    RowWords("triangle", "Exhaust 82 °C: hot", "Engine off, let it cool. Hands off."),
                    RowWords("square", "Oil pressure 62 kPa: too low", "Engine off at once. Technician."),
                ),
            ),
        ),
    ),
    Family(
        "Banner",
        Banner,
        1,
        3,
        (
            ("watch", lambda: _banner("These are the last values. Key on? Plug in?")),
            ("stopped", lambda: _banner("FROZEN 4 s ago. These figures are not live.", shape="bars")),
            ("alarm", lambda: _banner("FROZEN 4 s · ALARM NOW: Coolant", loud=True, shape="square")),
        ),
    ),
    Family(
        "Time line",
        TimeLine,
        1,
        2,
        (("a ride", lambda: _times(*EVENTS)), ("nothing", _times)),
    ),
    Family("Table", Table, 1, 1, (("least and most", _table),)),
    Family("Rows", Rows, 1, 1, (("facts", _rows),)),
    Family(
        "Sign",
        Sign,
        5,
        1,
        tuple(
            (
                shape,
                partial(_sign, shape),
            )
            for shape in OUTLINES
        ),
    ),
    Family(
        "Grid",
        Grid,
        1,
        1,
        (("cells", lambda: Grid(columns=[1, 1], rows=[1, 1], ruled=True, gap=theme.mm(0.35))),),
    ),
    Family("Number pad", NumberPad, 1, 1, (("typing", lambda: _pad("12.5")),)),
    Family("Number pad", NumberPad, 1, 1, (("too high", lambda: _pad("250")),)),
)
