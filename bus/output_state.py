"""What the glass is told about outputs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from app.interlock import RULES, UNKNOWN, Need
from app.output_messages import NeedState, OutputState, Phase

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from app.interlock import Fact
    from app.output_messages import Press
    from bus.output_run import OutputRun
    from bus.outputs import OutputPlan


SAY_EVERY_S = 0.05


def needs_of(plan: OutputPlan, facts: Mapping[Need, Fact]) -> list[NeedState]:
    """Every need of an output: the missing ones first, each in the order to mend."""
    needed = [need for need in Need if need in RULES[plan.data.kind].needs]
    states = [
        NeedState(need, fact.holds, fact.seen, fact.do)
        for need in needed
        for fact in [facts.get(need, UNKNOWN)]
    ]
    return sorted(states, key=lambda state: state.holds is True)


def run_state(run: OutputRun, needs: list[NeedState], now: float) -> OutputState:
    """Of a press that is under way or over; counts only what the controller said yes to."""
    data = run.plan.data
    share = min(1.0, run.known_live_s(now) / run.plan.longest_s) if run.plan.longest_s else 0.0
    return OutputState(
        data.key,
        run.press,
        run.phase,
        run.since,
        needs,
        progress=1.0 if run.complete else share,
        pulses=data.count if run.complete else int(share * data.count),
        cause=run.cause,
        fired=run.fired,
        confirmed_at=run.confirmed_at,
        doubt=run.doubt,
        ending=run.ending,
    )


class Shown:
    """Which state the glass is told.

    What is under way comes first, then what was not confirmed, then what a person looks at.

    Attributes:
        considered: key of the output a person looks at.
        state: replaced as a whole.
    """

    def __init__(self, needs: Callable[[str], list[NeedState]]) -> None:
        self._needs = needs
        self._last: OutputState | None = None
        self._unconfirmed: OutputState | None = None
        self._said = float("-inf")
        self.considered: str | None = None
        self.state: OutputState | None = None

    def due(self, now: float) -> bool:
        """Time to say it again."""
        return now - self._said >= SAY_EVERY_S

    def refused(self, press: Press, now: float, cause: str) -> None:
        """A press ended before anything was sent."""
        needs = self._needs(press.output)
        self._last = OutputState(press.output, press.press, Phase.REFUSED, now, needs, cause=cause)

    def ended(self, run: OutputRun, now: float) -> None:
        """A run is over."""
        self._last = run_state(run, self._needs(run.plan.data.key), now)
        if self._last.phase is Phase.NOT_CONFIRMED:
            self._unconfirmed = self._last

    def settled(self) -> None:
        """What was not confirmed counts no more."""
        if self._last is self._unconfirmed:
            self._last = None
        self._unconfirmed = None

    def say(
        self, run: OutputRun | None, starting: tuple[Press, float] | None, now: float, locked: str
    ) -> None:
        """Make the state anew.

        Args:
            run: under way.
            starting: a press that is being charged, and since when.
            now: seconds.
            locked: why nothing may be fired, in words.
        """
        self._said = now
        key, last = self.considered, self._last
        if locked and self._unconfirmed is not None:
            last = self._unconfirmed
        elif last is self._unconfirmed:
            last = None  # it is about another craft
        if run is not None:
            self.state = run_state(run, self._needs(run.plan.data.key), now)
        elif starting is not None:
            press, since = starting
            self.state = OutputState(
                press.output, press.press, Phase.STARTING, since, self._needs(press.output)
            )
        elif last is not None and (last is self._unconfirmed or last.output == key):
            needs = self._needs(last.output)
            self.state = msgspec.structs.replace(last, needs=needs, ready=_all(needs))
        elif key is not None and (needs := self._needs(key)):
            self.state = OutputState(key, 0, None, now, needs, ready=_all(needs))
        else:
            self.state = None


def _all(needs: list[NeedState]) -> bool:
    return bool(needs) and all(need.holds is True for need in needs)
