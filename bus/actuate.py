"""Firing an output, inside the gate: facts, interlock, charge, run, release.

Called by the gate's thread only, with everything it needs already in memory; it waits for nothing. What must
be on the disk before a frame leaves is asked of the journal's own thread and looked for at every step.
"""

from __future__ import annotations

import gc
from typing import TYPE_CHECKING

from app.interlock import LETS_FUEL_IN, LIFTED_S, RULES, Fact, Interlock, Need, Permit, PermitDenied
from app.output_messages import (
    Beat,
    Confirm,
    Consider,
    EndInhibit,
    Lift,
    NeedState,
    OutputState,
    Phase,
    Press,
    SignIn,
    Watch,
)
from bus.charging import Charging
from bus.confirmations import take_word
from bus.inhibit_run import InhibitRun, run_of
from bus.output_facts import free_fact, past_facts, released_fact, role_fact, settled_fact
from bus.output_past import OutputPast, Owed, late_start
from bus.output_run import Step
from bus.output_state import Shown, needs_of
from bus.outputs import single_frame, unwrap_single
from bus.owed import next_owed

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from bus.facts import FactTable
    from bus.frame import Frame
    from bus.journal import Journal
    from bus.output_run import OutputRun
    from bus.outputs import OutputPlan

LATE_S = 0.1
"""A loop slower than this has missed what matters: end the output, count only what is heard afterwards."""

OutputRequest = Consider | Press | Beat | Lift | Watch | EndInhibit | Confirm | SignIn


class Actuation:
    """Everything about outputs that the gate does.

    Attributes:
        locked: why nothing may be fired on this craft until it is read afresh, in words; empty if nothing.
        sending: the gate can send: the craft is heard at a rate that fits and the adapter takes part.
        reading: the gate has an exchange of another kind under way.
    """

    def __init__(
        self,
        facts: FactTable,
        plans: Mapping[str, OutputPlan],
        journal: Journal,
        clock: Callable[[], float],
    ) -> None:
        self._table = facts
        self._plans = plans
        self._answering = frozenset(plan.response for plan in plans.values())
        self._clock = clock
        self._interlock = Interlock(self._facts, clock)
        self._past = OutputPast(journal, clock)
        self._role = ""
        self._operator = ""
        self._charging: Charging | None = None
        self._run: OutputRun | None = None
        self._craft = ""
        self._owed: Owed | None = None
        self._other_tester = False
        self._ended: dict[str, float] = {}
        self._presses: set[int] = set()
        self._finger_at = float("-inf")
        self._last_craft: str | None = None
        self._answers: list[bytes] = []
        self._stepped: float | None = None
        self._shown = Shown(self._needs)
        self.sending = True
        self.reading = False
        self.locked = self._past.locked(None)

    @property
    def state(self) -> OutputState | None:
        """What the glass shows; replaced as a whole."""
        return self._shown.state

    @property
    def busy(self) -> bool:
        """An output is live, about to be, or its release is not confirmed yet."""
        return self._run is not None or self._charging is not None

    def feed(self, frames: list[Frame]) -> None:
        """Frames just received, before anybody else sees them."""
        run = self._run
        self._table.fuel_is_ours = run is not None and run.plan.data.kind in LETS_FUEL_IN
        for frame in frames:
            self._table.feed(frame)
            mine = run is not None and frame.ident == run.plan.response
            answer = unwrap_single(frame.data) if mine or frame.ident in self._answering else None
            if answer is None:
                continue
            if mine:
                self._answers.append(answer)
            self._hear_late(frame.ident, answer)

    def _hear_late(self, ident: int, answer: bytes) -> None:
        """A start that was carried out when nobody waited for it any more is released, and locks."""
        run = self._run
        plan = late_start(self._plans.values(), ident, answer)
        own = None if run is None or not run.fired else late_start([run.plan], ident, answer)
        if plan is not None and own is None:  # a run looks after its own
            self._past.tell_late(self._table.serial or self._last_craft or "", plan)

    def handle(self, request: OutputRequest) -> None:
        """A request of the screen."""
        now = self._clock()
        match request:
            case Consider(output):
                if output != self._shown.considered:
                    self.stop("Another page was opened.")
                self._shown.considered = output
            case SignIn(operator, role):
                if (operator, role) != (self._operator, self._role):
                    self.stop("Somebody else signed in.")
                self._operator, self._role = operator, role
            case Confirm():
                self.stop(take_word(request, self._table, self._past, (self._operator, self._role), now))
            case _:
                self._hear_hand(request, now)

    def _hear_hand(self, request: Press | Beat | Lift | Watch | EndInhibit, now: float) -> None:
        """What a hand does on the glass about one press."""
        match request:
            case Press():
                self._press(request, now)
            case Beat(press, at):
                self._beat(press, at, now)
            case Lift(press, cause):
                self._finger_at = max(self._finger_at, now)
                if self._permit(press) is not None:
                    self.stop(cause)
            case Watch(press, at):
                if isinstance(self._run, InhibitRun) and self._run.press == press:
                    self._run.watched(at, now)
            case EndInhibit(press, cause):
                if self._permit(press) is not None or (self._run is not None and self._run.press == press):
                    self.stop(cause or "It was ended.")

    def stop(self, cause: str) -> None:
        """End whatever is live, for a cause in words (none ends nothing); the first cause stays."""
        if not cause:
            return
        if self._charging is not None:
            self._charging.stop(cause)
        if self._run is not None:
            self._run.stop(cause, self._clock())

    def step(self) -> list[tuple[int, bytes]]:
        """Move on; returns frames to send now, in order."""
        now = self._clock()
        late = self._stepped is not None and now - self._stepped > LATE_S
        self._stepped = now
        if late:
            self._table.forget()
            self._interlock.revoke()
            if self._run is None or not self._run.held:
                self.stop("The tool was too slow for a moment.")
        self._past.catch_up()
        for craft, what in self._past.run_out(now):
            self._past.tell("vented", craft=craft, what=what)
        self._last_craft = self._table.serial or self._last_craft
        self._other_tester |= self.busy and self._table.another_tester(now)
        if self._charging is not None:
            self._begin_if_charged(self._charging, now)
        elif self._run is None and self.sending:
            self._release_owed(now)
        frames: list[tuple[int, bytes]] = []
        if self._run is not None:
            run = self._run
            answers, self._answers = self._answers, []
            frames = [_framed(run.plan, pdu) for pdu in run.step(now, answers)]
            self._past.follow(self._craft, run)
            if run.held:
                gc.enable()  # it may stay for minutes, and nothing of it is urgent
            if run.step_now is Step.DONE:
                self._finish(run, now)
        if frames or self._shown.due(now):
            self._say(now)
        return frames

    def allowed(self, ident: int, data: bytes) -> bool:
        """Whether a frame belongs to the press that is live; the gate asks just before it lets one out."""
        run = self._run
        if run is None or ident != run.plan.request:
            return False
        pdu = unwrap_single(data)
        return pdu is not None and (ident, data) == _framed(run.plan, pdu) and run.may_send(pdu)

    def last_words(self) -> list[tuple[int, bytes]]:
        """The release of what may be live, for a wire that is about to go."""
        run = self._run
        if run is None or not run.fired or run.confirmed or not run.may_send(run.plan.release):
            return []
        return [_framed(run.plan, run.plan.release)]

    def wire_lost(self, cause: str) -> None:
        """Nothing can be sent or heard any more: what is not confirmed is not, and is owed."""
        now = self._clock()
        self.stop(cause)
        if self._charging is not None:
            self._begin_if_charged(self._charging, now)
        if self._run is not None:
            self._run.give_up(now)
            self._finish(self._run, now)
            self._past.all_due()
        self._say(now)

    def unlock(self) -> None:
        """The controller was read afresh and answers; what was not confirmed is settled."""
        craft = self._table.serial
        if craft is None or self.busy or not self._past.locked(craft) or self._past.due(craft):
            return
        self._past.tell("settled", craft=craft)
        self._shown.settled()
        self._say(self._clock())

    def facts(self) -> Mapping[Need, Fact]:
        """Facts that do not depend on which output asks."""
        craft = self._table.serial
        occupied = "An output is live" if self.busy else ""
        if self._past.due(craft):
            occupied = "An output that may be live is to be released first"
        facts = dict(self._table.facts(self._clock()))
        facts[Need.ROLE] = role_fact(self._operator, self._role)
        facts[Need.OUTPUTS_FREE] = free_fact("", 0.0, occupied)
        facts[Need.SETTLED] = settled_fact(self._past.locked(craft))
        return facts

    def _facts(self, output: str) -> Mapping[Need, Fact]:
        plan = self._plans.get(output)
        if plan is None:
            return {}
        now, craft = self._clock(), self._table.serial
        live = self._run.plan if self._run is not None else self._charging.plan if self._charging else None
        mine = live is plan and self._owed is None
        occupied = "Another output is live" if live is not None and not mine else ""
        if self.reading:
            occupied = "The controller is being asked something else"
        rest = 0.0 if mine else self._ended.get(output, float("-inf")) + RULES[plan.data.kind].rest_s - now
        facts = dict(self._table.facts(now))
        facts[Need.RELEASED] = released_fact(plan)
        facts[Need.ROLE] = role_fact(self._operator, self._role)
        facts[Need.OUTPUTS_FREE] = free_fact(self._past.locked(craft), rest, occupied)
        cranked = self._table.cranked_ago(now)
        facts.update(past_facts(self._past, craft, plan, now, charged=mine, cranked_ago=cranked))
        if mine and craft != self._craft:
            facts[Need.CONTROLLER_KNOWN] = Fact(False, "Another controller answers now", "Read its serial")
        if not self.sending:
            facts[Need.BUS_ALIVE] = Fact(False, "The adapter only listens", "Wait until the craft is heard")
        return facts

    def _beat(self, press: int, at: float, now: float) -> None:
        self._finger_at = max(self._finger_at, min(at, now))
        permit = self._permit(press)
        if permit is not None:
            self._interlock.renew(permit, at)

    def _permit(self, press: int) -> Permit | None:
        """The permit of the press under way if it is this one."""
        if self._charging is not None and self._charging.press.press == press:
            return self._charging.permit
        return self._run.permit if self._run is not None and self._run.press == press else None

    def _press(self, request: Press, now: float) -> None:
        plan = self._plans.get(request.output)
        if plan is None or request.press in self._presses:
            return
        self._presses.add(request.press)
        lifted = request.at >= self._finger_at + LIFTED_S
        self._finger_at = max(self._finger_at, min(request.at, now))  # one that is refused is a finger too
        if self.busy:
            self.stop("A second press came.")
            cause = "Another output is live."
            self._past.tell_refused(request, self._operator, self._table.serial, (Need.OUTPUTS_FREE,), cause)
            return
        self._shown.considered = request.output
        try:
            permit = self._interlock.grant(request.output, plan.data.kind, request.press, request.at)
        except PermitDenied as denied:
            self._refuse(request, str(denied), now, denied.needs)
            return
        if not lifted:
            self._interlock.revoke()
            self._refuse(request, f"Lift the finger for {LIFTED_S} s, then arm again.", now, ())
            return
        self._craft = self._table.serial or ""
        ticket = self._past.tell_start(self._craft, request.press, plan, self._operator)
        self._charging = Charging(request, plan, permit, ticket, now)
        if plan.data.kind in LETS_FUEL_IN:
            self._table.spend_crank(now)
        self._say(now)

    def _begin_if_charged(self, charging: Charging, now: float) -> None:
        """The charge is on the disk: ask the interlock once more, then begin."""
        refusal, needs = charging.refusal(now), tuple[Need, ...]()
        if not refusal:
            try:
                self._interlock.check(charging.permit)
            except PermitDenied as denied:
                refusal, needs = str(denied), denied.needs
        if not refusal and not charging.ticket.synced:
            return
        self._charging = None
        press = charging.press
        if refusal:
            self._interlock.revoke()
            self._past.tell_unfired(self._craft, press.output, press.press, refusal)
            self._refuse(press, refusal, now, needs)
        else:
            self._begin(self._run_of(charging.plan, press.press, charging.permit, now))

    def _run_of(self, plan: OutputPlan, press: int, permit: Permit | None, now: float) -> OutputRun:
        return run_of(plan, press, permit, self._interlock, now, craft=self._table, clock=self._clock)

    def _begin(self, run: OutputRun) -> None:
        self._answers.clear()
        self._other_tester = False
        self._run = run
        gc.disable()  # a full collection stops the gate for longer than a finger's beat

    def _release_owed(self, now: float) -> None:
        """Something was never confirmed stopped: release it before anything else."""
        table = self._table
        nameless_s = table.nameless_s(now)
        owed = next_owed(self._past.owed(), table.serial, nameless_s, at_rest=lambda: table.at_rest(now))
        if owed is not None and owed.plan is not None:
            self._owed, self._craft = owed, owed.craft
            run = self._run_of(owed.plan, owed.press, None, now)
            self._begin(run.releasing(f"{owed.words}.", now))

    def _refuse(self, press: Press, cause: str, now: float, needs: tuple[Need, ...]) -> None:
        self._past.tell_refused(press, self._operator, self._table.serial, needs, cause)
        self._shown.refused(press, now, cause)
        self._say(now)

    def _finish(self, run: OutputRun, now: float) -> None:
        gc.enable()
        self._run = None
        self._interlock.revoke()
        data = run.plan.data
        self._ended[data.key] = now
        if self._owed is None or not self._owed.blind:
            self._past.tell_end(self._craft, run)
        if run.fired and data.kind in LETS_FUEL_IN:
            self._table.doubt("no_smell")
            self._table.spend_crank(now)  # what was cranked meanwhile blew nothing out
        words = self._owed.words if self._owed is not None else ""
        if run.phase is Phase.NOT_CONFIRMED:
            words = f"{data.label} was not confirmed stopped"
        elif self._other_tester and run.fired:
            words = f"Another tester spoke while {data.label} was live"
        if words:
            self._past.tell("locked", craft=self._craft, words=words)
        self._owed = None
        if run.gone:
            self._past.all_due()
        self._shown.ended(run, now)
        self._say(now)

    def _needs(self, output: str) -> list[NeedState]:
        plan = self._plans.get(output)
        return [] if plan is None else needs_of(plan, self._facts(output))

    def _say(self, now: float) -> None:
        self.locked = self._past.locked(self._table.serial or self._last_craft)
        starting = None if self._charging is None else (self._charging.press, self._charging.since)
        self._shown.say(self._run, starting, now, self.locked)


def _framed(plan: OutputPlan, pdu: bytes) -> tuple[int, bytes]:
    return plan.request, single_frame(pdu, plan.padding)
