"""Whether a request may go at this moment: the decision about an admission, and the wait of who asked for it.

Decides from what the gate's own thread knows; sends nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.errors import Refused
from app.interlock import READING, WRITING, lacking
from bus.exchange import Class

if TYPE_CHECKING:
    from collections.abc import Set as AbstractSet

    from bus.actuate import Actuation
    from bus.exchange import Admission, AllowedRequest, Exchange
    from bus.journal import Ticket

ADMIT_S = 2.0
"""For the gate to answer a question of another thread."""

NEEDS = {Class.READING: READING, Class.WRITING: WRITING}


def against(
    request: AllowedRequest,
    intent: Ticket | None,
    allowed: AbstractSet[AllowedRequest],
    actuation: Actuation | None,
    *,
    sending: bool,
) -> tuple[str, ...]:
    """What speaks against a request, in words; empty if it may go.

    Args:
        request: what is asked for.
        intent: the journal's ticket of the intent to write; None where nothing is written.
        allowed: the exact requests of the family that is served.
        actuation: of the craft that is served; None if none is, or another is about to be.
        sending: the craft is heard at a rate that fits and the adapter takes part.
    """
    if request not in allowed or actuation is None:
        return ("It is not among the requests of this craft's family",)
    if not sending:
        return ("The craft is not heard at a bit rate that fits",)
    if request.kind is Class.WRITING and (intent is None or not intent.synced):
        return ("The intent to write is not in the journal",)
    facts = actuation.facts()
    return tuple(f"{facts[need].seen}. {facts[need].do}" for need in lacking(NEEDS[request.kind], facts))


def answer_to(admission: Admission) -> Exchange:
    """Wait for the gate's answer; for the thread that asked.

    Raises:
        Refused: it is not on the family's list, something is missing, or the gate does not answer.
    """
    if not admission.wait(ADMIT_S):
        if admission.abandon():
            raise Refused(admission.request.what, ("The adapter is not ready",))
        admission.wait(ADMIT_S)  # it was answered in this very moment
    if admission.exchange is None:
        raise Refused(admission.request.what, admission.needs)
    return admission.exchange
