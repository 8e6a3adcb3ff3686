"""Firing an output, inside the gate: facts, interlock, charge, run, release.

Called by the gate's thread only, with everything it needs already in memory; it waits for nothing. What must
be on the disk before a frame leaves is asked of the journal's own thread and looked for at every step.
"""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Any

from app.interlock import (
    FUEL_PER_CYLINDER_CM3,
    FUEL_PER_VISIT_CM3,
    RULES,
    Fact,
    Interlock,
    Need,
    Permit,
    PermitDenied,
)
from app.output_messages import Beat, Confirm, Consider, Lift, NeedState, OutputState, Phase, Press, SignIn
from bus.fuel import FuelBook
from bus.output_run import OutputRun, Step
from bus.outputs import single_frame, unwrap_single

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from bus.facts import FactTable
    from bus.frame import Frame
    from bus.journal import Journal, Ticket
    from bus.outputs import OutputPlan

LATE_S = 0.1
"""A loop slower than this has missed what matters: end the output, count only what is heard afterwards."""

SAY_EVERY_S = 0.05
ROLES_THAT_ACTUATE = frozenset({"technician"})
OutputRequest = Consider | Press | Beat | Lift | Confirm | SignIn


@dataclasses.dataclass
class _Charging:
    """A press whose charge is on its way to the disk."""

    press: Press
    plan: OutputPlan
    beat: float
    ticket: Ticket
    stopped: str = ""


class Actuation:
    """Everything about outputs that the gate does.

    Attributes:
        state: what the glass shows; replaced as a whole.
        locked: an output may still be live although we asked it to stop, in words; ended by a fresh reading.
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
        self._journal = journal
        self._clock = clock
        self._interlock = Interlock(self._facts, clock)
        self._fuel = FuelBook(journal.entries)
        self._role = ""
        self._operator = ""
        self._considered: str | None = None
        self._charging: _Charging | None = None
        self._run: OutputRun | None = None
        self._ended: dict[str, float] = {}
        self._seen_presses: set[int] = set()
        self._answers: list[bytes] = []
        self._stepped: float | None = None
        self._said = float("-inf")
        self._last: OutputState | None = None
        self.locked = ""
        self.state: OutputState | None = None
        self._left_live = _left_live(journal.entries)
        if self._left_live is not None:
            self.locked = "An output was live when the tool stopped"

    @property
    def busy(self) -> bool:
        """An output is live, about to be, or its release is not confirmed yet."""
        return self._run is not None or self._charging is not None

    def feed(self, frames: list[Frame]) -> None:
        """Frames just received, before anybody else sees them."""
        run = self._run
        for frame in frames:
            self._table.feed(frame)
            if run is not None and frame.ident == run.plan.response:
                answer = unwrap_single(frame.data)
                if answer is not None:
                    self._answers.append(answer)

    def handle(self, request: OutputRequest) -> None:
        """A request of the screen."""
        now = self._clock()
        match request:
            case Consider(output):
                self._considered = output
            case SignIn(operator, role):
                self._operator, self._role = operator, role
            case Confirm(what, at):
                self._table.confirm(what, at, now)
                self._journal.put("confirm", what=what, operator=self._operator, craft=self._table.serial)
            case Press():
                self._press(request, now)
            case Beat(press, at):
                self._beat(press, at)
            case Lift(press, cause):
                self._lift(press, cause, now)

    def stop(self, cause: str) -> None:
        """End whatever is live."""
        now = self._clock()
        if self._charging is not None:
            self._charging.stopped = cause
        if self._run is not None:
            self._run.stop(cause, now)

    def step(self) -> list[tuple[int, bytes]]:
        """Move on; returns frames to send now, in order."""
        now = self._clock()
        late = self._stepped is not None and now - self._stepped > LATE_S
        self._stepped = now
        if late and self.busy:
            self._table.forget()
            self._interlock.revoke()
            self.stop("The tool was too slow for a moment.")
        if self._left_live is not None and not self.busy:
            self._release_left_live(self._left_live, now)
        if self._charging is not None:
            self._begin_if_charged(self._charging, now)
        frames: list[tuple[int, bytes]] = []
        if self._run is not None:
            run = self._run
            answers, self._answers = self._answers, []
            frames = [
                (run.plan.request, single_frame(pdu, run.plan.padding)) for pdu in run.step(now, answers)
            ]
            if run.step_now is Step.DONE:
                self._finish(run, now)
        if frames or now - self._said >= SAY_EVERY_S:
            self._say(now)
        return frames

    def allowed(self, ident: int, data: bytes) -> bool:
        """Whether a frame belongs to the press that is live; the gate asks just before it lets one out."""
        run = self._run
        if run is None or ident != run.plan.request:
            return False
        pdus = (run.plan.start, run.plan.release, b"\x10\x03", b"\x10\x01")
        return data in [single_frame(pdu, run.plan.padding) for pdu in pdus]

    def unlock(self) -> None:
        """The controller was read afresh and answers; what was not confirmed is settled."""
        self.locked = ""

    def facts(self) -> Mapping[Need, Fact]:
        """Facts that do not depend on which output asks."""
        facts = dict(self._table.facts(self._clock()))
        facts[Need.ROLE] = self._role_fact()
        facts[Need.OUTPUTS_FREE] = Fact(
            not self.busy,
            "An output is live" if self.busy else "No output is live",
            "Wait until it has ended",
        )
        return facts

    def _role_fact(self) -> Fact:
        return Fact(
            self._role in ROLES_THAT_ACTUATE,
            f"Signed in: {self._operator or 'nobody'}",
            "Sign in as a technician",
        )

    def _facts(self, output: str) -> Mapping[Need, Fact]:
        now = self._clock()
        plan = self._plans[output]
        rule = RULES[plan.data.kind]
        mine = self._run is not None and self._run.plan is plan
        charging = self._charging is not None and self._charging.plan is plan
        rest = self._ended.get(output, float("-inf")) + rule.rest_s - now
        free = (self._run is None or mine) and (self._charging is None or charging) and not self.locked
        facts = dict(self._table.facts(now))
        facts[Need.RELEASED] = Fact(
            rule.released,
            "Offered by this version" if rule.released else "Not released yet",
            "A later version fires it",
        )
        facts[Need.ROLE] = self._role_fact()
        if self.locked:
            facts[Need.OUTPUTS_FREE] = Fact(False, self.locked, "Pull the lanyard, battery off, read again")
        elif rest > 0 and not mine:
            facts[Need.OUTPUTS_FREE] = Fact(False, "It was fired a moment ago", f"Wait {rest:.0f} s")
        else:
            facts[Need.OUTPUTS_FREE] = Fact(
                free, "No other output" if free else "Another output is live", "Wait"
            )
        facts[Need.FUEL_ROOM] = self._fuel_fact(plan, charged=mine or charging)
        return facts

    def _fuel_fact(self, plan: OutputPlan, *, charged: bool) -> Fact:
        craft = self._table.serial
        if craft is None:
            return Fact(
                None, "Fuel in the cylinders: craft not known", "Wait until the craft has said its serial"
            )
        cylinder = plan.data.cylinder
        total = self._fuel.total(craft, cylinder)
        return Fact(
            self._fuel.room(craft, cylinder, 0.0 if charged else plan.fuel_cm3),
            f"Fuel in cylinder {cylinder}: {total:.1f} of {FUEL_PER_CYLINDER_CM3} cm³, "
            f"craft {self._fuel.total(craft):.1f} of {FUEL_PER_VISIT_CM3} cm³",
            "Run the engine for 30 s to burn it off",
        )

    def _press(self, request: Press, now: float) -> None:
        plan = self._plans.get(request.output)
        if plan is None or request.press in self._seen_presses or self.busy:
            return
        self._seen_presses.add(request.press)
        self._considered = request.output
        try:
            self._interlock.grant(request.output, plan.data.kind, request.press, request.at)
        except PermitDenied as denied:
            self._refuse(request, str(denied), now, denied.needs)
            return
        craft = self._table.serial or ""
        self._fuel.charge(craft, plan.data.cylinder, plan.fuel_cm3)
        ticket = self._journal.put(
            "output_start",
            output=request.output,
            press=request.press,
            craft=craft,
            operator=self._operator,
            cylinder=plan.data.cylinder,
            fuel_cm3=round(plan.fuel_cm3, 4),
            request=plan.start.hex(),
        )
        self._charging = _Charging(request, plan, request.at, ticket)

    def _beat(self, press: int, at: float) -> None:
        if self._charging is not None and self._charging.press.press == press:
            self._charging.beat = max(self._charging.beat, at)
        if self._run is not None and self._run.permit.press == press:
            self._interlock.renew(self._run.permit, at)

    def _lift(self, press: int, cause: str, now: float) -> None:
        if self._charging is not None and self._charging.press.press == press:
            self._charging.stopped = cause
        if self._run is not None and self._run.permit.press == press:
            self._run.stop(cause, now)

    def _begin_if_charged(self, charging: _Charging, now: float) -> None:
        """The charge is on the disk: ask the interlock once more, then begin."""
        if not charging.ticket.synced and not charging.ticket.failed and not charging.stopped:
            return
        self._answers.clear()
        refusal = charging.ticket.failed or charging.stopped
        needs: tuple[Need, ...] = ()
        permit = None
        if not refusal:
            kind = charging.plan.data.kind
            try:
                permit = self._interlock.grant(
                    charging.press.output, kind, charging.press.press, charging.beat
                )
            except PermitDenied as denied:
                refusal, needs = str(denied), denied.needs
        self._charging = None
        if permit is None:
            self._refuse(charging.press, refusal, now, needs)
            self._journal.put(
                "output_end",
                output=charging.press.output,
                press=charging.press.press,
                fired=False,
                confirmed=True,
                cause=refusal,
            )
            return
        self._run = OutputRun(charging.plan, permit, self._interlock, now)

    def _release_left_live(self, start: dict[str, Any], now: float) -> None:
        """The journal shows an output that was never confirmed stopped: release it before anything else."""
        plan = self._plans.get(start["output"])
        if plan is None or start["craft"] != self._table.serial:
            return
        self._left_live = None
        self._run = OutputRun(
            plan, Permit(start["output"], plan.data.kind, start["press"], now), self._interlock, now
        )
        self._run.fired = True
        self._run.stop("It was live when the tool stopped.", now)

    def _refuse(self, press: Press, cause: str, now: float, needs: tuple[Need, ...]) -> None:
        self._journal.put(
            "refused",
            output=press.output,
            operator=self._operator,
            craft=self._table.serial,
            needs=list(needs),
            cause=cause,
        )
        self._last = OutputState(
            press.output, press.press, Phase.REFUSED, now, self._needs(press.output), cause=cause
        )
        self._say(now)

    def _finish(self, run: OutputRun, now: float) -> None:
        self._run = None
        self._interlock.revoke()
        key = run.plan.data.key
        self._ended[key] = now
        stopped = run.phase is Phase.ENDED
        self.locked = "" if stopped else f"{run.plan.data.label} was not confirmed stopped"
        self._journal.put(
            "output_end",
            output=key,
            press=run.permit.press,
            fired=run.fired,
            confirmed=stopped,
            cause=run.cause,
        )
        self._last = self._run_state(run, now)

    def _needs(self, output: str) -> list[NeedState]:
        """Every need of an output: the missing ones first, each in the order to mend."""
        facts = self._facts(output)
        needed = [need for need in Need if need in RULES[self._plans[output].data.kind].needs]
        states = [NeedState(need, facts[need].holds, facts[need].seen, facts[need].do) for need in needed]
        return sorted(states, key=lambda state: state.holds is True)

    def _run_state(self, run: OutputRun, now: float) -> OutputState:
        live = run.live_s(now) if run.step_now in (Step.OPENING, Step.LIVE) else run.live_s(run.since)
        share = min(1.0, live / run.plan.longest_s) if run.fired else 0.0
        data = run.plan.data
        return OutputState(
            data.key,
            run.permit.press,
            run.phase,
            run.since,
            self._needs(data.key),
            progress=1.0 if run.complete else share,
            pulses=data.count if run.complete and data.count else int(share * data.count),
            cause=run.cause,
        )

    def _say(self, now: float) -> None:
        self._said = now
        if self._run is not None:
            self._last = self._run_state(self._run, now)
        key = self._considered
        if key is None or key not in self._plans:
            self.state = self._last if self._last is not None and self.busy else None
            return
        if self._last is not None and self._last.output == key:
            needs = self._needs(key)
            ready = all(need.holds is True for need in needs) and not self.busy
            self.state = _with_needs(self._last, needs, ready=ready)
            return
        needs = self._needs(key)
        self.state = OutputState(key, 0, None, now, needs, ready=all(need.holds is True for need in needs))


def _left_live(entries: list[dict[str, Any]]) -> dict[str, Any] | None:
    """The last output_start that no confirmed output_end followed."""
    left: dict[str, Any] | None = None
    for entry in entries:
        body = entry.get("body", {})
        if entry["kind"] == "output_start":
            left = body
        elif entry["kind"] == "output_end" and body.get("confirmed"):
            left = None
    return left


def _with_needs(state: OutputState, needs: list[NeedState], *, ready: bool) -> OutputState:
    values: dict[str, Any] = {name: getattr(state, name) for name in state.__struct_fields__}
    return OutputState(**{**values, "needs": needs, "ready": ready})
