"""One press of one output, from leave granted to release confirmed.

Pure: time, answers and the finger come in, requests go out; the gate steps it and owns the wire. The
controller's own limits (count, burst) are the net under it, its session timer the last.
"""

from __future__ import annotations

import enum
from typing import TYPE_CHECKING

from app.interlock import Interlock, Permit, PermitDenied
from app.output_messages import Phase

if TYPE_CHECKING:
    from bus.outputs import OutputPlan

OPEN_SESSION = bytes.fromhex("1003")
DEFAULT_SESSION = bytes.fromhex("1001")
NEGATIVE = 0x7F
PENDING = 0x78

ANSWER_S = 0.5
"""For a session or a start to be answered."""

PENDING_S = 5.5
"""After the controller asked for more time (P2* of 5 s and bus delay); the finger must hold all the while."""

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
        permit: leave to fire it.
        cause: why it ended, in words; empty while it runs.
        complete: every pulse was asked for and its time has passed with the finger still there.
        confirmed: the controller confirmed the release.
        fired: a start request was handed out, so something may have moved.
    """

    def __init__(self, plan: OutputPlan, permit: Permit, interlock: Interlock, now: float) -> None:
        self.plan = plan
        self.permit = permit
        self._interlock = interlock
        self.step_now = Step.OPENING
        self.since = now
        self.started = now
        self.cause = ""
        self.complete = False
        self.confirmed = False
        self.fired = False
        self._deadline = now + ANSWER_S
        self._sent_open = False
        self._renew_at = 0.0
        self._release_at = now
        self._live_since: float | None = None
        self._answered = False
        self._default_sent = False

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

    def live_s(self, now: float) -> float:
        """Seconds since the output went live; 0 before."""
        return 0.0 if self._live_since is None else now - self._live_since

    def stop(self, cause: str, now: float) -> None:
        """End it for a reason; the first reason stays. Never refused, needs no permit."""
        if self.step_now in (Step.OPENING, Step.LIVE):
            self.cause = cause
            self._interlock.revoke()
            self._go(Step.RELEASING if self.fired else Step.CLOSING, now)
            self._release_at = now
            self._deadline = now + (RELEASE_FOR_S if self.fired else CLOSE_S)

    def step(self, now: float, answers: list[bytes]) -> list[bytes]:
        """Move on.

        Args:
            now: seconds, the interlock's clock.
            answers: payloads this controller sent since the last step, oldest first.

        Returns:
            Requests to send now, in order.
        """
        for answer in answers:
            self._hear(answer, now)
        if self.step_now in (Step.OPENING, Step.LIVE):
            try:
                self._interlock.check(self.permit)
            except PermitDenied as denied:
                self.stop(_words(denied), now)
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
            return [OPEN_SESSION]
        if now >= self._deadline:
            self.stop("The controller did not answer. Nothing was fired.", now)
            return self._closing(now)
        return []

    def _fire(self, now: float) -> bytes:
        self.fired = True
        self._answered = False
        self._deadline = now + ANSWER_S
        if self._live_since is None:
            self._live_since = now
        self._renew_at = now + self.plan.data.burst_s * RENEW_AT
        return self.plan.start

    def _live(self, now: float) -> list[bytes]:
        if self._live_since is None:
            return [self._fire(now)]
        if not self._answered and now >= self._deadline:
            self.stop("The controller did not answer the start.", now)
        elif self.plan.data.burst_s == 0 and now - self._live_since >= self.plan.longest_s + SETTLE_S:
            self.complete = True
            self.stop("Done: every pulse was given.", now)
        elif self.plan.data.burst_s > 0 and now - self._live_since >= self.plan.longest_s:
            self.complete = True
            self.stop(f"The time limit of {self.plan.longest_s:g} s is reached.", now)
        elif self.plan.data.burst_s > 0 and self._answered and now >= self._renew_at:
            return [self._fire(now)]
        if self.step_now is Step.RELEASING:
            return self._releasing(now)
        return []

    def _releasing(self, now: float) -> list[bytes]:
        if self.confirmed or now >= self._deadline:
            self._go(Step.CLOSING, now)
            self._deadline = now + CLOSE_S
            return self._closing(now)
        if now >= self._release_at:
            self._release_at = now + RELEASE_EVERY_S
            return [self.plan.release]
        return []

    def _closing(self, now: float) -> list[bytes]:
        if not self._default_sent:
            self._default_sent = True
            return [DEFAULT_SESSION]
        if now >= self._deadline:
            self._go(Step.DONE, now)
        return []

    def _hear(self, answer: bytes, now: float) -> None:
        if len(answer) >= 3 and answer[0] == NEGATIVE:
            self._hear_no(answer[1], answer[2], now)
        elif self.step_now is Step.OPENING and answer[:2] == b"\x50\x03":
            self._go(Step.LIVE, now)
        elif answer[:4] == b"\x6f" + self.plan.start[1:4]:
            self._answered = True
        elif answer[:4] == b"\x6f" + self.plan.release[1:4] and self.step_now is not Step.LIVE:
            self.confirmed = self.fired
        elif self.step_now is Step.CLOSING and answer[:2] == b"\x50\x01":
            self._go(Step.DONE, now)

    def _hear_no(self, service: int, code: int, now: float) -> None:
        asked = OPEN_SESSION[0] if self.step_now is Step.OPENING else self.plan.start[0]
        if self.step_now not in (Step.OPENING, Step.LIVE) or service != asked:
            return
        if code == PENDING:
            self._deadline = now + PENDING_S
        else:
            self.stop(f"The controller refused (answer {code:02X}).", now)


def _words(denied: PermitDenied) -> str:
    return "The finger's hold was not seen in time." if denied.dead and not denied.needs else str(denied)
