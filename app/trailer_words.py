"""What is said about running on the trailer: cautions, the count, the order of flushing."""

from __future__ import annotations

import msgspec

from app.output_words import Line
from app.show import Look, age_words
from app.steps import Step, step_lines
from app.trailer import Flush, State, Trailer, Water


def cautions(trailer: Trailer) -> list[Line]:
    """What must be read before it runs (common practice, no source; the seconds are of app.trailer)."""
    return [
        Line(f"No water: {trailer.allowed_s:.0f} s at most.", "Never rev it; then let it cool.", "triangle"),
        Line("Outdoors only.", "Carbon monoxide kills; worst where the craft stands.", "triangle"),
        Line("The pump turns.", "Hands, feet, hair off intake and nozzle.", "triangle"),
        Line("Lanyard on your wrist.", "Craft strapped, wheels chocked, nobody behind.", "triangle"),
        Line("The maker's manual and local rules first.", _whose(trailer)),
    ]


def _whose(trailer: Trailer) -> str:
    return f"{trailer.allowed_s:.0f} s is {'family data' if trailer.by_family else 'a generic default'}."


TITLE = "On the trailer: is there water?"


def clock(seconds: float) -> str:
    """Minutes and seconds: "4:05"."""
    whole = int(seconds + 0.999)
    return f"{whole // 60}:{whole % 60:02}"


def sheet(trailer: Trailer, now: float) -> tuple[str, list[Line]]:
    """Title and rows while the engine is not counted down."""
    if trailer.water is None:
        return TITLE, cautions(trailer)
    if trailer.water is Water.HOSE:
        return _hose(trailer)
    if trailer.state is State.RESTS:
        return f"Let it cool {clock(trailer.rest_left_s(now))}", [
            Line("Its time without water is used up.", "Hands off hot parts.", "triangle"),
            Line("Do not start it before.", "Or give it water: hose on."),
            Line("If it ran on much longer:", "read the faults; maker's manual and local rules."),
        ]
    rest = trailer.rest_left_s(now)
    used = (
        f"{trailer.used_s:.0f} s are used; all {trailer.allowed_s:.0f} s again after a rest of {clock(rest)}."
    )
    return f"No water: {trailer.left_s:.0f} s, then stop", [
        Line("Start it when you are ready.", "The count begins by itself."),
        *([Line("It ran before.", used)] if trailer.used_s and rest else []),
        *cautions(trailer)[1:],
    ]


FLUSH = (
    Step("Hose on, tap off.", "Water before the start floods the engine."),
    Step("Start the engine.", "Outdoors; hands off pump, intake and nozzle."),
    Step("Tap on at once.", "Idle for some minutes, watch the heat."),
    Step("Tap off.", "Let it run 5 to 10 s, not longer."),
    Step("Engine off.", "The maker's manual and local rules first."),
)
"""The order of flushing, a row for each of app.trailer.Flush (common practice, no source)."""


def _hose(trailer: Trailer) -> tuple[str, list[Line]]:
    """The order of flushing; what the engine speed tells is followed by itself."""
    step = trailer.flush
    if step is Flush.DONE:
        title = "Flushed: hose off"
    elif trailer.runs:
        title = f"On the hose: runs {clock(trailer.run_s)}"
    elif trailer.ran and step is Flush.HOSE_ON:
        title = "The engine stopped: tap OFF"
    else:
        title = "On the hose"
    return title, step_lines(FLUSH, step)


class Count(msgspec.Struct, frozen=True):
    """The page while the engine runs without water.

    Attributes:
        look: of the whole page.
        figure: seconds left, or over.
        label: what the figure counts.
        say: what to do.
        note: one more sentence.
        share: of the time that is used, 0 to 1.
    """

    look: Look
    figure: str
    label: str
    say: str
    note: str
    share: float


NOT_BY_US = "This tool cannot stop it: stop switch or lanyard."


def count(trailer: Trailer) -> Count:
    """Say it; whether it still runs may be unknown."""
    over = trailer.used_s - trailer.allowed_s
    share = min(1.0, trailer.used_s / trailer.allowed_s)
    if trailer.state is State.UNKNOWN:
        return Count(Look.ALARM, "?", "Engine speed not known", "Stop the engine", NOT_BY_US, share)
    if over >= 0:
        return Count(Look.ALARM, f"+{over:.0f}", "Seconds too long", "Stop the engine", NOT_BY_US, 1.0)
    look = Look.WATCH if trailer.left_s <= trailer.allowed_s / 3 else Look.GOOD
    note = f"{_whose(trailer)} The maker's manual goes first."
    return Count(
        look, f"{trailer.left_s:.0f}", "Seconds left without water", "Idle only. Be ready", note, share
    )


def note_text(water: Water, seconds: float, allowed_s: float) -> str:
    """What the book keeps of a run."""
    how = "without water" if water is Water.NONE else "on the hose"
    over = seconds - allowed_s if water is Water.NONE else 0.0
    late = f", {over:.0f} s too long" if over > 0 else ""
    return f"On the trailer {how}: ran {age_words(round(seconds))}{late}"
