"""What is said on the glass about holding fuel or spark off while a person cranks.

Whoever reads it has a hand on the start switch: the first lines say what to do, and nothing is called held
off that the controller did not confirm a moment ago.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from app.interlock import LETS_FUEL_IN, STOPPED_FOR_S, Kind
from app.output_messages import Phase
from app.output_words import Line, cautions, need_lines, promise_lines
from app.show import Look

if TYPE_CHECKING:
    from collections.abc import Sequence

    from app.bench import Latch
    from app.output_messages import NeedState, OutputInfo, OutputState

CONFIRMED_S = 2.5
"""A confirmation older than this is none: the bus side asks every second and doubts after two, and a picture
may be half a second behind."""

_AHEAD_S = 0.5
"""Both processes share one clock; a confirmation from the future is none."""

_HELD_OFF = {Kind.FUEL_INHIBIT: "fuel", Kind.SPARK_INHIBIT: "spark"}
_OVER = (Phase.ENDED, Phase.REFUSED, Phase.NOT_CONFIRMED)

ARMED = "Hold at the lower left. Do NOT crank yet."

MAY_START = Line("The engine may start if the link breaks.", "Stay clear of the jet.", "triangle")

_COULD = Line("If you crank again the engine could start.", "", "triangle")


class LatchedWords(msgspec.Struct, frozen=True):
    """The page of an inhibit that holds without a finger.

    Attributes:
        title, say: two large lines: what is, and what to do.
        lines: rows below.
        key: on the key that gives it back; empty where that was asked for.
        look: GOOD = it holds, WATCH = it is being given back, ALARM = it is not known to hold.
    """

    title: str
    say: str
    lines: tuple[Line, ...]
    key: str
    look: Look


def is_inhibit(info: OutputInfo) -> bool:
    """Whether an output holds fuel or spark off, so that these words are its own."""
    return Kind(info.kind) in _HELD_OFF


def held_off(info: OutputInfo | None) -> str:
    """What it holds off; both where its kind is not known, as after a restart without the craft's data."""
    return "fuel or spark" if info is None else _HELD_OFF[Kind(info.kind)]


def ready_lines(info: OutputInfo, needs: Sequence[NeedState]) -> list[Line]:
    """What stands beside the arming key; the other cautions stood beside a promise not a minute ago."""
    return [
        cautions(info)[0],
        *promise_lines(needs),
        Line("Arm it, then hold at the lower left.", "Do NOT crank before the page says so."),
    ]


def asking(info: OutputInfo, state: OutputState | None) -> tuple[str, str]:
    """Two lines while a finger holds, before the controller has confirmed that it holds."""
    what = held_off(info).capitalize()
    if state is not None and state.phase is Phase.RELEASING:
        return "Do NOT crank", f"{what} was not held off: it is being given back."
    return "Do NOT crank yet", f"{what}: asking the controller to hold it off. Keep holding."


def latched_words(info: OutputInfo | None, latch: Latch, speed: float | None, now: float) -> LatchedWords:
    """Say it.

    Args:
        info: of the inhibit.
        latch: what the bus side said of it.
        speed: of the engine in rev/min, None if it is not known now.
        now: seconds on CLOCK_MONOTONIC.
    """
    what, state = held_off(info), latch.state
    doubt = _doubt(latch, now)
    cause = state.ending or latch.cause
    stands = "is known to stand still" if speed is None else "stands still"
    when = f"{STOPPED_FOR_S:g} s after the engine {stands}"
    back = Line(f"{what.capitalize()} is given back {when}.", "" if cause in doubt else cause)
    key = "" if cause or state.phase is Phase.RELEASING else f"Give {what} back"
    if doubt:
        rows = (Line("The engine may start: stay clear of the jet.", "", "triangle"), Line(doubt))
        return LatchedWords(
            f"{what.capitalize()} NOT known to be off",
            "Release the start switch. Lanyard out.",
            (*rows, back) if cause else rows,
            key,
            Look.ALARM,
        )
    if state.phase is Phase.RELEASING:
        rows = (Line(f"The controller is asked to let {what} come again."), _COULD)
        return LatchedWords(f"Giving {what} back", "Do NOT crank.", rows, "", Look.WATCH)
    if cause:
        title = "Do NOT crank" if speed == 0 else "Stop cranking"
        return LatchedWords(title, _turns(speed), (_COULD, back), key, Look.WATCH)
    return LatchedWords(
        f"{what.capitalize()} is held off",
        "Crank now with the craft's own switch.",
        (MAY_START, Line(f"Confirmed {_age(state, now)} s ago.", _left(info, state, now))),
        key,
        Look.GOOD,
    )


def result_title(info: OutputInfo, state: OutputState | None) -> str:
    """How it went."""
    what = held_off(info).capitalize()
    if state is None or state.phase not in _OVER:
        return f"{what} NOT known to be off"
    if state.phase is Phase.NOT_CONFIRMED:
        return f"{what} is NOT CONFIRMED given back"
    if not state.confirmed_at:
        return f"{what} was NOT held off"
    return f"{what} is given back"


def result_lines(info: OutputInfo, state: OutputState | None, trouble: str) -> list[Line]:
    """Why it ended, what the controller said, what to do next."""
    what = held_off(info)
    if state is None or state.phase not in _OVER:
        return [
            Line("Release the start switch. Lanyard out.", "The engine may start.", "triangle"),
            Line(trouble or "Nothing is heard of it."),
            Line("The controller ends it by itself within seconds.", "Stay clear of the jet until then."),
        ]
    lines = [Line(state.cause)] if state.cause else []
    if state.phase is Phase.NOT_CONFIRMED:
        return [*lines, *unconfirmed_lines(info)]
    if state.phase is Phase.REFUSED:
        lines += [line for line in need_lines(state.needs) if line.strong.rstrip(".") not in state.cause]
    if not state.fired:
        return [*lines, Line("Do NOT crank.", "Nothing was held off.", "triangle")]
    after = Line("The engine can start from now on.", "Lanyard out before you reach in.", "triangle")
    if not state.confirmed_at:
        after = Line("Do NOT crank.", f"With {what} the engine would start.", "triangle")
    lines.append(Line(f"The controller confirmed that {what} is given back.", "", "tick"))
    if Kind(info.kind) in LETS_FUEL_IN:
        vent = "Vent 4 min, sniff again; nothing else is fired until then."
        lines.append(Line("Cranking sprayed fuel that nothing burnt.", vent, "triangle"))
    return [*lines, after]


def unconfirmed_lines(info: OutputInfo) -> list[Line]:
    """The page that nobody may overlook."""
    what = held_off(info)
    return [
        Line(f"{what.capitalize()} may still be held off, or come back.", "Do NOT crank.", "square"),
        Line("1. Pull the lanyard."),
        Line("2. Battery switch off, or the negative clamp off."),
        Line("3. Stay clear of the jet.", "Then power on and read the faults: that unlocks outputs."),
    ]


def _doubt(latch: Latch, now: float) -> str:
    """Why it is not known to hold at this moment; empty while it is."""
    state = latch.state
    if not latch.heard:
        return "The part that talks to the craft is not heard."
    if state.phase is Phase.RELEASING:
        return ""
    if state.doubt:
        return state.doubt
    age = now - state.confirmed_at
    if -_AHEAD_S <= age <= CONFIRMED_S:
        return ""
    return f"The controller last confirmed it {age:.0f} s ago." if age > 0 else "It was never confirmed."


def _age(state: OutputState, now: float) -> str:
    return f"{max(0.0, now - state.confirmed_at):.1f}"


def _left(info: OutputInfo | None, state: OutputState, now: float) -> str:
    left = 0.0 if info is None else info.longest_s - (now - state.since)
    return f"Ends by itself in {left:.0f} s." if left > 0 else ""


def _turns(speed: float | None) -> str:
    if speed is None:
        return "Engine speed is not known."
    return f"Engine turns at {speed:.0f} rev/min." if speed else "The engine stands still."
