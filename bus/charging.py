"""A press whose charge is on its way to the disk."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from app.interlock import Permit
    from app.output_messages import Press
    from bus.journal import Ticket
    from bus.outputs import OutputPlan

CHARGE_S = 2.0
"""For the disk to take a charge; a finger is not held for longer over nothing."""


@dataclasses.dataclass
class Charging:
    """What waits.

    Attributes:
        press, plan, permit: of what is to be fired.
        ticket: of the charge.
        since: seconds, when it was asked for.
        stopped: why it is not to be fired, in words; the first reason stays.
    """

    press: Press
    plan: OutputPlan
    permit: Permit
    ticket: Ticket
    since: float
    stopped: str = ""

    def stop(self, cause: str) -> None:
        """It is not to be fired."""
        self.stopped = self.stopped or cause

    def refusal(self, now: float) -> str:
        """Why it is not fired, in words, apart from what the interlock says; empty if nothing does."""
        if not self.stopped and not self.ticket.failed and now - self.since > CHARGE_S:
            return "The storage was too slow to note the test."
        return self.stopped or self.ticket.failed
