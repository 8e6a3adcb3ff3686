"""What is said on the glass about firing one output: cautions, needs, progress, result."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from app.interlock import CONFIRM_PURGE, LETS_FUEL_IN, RULES, Kind, Need
from app.output_messages import Phase

if TYPE_CHECKING:
    from collections.abc import Sequence

    from app.output_messages import NeedState, OutputInfo, OutputState


class Line(msgspec.Struct, frozen=True):
    """One row of a page.

    Attributes:
        strong: bold words, first.
        plain: the rest.
        shape: "cross" = a need not met, "tick" = one that is or a step that is done, "triangle" = a caution,
            "now" = the step to be done now: the row is a black block; "" = none.
    """

    strong: str
    plain: str = ""
    shape: str = ""


BY_CRANKING = frozenset({Need.FUEL_ROOM, Need.PURGED})
_CRANKED = ("purged_by_cranking", "Plugs out,\ncoils off")

PROMISED = {
    Need.FUEL_ROOM: _CRANKED,
    Need.PURGED: _CRANKED,
    Need.NO_SMELL: ("no_smell", "Hatch open,\nno smell"),
    Need.NO_LEAK: ("no_leak", "Looked:\nno leak"),
    Need.HANDS_CLEAR: ("hands_clear", "Hands\nare clear"),
    Need.AFT_CLEAR: ("aft_clear", "Nobody\naft"),
    Need.JET_CLEAR: ("jet_clear", "Jet area\nclear"),
    Need.SPARK_SAFE: ("spark_safe", "Plugs in\na tester"),
}
"""What a person may confirm by touch: the word for the bus side, and the key."""

_OVER = (Phase.ENDED, Phase.REFUSED, Phase.NOT_CONFIRMED)
_PULSED = frozenset({Kind.INJECTOR, Kind.COIL})

_CAUTIONS: dict[Kind, Line] = {
    Kind.INJECTOR: Line("Fuel goes in.", "No flame, no spark, extinguisher near.", "triangle"),
    Kind.COIL: Line("Up to 40 kV.", "Dry hands, clamped tester, no pacemaker near.", "triangle"),
    Kind.FUEL_PUMP: Line("Fuel under pressure.", "Look for leaks; rag, eye protection.", "triangle"),
    Kind.FAN: Line("The fan turns at once.", "Fingers and hair out of it.", "triangle"),
    Kind.HORN: Line("The horn is loud.", "Warn who stands near, cover your ears.", "triangle"),
    Kind.BILGE_PUMP: Line("The pump turns at once.", "Fingers out of it.", "triangle"),
    Kind.THROTTLE_PLATE: Line("The plate moves at once.", "Fingers out of the throttle body.", "triangle"),
    Kind.LAMP: Line("The lamp lights at once.", "Do not look into it.", "triangle"),
    Kind.GAUGES: Line("The gauges show a sweep.", "Believe none of them until it has ended.", "triangle"),
    Kind.REVERSE_GATE: Line("The gate crushes fingers.", "Stand clear of nozzle and gate.", "triangle"),
    Kind.TRIM: Line("The nozzle moves at once.", "Fingers out of nozzle and linkage.", "triangle"),
    Kind.FUEL_INHIBIT: Line(
        "The jet pump turns.", "Hands off; crank briefly, flushing water off.", "triangle"
    ),
    Kind.SPARK_INHIBIT: Line(
        "Fuel is sprayed, not burnt.", "Hands off; crank briefly, vent 4 min after.", "triangle"
    ),
}
"""Common practice; the vapour and spark rules are those of the interlock."""

_VAPOUR = Line("Any switch can light vapour.", "This handheld too.", "triangle")
_MANUAL = Line("Emergency stop: the lanyard.", "The maker's manual first, and local rules.", "triangle")
_MAY_START = Line("The engine may start if the link breaks.", "Jet area clear, nobody aft.", "triangle")


def cautions(info: OutputInfo) -> list[Line]:
    """What must be read before this output is armed, the worst first."""
    own = _CAUTIONS[Kind(info.kind)]
    lines = [own, _VAPOUR, _MANUAL]
    if info.after:
        lines.insert(1, Line("After it ends:", info.after, "triangle"))
    if RULES[Kind(info.kind)].latched:
        lines.insert(0, _MAY_START)
    return lines


def cautions_with(info: OutputInfo, need: Need) -> list[Line]:
    """Those that stand with one promise alone: of the nose what is said of vapour, else what is its own."""
    lines = cautions(info)
    return lines[-2:] if need is Need.NO_SMELL else [*lines[:-2], lines[-1]]


def ready_lines(info: OutputInfo, needs: Sequence[NeedState]) -> list[Line]:
    """What stands beside the arming key."""
    return [
        _CAUTIONS[Kind(info.kind)],
        *promise_lines(needs),
        Line("Arm it, then hold at the lower left.", "It ends when the finger lifts."),
    ]


def is_promise(need: NeedState) -> bool:
    """Whether a touch can mend it: everything about it was said on the page that asks.

    Test fuel is mended by a touch only once a crank was heard that may have blown it out.
    """
    if need.need in BY_CRANKING:
        return need.do == CONFIRM_PURGE
    return need.need in set(PROMISED)


def need_lines(needs: Sequence[NeedState]) -> list[Line]:
    """Every missing need, in the order to mend them."""
    missing = [need for need in needs if need.holds is not True]
    return [Line(f"{need.seen}.", f"{need.do}." if need.do else "", "cross") for need in missing]


def instead_lines(state: OutputState | None, other: str | None, *, heard: bool) -> list[Line]:
    """While the bus side does not speak of the chosen output.

    Args:
        state: what it speaks of, None if of nothing.
        other: that output's label, None if it is not known.
        heard: the craft is heard.
    """
    if not heard:
        return [Line("The craft is not heard.", "Push the plug home, turn the key on.", "cross")]
    if state is None or other is None or state.phase is None:
        return [Line("One moment.", "The needs of this output are being asked for.")]
    if state.phase is Phase.NOT_CONFIRMED:
        return [
            Line(f"{other} was not confirmed stopped.", "Lanyard out, battery off.", "cross"),
            Line("Every output is locked.", "Power on, read the faults: that unlocks them.", "cross"),
        ]
    return [Line(f"{other} is under way.", "Wait until it has ended.", "cross")]


def labels(outputs: Sequence[OutputInfo]) -> dict[str, str]:
    """Words for the glass by key."""
    return {info.key: info.label for info in outputs}


def promise_lines(needs: Sequence[NeedState]) -> list[Line]:
    """What a person confirms by touch, with what has been confirmed."""
    return [
        Line(f"{need.seen}.", "", "tick" if need.holds is True else "cross")
        for need in needs
        if is_promise(need)
    ]


def size_words(info: OutputInfo) -> str:
    """How much of it one press is: "20 pulses of 5 ms, 0.5 cm³" or "10 s at most"."""
    if info.pulses:
        fuel = f", {info.fuel_cm3:.1f} cm³ fuel" if info.fuel_cm3 else ""
        return f"{info.pulses} pulses of {info.width_ms:g} ms{fuel}"
    if RULES[Kind(info.kind)].latched:
        return f"{info.longest_s:g} s at most"
    return f"{info.longest_s:g} s at most, ends when the finger lifts"


def live_title(info: OutputInfo, state: OutputState | None) -> str:
    """What it does at this moment, in one line; never "on" before the controller has said so."""
    phase = None if state is None else state.phase
    if phase is Phase.RELEASING:
        return f"{info.label} is being stopped"
    if phase is not Phase.LIVE or state is None:
        return f"{info.label}: asking the controller"
    if Kind(info.kind) in _PULSED:
        return f"{info.label}: pulse {state.pulses} of {info.pulses}"
    return f"{info.label} is on: {state.progress * info.longest_s:.0f} of {info.longest_s:g} s"


def result_title(info: OutputInfo, state: OutputState | None) -> str:
    """How the press went."""
    if state is None or state.phase not in _OVER:
        return f"{info.label}: the end is not known"
    if state.phase is Phase.REFUSED or not state.fired:
        return f"{info.label} was not fired"
    if state.phase is Phase.NOT_CONFIRMED:
        return f"{info.label} is NOT CONFIRMED STOPPED"
    if state.progress >= 1.0:
        whole = f"{info.pulses} pulses given" if info.pulses else f"on for {info.longest_s:g} s"
        return f"{info.label}: {whole}"
    return f"{info.label} was stopped"


def result_lines(info: OutputInfo, state: OutputState | None, trouble: str) -> list[Line]:
    """Why it ended, what was seen of it, what to do next."""
    if state is None or state.phase not in _OVER:
        return [
            Line(trouble or "Nothing is heard of it."),
            Line("The controller ends it by itself.", "Look and listen before you go near."),
        ]
    lines = [Line(state.cause)] if state.cause else []
    if state.phase is Phase.NOT_CONFIRMED:
        return [*lines, *unconfirmed_lines(info.label)]
    if state.phase is Phase.REFUSED:
        lines += [line for line in need_lines(state.needs) if line.strong.rstrip(".") not in state.cause]
        return [*lines, Line("Nothing was sent to the controller.")]
    if not state.fired:
        return [*lines, Line("The output was not started.")]
    if info.pulses:
        done = f"{state.pulses} of {info.pulses} pulses by the clock."
        lines.append(Line(done, "The count is the controller's own; did each one click?"))
    lines.append(Line("The controller confirmed that it is off.", info.after, "tick"))
    if Kind(info.kind) in LETS_FUEL_IN:
        lines.append(
            Line("Fuel was let in: vent 4 min, sniff again.", "Nothing else is fired until then.", "triangle")
        )
    return lines


def unconfirmed_lines(label: str) -> list[Line]:
    """The page that nobody may overlook."""
    return [
        Line(f"{label} may still be on.", "The controller did not confirm that it stopped.", "square"),
        Line("1. Pull the lanyard."),
        Line("2. Battery switch off, or the negative clamp off."),
        Line("3. Stay clear until it is still.", "Then power on and read the faults: that unlocks outputs."),
    ]
