"""What the two processes say to each other about firing one output.

The screen says only which output is pressed, that the finger is still there, and what a person confirmed;
every time is CLOCK_MONOTONIC of the touch sample. Nothing here claims anything about the engine.
"""

from __future__ import annotations

import enum

import msgspec


class Phase(enum.StrEnum):
    """Where a press stands."""

    REFUSED = "refused"
    STARTING = "starting"
    """It is being charged in the journal, or the controller is being asked for the session."""
    LIVE = "live"
    LATCHED = "latched"
    """An inhibit that was read back as held: it stays without the finger until it is ended at rest."""
    RELEASING = "releasing"
    """The release went out; not confirmed yet."""
    ENDED = "ended"
    """Nothing was sent that could move (``fired`` is False), or the controller confirmed the release."""
    NOT_CONFIRMED = "not_confirmed"
    """The release was not confirmed: pull the lanyard, battery switch off. Everything is locked."""


class OutputInfo(msgspec.Struct, frozen=True):
    """One output of the craft.

    Attributes:
        key: family's key (injector_1).
        label: words for the glass.
        kind: see app.interlock.Kind.
        longest_s: longest live time in one press.
        pulses: count in one press, 0 if not pulsed.
        width_ms: of a pulse.
        fuel_cm3: fuel one press puts into the cylinder.
        released: this version fires it.
        after: what moves after release, empty if nothing does.
        latched: it holds fuel or spark off while a person cranks, see app.interlock.Rule.
    """

    key: str
    label: str
    kind: str
    longest_s: float
    pulses: int
    width_ms: float
    fuel_cm3: float
    released: bool
    after: str = ""
    latched: bool = False


class NeedState(msgspec.Struct, frozen=True):
    """One line of a refusal, in the order to mend."""

    need: str
    holds: bool | None
    seen: str
    do: str


class OutputState(msgspec.Struct, frozen=True):
    """The output that is considered, pressed or was pressed last.

    Attributes:
        output: key.
        press: number of the press; 0 while only considered.
        phase: None while only considered.
        since: when the phase began.
        needs: every need of this output with what was seen, missing ones first in the order to mend.
        progress: 0 to 1 of the press.
        pulses: done so far by the clock, counted from the controller's own yes to the start.
        cause: why it was refused or ended, in words.
        ready: nothing is missing.
        fired: a start was sent in this press.
        confirmed_at: of an inhibit, when the controller last said that it holds; 0 before.
        doubt: of an inhibit, why it is not known to hold now, in words; empty while it is.
        ending: of an inhibit, why it is given back as soon as the engine has stood still, in words.
    """

    output: str
    press: int
    phase: Phase | None
    since: float
    needs: list[NeedState]
    progress: float = 0.0
    pulses: int = 0
    cause: str = ""
    ready: bool = False
    fired: bool = False
    confirmed_at: float = 0.0
    doubt: str = ""
    ending: str = ""


class Consider(msgspec.Struct, frozen=True, tag="consider"):
    """Show the needs of this output; None = of none. Another one than the live one stops that."""

    output: str | None


class Press(msgspec.Struct, frozen=True, tag="press"):
    """A finger holds the hold target of an armed output.

    Attributes:
        press: a number never used before, not even before a restart of the screen: milliseconds of
            CLOCK_MONOTONIC do.
        at: the touch sample; the finger must have been away for LIFTED_S before it.
    """

    output: str
    press: int
    at: float


class Beat(msgspec.Struct, frozen=True, tag="beat"):
    """The same finger is still there."""

    press: int
    at: float


class Lift(msgspec.Struct, frozen=True, tag="lift"):
    """It is not: lifted, drifted off, second touch, screen changed, STOP TEST …, in words."""

    press: int
    cause: str


class Watch(msgspec.Struct, frozen=True, tag="watch"):
    """The glass still shows this latched inhibit, and somebody could end it there."""

    press: int
    at: float


class EndInhibit(msgspec.Struct, frozen=True, tag="end_inhibit"):
    """Give a latched inhibit back, as soon as engine speed has been zero for STOPPED_FOR_S."""

    press: int
    cause: str


class Confirm(msgspec.Struct, frozen=True, tag="confirm"):
    """A person said something by touch.

    Attributes:
        what: "no_smell", "no_leak", "hands_clear", "aft_clear", "jet_clear", "spark_safe" or
            "purged_by_cranking"; or "leak_seen", which always counts, stops whatever is live and begins the
            venting.
    """

    what: str
    at: float


class SignIn(msgspec.Struct, frozen=True, tag="sign_in"):
    """Who works now; somebody else than before stops whatever is live."""

    operator: str
    role: str


class ReadFaults(msgspec.Struct, frozen=True, tag="read_faults"):
    """Read identity and faults of every module."""


class ClearFaults(msgspec.Struct, frozen=True, tag="clear_faults"):
    """Save, clear, read again. Carries the number of the report the person saw and confirmed."""

    report: int
    at: float


class AskReport(msgspec.Struct, frozen=True, tag="ask_report"):
    """The screen does not hold the report a snapshot speaks of."""
