"""Every widget in all its states, with invented values: what the gallery shows."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, NamedTuple

from app.output_messages import NeedState
from app.output_words import need_lines, promise_lines
from app.quick_words import RowWords
from app.show import Look
from app.steps import Step, step_lines
from app.strip import Box
from app.time_line import Event
from screens import gallery_made as make
from screens import theme
from screens.page_keys import PageKeys
from screens.widgets.arc import Arc
from screens.widgets.band_bars import BandBars
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
    from kivy.uix.widget import Widget

    from screens.gallery_made import State


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


NEEDS = (
    NeedState("engine_stopped", False, "Engine runs", "Stop it"),
    NeedState("lanyard_proved", None, "Lanyard: not seen pulled", "Pull it once, put it back"),
    NeedState("hands_clear", None, "Hands: not confirmed", "Say so below"),
)
MET = (
    NeedState("no_smell", True, "Hatch open, no smell", ""),
    NeedState("hands_clear", None, "Hands: not confirmed", "Say so below"),
)
STEPS = (
    Step("Key off.", "All lamps dark."),
    Step("Plug out, plug in.", "Until it clicks."),
    Step("Key on.", "Do not start."),
    Step("Wait 10 s.", "The display counts."),
)
MANY_STEPS = tuple(Step(f"Look at part {number}.", "Dry, and nothing is loose.") for number in range(1, 20))
RIDE = Event(20, "", "ride", 380)
EVENTS = (
    RIDE,
    Event(150, "square", "Oil pressure"),
    Event(160, "triangle", "Exhaust"),
    Event(162, "", "Mark 0"),
    Event(260, "", "Mark 1"),
)

FAMILIES = (
    Family("Value tile", ValueTile, 3, 3, make.tiles(ValueTile, list(Look))),
    *(
        Family(
            f"Big tile, {number} of 3",
            BigTile,
            3,
            1,
            make.tiles(BigTile, list(Look)[3 * number - 3 : 3 * number]),
        )
        for number in (1, 2, 3)
    ),
    Family(
        "Arc",
        Arc,
        3,
        1,
        (
            ("good", lambda: make.arc(Look.GOOD, 0.4)),
            ("alarm", lambda: make.arc(Look.ALARM, 0.92)),
            ("old", lambda: make.arc(Look.STALE, 0.0)),
        ),
    ),
    Family(
        "Bar",
        Bar,
        1,
        3,
        tuple((f"{share:.0%}", partial(make.bar, share)) for share in (0.0, 0.4, 1.0)),
    ),
    Family(
        "Strip chart",
        StripChart,
        1,
        4,
        tuple((kind, partial(make.chart, kind)) for kind in ("good", "a gap", "a spike", "nothing")),
    ),
    Family(
        "Strip",
        StripLine,
        1,
        4,
        (
            (
                "running",
                lambda: make.strip("Engine running", Box("a", "3480 rev/min", 2)),
            ),
            ("watch", lambda: make.strip("Engine stopped, key on", Box("r", "Not recording", 1, watch=True))),
            ("alarm", lambda: make.strip("Engine running", Box("x", "ALARM Coolant +1", 0, alarm=True))),
            ("simulated", lambda: make.strip("Under way · glass locked", Box("m", "SIMULATED", 0))),
        ),
    ),
    Family(
        "Lanes",
        Lanes,
        1,
        3,
        tuple((here, partial(make.lanes, here)) for here in ("Ride", "Bench", "Book")),
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
        tuple((f"{share:.0%}", partial(make.arm, share)) for share in (0.0, 0.5, 1.0)),
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
            ("first", lambda: make.pages(1, 11)),
            ("later", lambda: make.pages(4, 11)),
            ("the only one", lambda: make.pages(1, 1)),
        ),
    ),
    Family(
        "Needs list",
        LineList,
        1,
        2,
        (
            ("missing", lambda: make.lines(need_lines(NEEDS))),
            ("one a person has confirmed, one to confirm", lambda: make.lines(promise_lines(MET))),
        ),
    ),
    *(
        Family("Step list", LineList, 1, 1, ((state, partial(make.lines, step_lines(steps, now), part)),))
        for state, steps, now, part in (
            ("begun", STEPS, 0, 0),
            ("under way", STEPS, 2, 0),
            ("all done", STEPS, 4, 0),
            ("a later part", MANY_STEPS, 14, 1),
        )
    ),
    Family(
        "Verdict rows",
        VerdictRows,
        1,
        1,
        (
            (
                "all three",
                lambda: make.verdicts(
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
            ("watch", lambda: make.banner("These are the last values. Key on? Plug in?")),
            ("stopped", lambda: make.banner("FROZEN 4 s ago. These figures are not live.", shape="bars")),
            ("alarm", lambda: make.banner("FROZEN 4 s · ALARM NOW: Coolant", loud=True, shape="square")),
        ),
    ),
    Family(
        "Time line",
        TimeLine,
        1,
        2,
        (("a ride", lambda: make.times(*EVENTS)), ("nothing", make.times)),
    ),
    Family(
        "Band bars",
        BandBars,
        1,
        2,
        (
            ("beside a duty cycle", lambda: make.band_bars(0.31, 0.12, 0.4, 0.17)),
            ("not known", make.band_bars),
        ),
    ),
    Family("Table", Table, 1, 1, (("least and most", make.table),)),
    Family("Rows", Rows, 1, 1, (("facts", make.rows),)),
    Family(
        "Sign",
        Sign,
        5,
        1,
        tuple(
            (
                shape,
                partial(make.sign, shape),
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
    *(
        Family("Number pad", NumberPad, 1, 1, ((state, partial(make.pad, typed, speed)),))
        for state, typed, speed in (
            ("typing", "12.5", None),
            ("too high", "250", 0.0),
            ("under way", "12.5", 3480.0),
        )
    ),
)
