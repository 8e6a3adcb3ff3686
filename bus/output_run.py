"""One press of one output, from leave granted to release confirmed.

Pure: time, answers and the finger come in, requests go out; the gate steps it and owns the wire. The
controller's own limits (count, burst) are the net under it, its session timer the last.
"""

from __future__ import annotations

import enum
from typing import TYPE_CHECKING, Self

from app.interlock import Interlock, Permit, PermitDenied
from app.nrc import PENDING, refusal_words
from app.output_messages import Phase

if TYPE_CHECKING:
    from bus.outputs import OutputPlan

OPEN_SESSION = bytes.fromhex("1003")
DEFAULT_SESSION = bytes.fromhex("1001")
SESSION_OPEN = bytes.fromhex("5003")
SESSION_DEFAULT = bytes.fromhex("5001")
CONTROLLED = b"\x6f"
NEGATIVE = 0x7F
BUSY = 0x21
"""Never the last word on a request that was answered 78: it is about the one that came after it."""
OUT_OF_SESSION = frozenset({0x7E, 0x7F})
"""subFunctionNotSupportedInActiveSession and serviceNotSupportedInActiveSession. ISO 14229-1,
DiagnosticSessionControl (from memory): on the way to the default session, whether asked for or by the session
timer S3, every control of InputOutputControlByIdentifier taken in another session ends. So a release refused
with one of these and a change to the default session that was asked for and confirmed after that say together
that the output is given back; one of them alone does not."""

ANSWER_S = 0.5
"""For a session or a start to be answered."""

PENDING_S = 5.5
"""Longer than that only if the controller asked for more time (P2* of 5 s and bus delay); it gets it once,
however often it asks, and the finger must hold all the while."""

RELEASE_EVERY_S = 0.05
RELEASE_FOR_S = 1.0
CLOSE_S = 0.5

RENEW_AT = 0.6
"""Share of a burst after which it is renewed, so that a held output does not stutter."""

SETTLE_S = 0.15
"""After the last pulse before its end is called complete."""


class Step(enum.Enum):
    """Where a run stands."""

    OPENING = enum.auto()
    LIVE = enum.auto()
    RELEASING = enum.auto()
    CLOSING = enum.auto()
    DONE = enum.auto()


class OutputRun:
    """The machine of one press.

    Attributes:
        plan: what is fired.
        press: its number.
        permit: leave to fire it; None for a run that only releases.
        cause: why it ended, in words; empty while it runs.
        lapsed: the interlock's answer if that is what ended it.
        complete: every pulse was asked for, the controller said yes and their time has passed with the finger
            still there; or the time limit was reached.
        fired: a start request was handed out, so something may have moved.
        latched: of an inhibit, it was read back as held in this press.
        confirmed_at: of an inhibit, when the controller last said so; 0 before.
        ending: of an inhibit, why it is to be given back at rest, in words; empty while it is not.
        gone: of an inhibit, it was given up because the craft fell silent.
    """

    def __init__(
        self, plan: OutputPlan, press: int, permit: Permit | None, interlock: Interlock, now: float
    ) -> None:
        self.plan = plan
        self.press = press
        self.permit = permit
        self._interlock = interlock
        self.step_now = Step.OPENING
        self.since = now
        self.cause = ""
        self.lapsed: PermitDenied | None = None
        self.complete = False
        self.fired = self._answered = False
        self.latched = False
        self.confirmed_at = 0.0
        self.ending = ""
        self.gone = False
        self._asked_at = now
        self._deadline: float  # of the newest request
        self._sent_open = False
        self._live_since: float | None = None
        self._answered_at: float | None = None
        self._ended_at: float | None = None
        self._renew_at: float  # of the newest start
        self._released_at: float | None = None
        self._release_at: float  # once one was sent: of the next
        self._started_late = False
        self._default_sent = False
        self._released = False
        self._out_of_session = False
        self._pending_until: float | None = None

    @classmethod
    def only_release(
        cls, plan: OutputPlan, press: int, interlock: Interlock, now: float, cause: str
    ) -> OutputRun:
        """A run that releases what an earlier press may have left live."""
        return cls(plan, press, None, interlock, now).releasing(cause, now)

    def releasing(self, cause: str, now: float) -> Self:
        """Itself, before its first step, made to release what an earlier press may have left live."""
        self.fired = self._answered = True
        self.stop(cause, now)
        return self

    @property
    def confirmed(self) -> bool:
        """The controller confirmed a release that had been sent, and no start is known to be pending."""
        return self._released and self._pending_until is None

    @property
    def held(self) -> bool:
        """It stays without a finger until it is given back at rest."""
        return False

    @property
    def doubt(self) -> str:
        """Of an inhibit: why it is not known to hold, in words; empty while it is."""
        return ""

    @property
    def phase(self) -> Phase:
        """For the glass."""
        if self.step_now is Step.OPENING:
            return Phase.STARTING
        if self.step_now is Step.LIVE:
            return Phase.LIVE
        if self.step_now is not Step.DONE:
            return Phase.RELEASING
        return Phase.ENDED if self.confirmed or not self.fired else Phase.NOT_CONFIRMED

    def known_live_s(self, now: float) -> float:
        """Seconds since the controller said yes to the start, until a cause to stop; 0 before."""
        if self._answered_at is None:
            return 0.0
        return (now if self._ended_at is None else self._ended_at) - self._answered_at

    def stop(self, cause: str, now: float) -> None:
        """End it for a reason; the first reason stays. Never refused, needs no permit."""
        if self.step_now not in (Step.OPENING, Step.LIVE):
            return
        self.cause = cause
        self._ended_at = now
        self._interlock.revoke()
        if self.fired:
            self._go(Step.RELEASING, now)
        else:
            self._go(Step.CLOSING if self._sent_open else Step.DONE, now)

    def give_up(self, now: float) -> None:
        """Nothing can be sent any more: what is not confirmed by now is not."""
        self._go(Step.DONE, now)

    def may_send(self, pdu: bytes) -> bool:
        """Whether this request belongs to it at this very moment; a release always does."""
        if pdu in (self.plan.release, DEFAULT_SESSION):
            return True
        wanted = {Step.OPENING: OPEN_SESSION, Step.LIVE: self.plan.start}.get(self.step_now)
        return pdu == wanted and self._allowed()

    def _allowed(self) -> bool:
        """Ask the interlock; its first no is its last word."""
        try:
            if self.permit is not None and self.lapsed is None:
                self._interlock.check(self.permit)
        except PermitDenied as denied:
            self.lapsed = denied
        return self.permit is not None and self.lapsed is None

    def step(self, now: float, answers: list[bytes]) -> list[bytes]:
        """Move on.

        Args:
            now: seconds, the interlock's clock.
            answers: payloads this controller sent since the last step, oldest first.

        Returns:
            Requests to send now, in order.
        """
        over = self.step_now is Step.DONE
        for answer in [] if over else answers:
            self._hear(answer, now)
        if self.step_now in (Step.OPENING, Step.LIVE) and not self._allowed():
            self.stop(str(self.lapsed or "No leave was given."), now)
        match self.step_now:
            case Step.OPENING:
                return self._opening(now)
            case Step.LIVE:
                return self._live(now)
            case Step.RELEASING:
                return self._releasing(now)
            case Step.CLOSING:
                return self._closing(now)
            case Step.DONE:
                return []

    def _go(self, step: Step, now: float) -> None:
        self.step_now = step
        self.since = now

    def _opening(self, now: float) -> list[bytes]:
        if not self._sent_open:
            self._sent_open = True
            self._asked_at = now
            self._deadline = now + ANSWER_S
            return [OPEN_SESSION]
        if now >= self._deadline:
            self.stop("The controller did not answer. Nothing was fired.", now)
            return self._closing(now)
        return []

    def _fire(self, now: float) -> bytes:
        self.fired = True
        self._answered = False
        self._asked_at = now
        self._deadline = now + ANSWER_S
        if self._live_since is None:
            self._live_since = now
        self._renew_at = now + self.plan.data.burst_s * RENEW_AT
        return self.plan.start

    def _live(self, now: float) -> list[bytes]:
        if self._live_since is None:
            return [self._fire(now)]
        longest = self.plan.longest_s
        if not self._answered and now >= self._deadline:
            self.stop("The controller did not answer the start.", now)
        elif now - self._live_since >= longest + (SETTLE_S if self.plan.pulsed else 0.0):
            self._time_is_up(now)
        elif not self.plan.pulsed and self._answered and now >= self._renew_at:
            return [self._fire(now)]
        return self._releasing(now) if self.step_now is Step.RELEASING else []

    def _time_is_up(self, now: float) -> None:
        longest = self.plan.longest_s
        if not self.plan.pulsed:
            self.complete = self._answered_at is not None
            self.stop(f"The time limit of {longest:g} s is reached.", now)
        elif self._answered_at is not None and now - self._answered_at >= longest:
            self.complete = True
            self.stop("Done: every pulse was given.", now)
        else:
            self.stop("The time is up. Not every pulse is known to have been given.", now)

    def _releasing(self, now: float) -> list[bytes]:
        if self._released_at is None:
            self._released_at = self._release_at = now
        elif self._pending_until is not None and now < self._pending_until:
            pass  # the start may still be carried out: the release stays the answer
        elif self.confirmed or self._out_of_session or now - self._released_at >= RELEASE_FOR_S:
            self._go(Step.CLOSING, now)
            return self._closing(now)
        if now >= self._release_at:
            self._release_at = now + RELEASE_EVERY_S
            return [self.plan.release]
        return []

    def _closing(self, now: float) -> list[bytes]:
        if not self._default_sent:
            self._default_sent = True
            self._deadline = now + CLOSE_S
            return [DEFAULT_SESSION]
        if now >= self._deadline:
            self._go(Step.DONE, now)
        return []

    def _hear(self, answer: bytes, now: float) -> None:
        if len(answer) >= 3 and answer[0] == NEGATIVE:
            self._hear_no(answer[1], answer[2], now)
        elif answer[:4] == CONTROLLED + self.plan.start[1:4]:
            self._hear_started(now)
        elif answer[:4] == CONTROLLED + self.plan.release[1:]:
            self._hear_released(now)
        elif answer[:2] == SESSION_OPEN and self.step_now is Step.OPENING and self._sent_open:
            self._go(Step.LIVE, now)
        elif answer[:2] == SESSION_DEFAULT:
            self._hear_default(now)

    def _hear_started(self, now: float) -> None:
        awaited = not self._answered
        self._start_answered()
        if not self.fired:
            self.fired = True
            self.stop("The controller carried out a start of an earlier press.", now)
            self._release_anew(now)
        elif self.step_now is Step.LIVE:
            if self._answered_at is None:
                self._answered_at = now
        elif self._released_at is not None:
            # It was carried out after the release: only what is confirmed from here on counts.
            self._released = self._out_of_session = False
            if not self._started_late:
                self._started_late = not awaited  # one nobody waited for is borne with once
                self._release_anew(now)

    def _start_answered(self) -> None:
        """The newest start has got its final answer."""
        self._answered = True
        self._pending_until = None

    def _release_anew(self, now: float) -> None:
        """Once more, from the beginning."""
        self._released_at = None
        self._default_sent = False
        self._go(Step.RELEASING, now)

    def _hear_released(self, now: float) -> None:
        if self.step_now is Step.LIVE:
            self.stop("The controller gave the output back by itself.", now)
        elif self._released_at is not None:
            self._released = True

    def _hear_default(self, now: float) -> None:
        if self.step_now is Step.LIVE:
            self.stop("The controller left the session.", now)
        elif self._default_sent:
            self._released = self._released or self._out_of_session
            self._go(Step.DONE, now)

    def _hear_no(self, service: int, code: int, now: float) -> None:
        if self.step_now is Step.OPENING and service == OPEN_SESSION[0]:
            if code == PENDING:
                self._deadline = self._asked_at + ANSWER_S + PENDING_S
            else:
                self._refused(code, now)
        elif service == self.plan.start[0]:
            self._hear_no_control(code, now)

    def _hear_no_control(self, code: int, now: float) -> None:
        """A start or a release was refused, or time is asked for; while the session opens it is neither's."""
        if code == PENDING:
            self._hear_pending(now)
        elif self._pending_until is not None and code == BUSY:
            pass  # never the last word
        elif self.step_now is Step.LIVE:
            self._start_answered()
            self._refused(code, now)
        elif self._pending_until is not None:
            self._start_answered()
            if not self._released:
                self._release_anew(now)
        elif code in OUT_OF_SESSION and self._released_at is not None and not self._out_of_session:
            self._out_of_session = True
            self._default_sent = False  # only one that is sent from here on counts

    def _refused(self, code: int, now: float) -> None:
        self.stop(f"The controller refused. {refusal_words(code)}.", now)

    def _hear_pending(self, now: float) -> None:
        """It asks for time: for the start, if that has no final answer yet."""
        if not self.fired or self._answered:
            return
        self._pending_until = self._asked_at + ANSWER_S + PENDING_S
        if self.step_now is Step.LIVE:
            self._deadline = self._pending_until
        elif self.step_now is Step.CLOSING and now < self._pending_until:
            self._release_anew(now)
