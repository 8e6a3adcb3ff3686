"""One inhibit: fuel or spark held off while a person cranks, from leave granted to given back at rest.

Before it was read back it is a press like any other. From then on it stays without the finger, whatever the
engine does: letting go while it turns could start it. It is read back every second, which keeps the
controller's session alive too, and is given back only while the engine is known to stand still.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from app.nrc import PENDING, refusal_words
from app.output_messages import Phase
from bus.output_run import DEFAULT_SESSION, OPEN_SESSION, OutputRun, Step

if TYPE_CHECKING:
    from collections.abc import Callable

    from app.interlock import Interlock, Permit
    from bus.outputs import OutputPlan

READ_EVERY_S = 1.0
"""Of reading back; well inside the session timer S3 of 5 s (ISO 14229-2)."""

HELD_WITHIN_S = 1.0
"""From the controller's yes to the start until it must have said that it holds."""

DOUBT_AFTER_S = 2.0
"""Not read back as held for this long: it is not known to hold."""

WATCHED_WITHIN_S = 3.0
"""The glass not heard of for this long: nobody could end it there."""

SILENT_FOR_S = 10.0
"""The craft not heard for this long: twice the session timer, so nothing holds any more; no more is asked."""

READ = 0x22
HOLDS = b"\x62"
"""ReadDataByIdentifier of ISO 14229-1, and its answer."""

NOT_KNOWN = "NOT known to hold. Release the start switch, lanyard out."


class Craft(Protocol):
    """What is heard of the craft, as far as an inhibit must know it; see bus.facts.FactTable."""

    def at_rest(self, now: float) -> bool:
        """Nobody cranks, and the engine is known to have stood still for long enough."""

    def hears(self, now: float) -> bool:
        """The craft is heard."""

    def another_tester(self, now: float) -> bool:
        """Another tester was heard a moment ago."""


class InhibitRun(OutputRun):
    """The machine of one inhibit; see OutputRun.

    Args:
        craft: what is heard of it.
        clock: seconds, as for ``now``.
    """

    def __init__(
        self,
        plan: OutputPlan,
        press: int,
        permit: Permit | None,
        interlock: Interlock,
        now: float,
        *,
        craft: Craft,
        clock: Callable[[], float],
    ) -> None:
        super().__init__(plan, press, permit, interlock, now)
        self._craft = craft
        self._clock = clock
        self._why_doubted = ""
        self._read_at: float | None = None
        self._awaiting = False
        self._watched_at = now
        self._heard_at = now

    @property
    def phase(self) -> Phase:
        """For the glass; one that is to be given back before it was read back is shown as one in doubt."""
        if self.step_now is not Step.LIVE:
            return super().phase
        return Phase.LATCHED if self.held else Phase.STARTING

    @property
    def held(self) -> bool:
        """No finger and no fact ends it now, only rest."""
        return self.step_now is Step.LIVE and self.fired and (self.latched or bool(self.ending))

    @property
    def doubt(self) -> str:
        """Why it is not known to hold, in words; empty while it is."""
        if not self.held or (self.latched and not self._why_doubted):
            return ""
        return f"{self._why_doubted or 'It was not read back. Do not crank.'} {NOT_KNOWN}"

    def watched(self, at: float, now: float) -> None:
        """The glass showed it at ``at``; a time from the future counts for nothing."""
        if at <= now:
            self._watched_at = max(self._watched_at, at)

    def stop(self, cause: str, now: float) -> None:
        """Give it back for a reason, as soon as the engine stands still; the first reason stays."""
        if self.step_now not in (Step.OPENING, Step.LIVE):
            return
        if not self.fired:
            super().stop(cause, now)
            return
        self.ending = self.ending or cause
        self.permit = None
        self._interlock.revoke()
        if self._craft.at_rest(now):
            super().stop(self.ending, now)
        elif self.step_now is Step.OPENING:
            self._go(Step.LIVE, now)

    def give_up(self, now: float) -> None:
        """Nothing can be sent any more: the controller's session timer must end it."""
        self.cause = self.cause or self.ending
        super().give_up(now)

    def may_send(self, pdu: bytes) -> bool:
        """Whether this request belongs to it at this very moment; a release only at rest."""
        live = self.step_now is Step.LIVE
        if pdu == self.plan.status:
            return live and self.fired
        if pdu == self.plan.release:
            return self._may_let_go(self._clock())
        if pdu == DEFAULT_SESSION:
            return not self.fired or self.confirmed or self._may_let_go(self._clock())
        if pdu == OPEN_SESSION:
            return self.step_now is Step.OPENING and self._allowed()
        return pdu == self.plan.start and live and not self._answered and self._allowed()

    def _may_let_go(self, now: float) -> bool:
        """Never while the engine may turn, nor while it is latched and nothing speaks for its end."""
        wanted = bool(self.ending) or not self.latched
        return wanted and self._craft.at_rest(now)

    def _allowed(self) -> bool:
        return self.held or super()._allowed()

    def _live(self, now: float) -> list[bytes]:
        if not self.fired:
            return [self._fire(now)]
        if not self.latched and not self.ending:
            self._look_after_start(now)
        else:
            self._look_after_hold(now)
        if self.step_now is Step.RELEASING:
            return self._releasing(now)
        return self._reading(now) if self.step_now is Step.LIVE else []

    def _look_after_start(self, now: float) -> None:
        """Asked for and not read back yet."""
        if not self._answered:
            if now >= self._deadline:
                self.stop("The controller did not answer the start.", now)
        elif self._answered_at is not None and now - self._answered_at >= HELD_WITHIN_S:
            self.stop("The controller did not say that it holds.", now)

    def _look_after_hold(self, now: float) -> None:
        """What ends one that is held, and what makes it doubtful."""
        if self._craft.hears(now):
            self._heard_at = now
        if self.latched and now - self.confirmed_at >= DOUBT_AFTER_S and not self._why_doubted:
            self._not_held(f"Not read back for {DOUBT_AFTER_S:.0f} s.", now)
        if self.ending:
            self.gone = now - self._heard_at >= SILENT_FOR_S
            self.give_up(now) if self.gone else self.stop(self.ending, now)
        elif self._craft.another_tester(now):
            self.stop("Another tester talks to a controller.", now)
        elif now - self._watched_at >= WATCHED_WITHIN_S:
            self.stop("The glass does not show it any more.", now)
        elif self._live_since is not None and now - self._live_since >= self.plan.longest_s:
            self.complete = True
            self.stop(f"The time limit of {self.plan.longest_s:g} s is reached.", now)

    def _reading(self, now: float) -> list[bytes]:
        """Read it back at once, and every READ_EVERY_S; not while the start may still be carried out."""
        pending = self._pending_until is not None and now < self._pending_until
        due = self._read_at is None or now - self._read_at >= READ_EVERY_S
        if not due or pending or not (self._answered or self.ending):
            return []
        if not self.latched and not self.ending and self._read_at is not None:
            return []
        self._read_at = now
        self._awaiting = True
        return [self.plan.status]

    def _releasing(self, now: float) -> list[bytes]:
        return super()._releasing(now) if self._may_go_on(now) else self._hold_on(now)

    def _closing(self, now: float) -> list[bytes]:
        return super()._closing(now) if self._may_go_on(now) else self._hold_on(now)

    def _may_go_on(self, now: float) -> bool:
        """The release may be under way; what was confirmed is given back already."""
        return self.step_now is Step.DONE or not self.fired or self.confirmed or self._craft.at_rest(now)

    def _hold_on(self, now: float) -> list[bytes]:
        """Somebody cranks again before the release was confirmed: from the beginning, at rest."""
        self.ending = self.ending or self.cause
        self._why_doubted = "Its release was sent already."
        self._released_at = None
        self._default_sent = self._released = self._out_of_session = False
        self._go(Step.LIVE, now)
        return self._reading(now)

    def _hear(self, answer: bytes, now: float) -> None:
        if self._awaiting and answer[:3] == HOLDS + self.plan.status[1:]:
            self._awaiting = False
            self._hear_status(answer, now)
        else:
            super()._hear(answer, now)

    def _hear_status(self, answer: bytes, now: float) -> None:
        if self.step_now is not Step.LIVE:
            return
        if answer != self.plan.held:
            self._not_held("The controller says that it does not hold.", now)
            return
        if self.ending and not self.latched:
            return
        self.confirmed_at = now
        self._why_doubted = ""
        if not self.latched:
            self.latched = True
            self._watched_at = self._heard_at = now
            self.permit = None
            self._interlock.revoke()

    def _not_held(self, why: str, now: float) -> None:
        self._why_doubted = why
        self.stop(why, now)

    def _hear_released(self, now: float) -> None:
        if self.step_now is Step.LIVE:
            self._not_held("The controller gave it back by itself.", now)
        else:
            super()._hear_released(now)

    def _hear_default(self, now: float) -> None:
        if self.step_now is Step.LIVE:
            self._not_held("The controller left the session.", now)
        else:
            super()._hear_default(now)

    def _hear_no(self, service: int, code: int, now: float) -> None:
        if service != READ:
            super()._hear_no(service, code, now)
        elif self._awaiting and code != PENDING and self.step_now is Step.LIVE:
            self._awaiting = False
            self._not_held(f"The controller does not say whether it holds. {refusal_words(code)}.", now)


def run_of(
    plan: OutputPlan,
    press: int,
    permit: Permit | None,
    interlock: Interlock,
    now: float,
    *,
    craft: Craft,
    clock: Callable[[], float],
) -> OutputRun:
    """The machine that this output needs."""
    if plan.latched:
        return InhibitRun(plan, press, permit, interlock, now, craft=craft, clock=clock)
    return OutputRun(plan, press, permit, interlock, now)
