"""Reading and clearing faults that a controller tells by SAE J1939-73: DM1 by itself, DM2 when asked.

What was told before the question counts for nothing: a message that began to come earlier may be older than
what was just cleared.
"""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

from app.diagnosis import Fault, ModuleState
from app.errors import ControllerError, ControllerRefused, ControllerSilent, Refused
from app.faults import NO_STATUS, in_order
from app.j1939_words import trouble_code, trouble_words
from bus.group_requests import before_request, clear_requests
from bus.scan_job import Found

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from app.diagnosis import HeardFault, HeardFaults
    from bus.group_asker import GroupAsker
    from bus.group_form import GroupData
    from bus.journal import Ticket
    from bus.scan_job import Progress

TOLD_WITHIN_S = 6.0
"""DM1 comes once a second and a long one takes some seconds (our own figure)."""

UNSURE = "an old way of writing: the part is not certain"


class ToldReader:
    """See bus.scan_job.Source.

    Args:
        data: of the family.
        ask: puts the requests.
        heard: the newest that every sender has told.
        progress: see bus.scan_job.
    """

    def __init__(
        self,
        data: GroupData,
        ask: GroupAsker,
        heard: Callable[[], Sequence[HeardFaults]],
        progress: Progress,
    ) -> None:
        self._data = data
        self._ask = ask
        self._heard = heard
        self._progress = progress
        self.modules = (data,)

    def whole(self, *, identity: bool = True) -> Found:  # noqa: ARG002 (nothing but faults is asked for)
        """See bus.scan_job.Source."""
        self._progress.expect(1)
        found = Found()
        words = ""
        try:
            found.faults = in_order(self.codes(self._data.key))
        except Refused as refused:
            words = found.trouble = str(refused)
            found.needs = refused.needs
        except ControllerError as error:
            words = str(error)
        found.modules.append(ModuleState(self._data.key, self._data.label, not words, words))
        return found

    def codes(self, key: str) -> list[Fault]:  # noqa: ARG002 (there is one)
        """See bus.scan_job.Source: what is told from now on."""
        label = self._data.label
        self._progress.step(f"{label}: listening for its faults")
        since = time.monotonic()
        if not self._ask.call(before_request(self._data), lambda: self._fresh(since), TOLD_WITHIN_S):
            raise ControllerSilent(f"{label} {self._missing(since)} within {TOLD_WITHIN_S:g} s.")
        told = self._told()
        assert told is not None
        if told.more:
            raise ControllerSilent(f"{label} told more faults than can be kept, {told.more} more.")
        return [_fault(self._data.key, one) for one in told.faults]

    def clear(self, key: str, ticket: Ticket) -> None:  # noqa: ARG002 (there is one)
        """See bus.scan_job.Source: every request by which it is cleared."""
        done = ""
        for name, request in clear_requests(self._data).items():
            try:
                self._ask.tell(request, ticket)
            except ControllerRefused as error:
                if not done:
                    raise
                raise ControllerSilent(f"{done} {name}: {error}") from error
            except Refused as refused:
                if not done:
                    raise
                raise ControllerSilent(f"{done} {name} was not sent: {refused}") from refused
            done = f"{self._data.label} has acknowledged {name}."

    def _told(self) -> HeardFaults | None:
        return next((one for one in self._heard() if one.source == self._data.address), None)

    def _fresh(self, since: float) -> bool:
        """Both kinds have begun to come since then."""
        told = self._told()
        return told is not None and all(
            at is not None and at > since for at in (told.active_since, told.before_since)
        )

    def _missing(self, since: float) -> str:
        told = self._told()
        if told is None or told.active_since is None or told.active_since <= since:
            return "did not tell what is active (DM1)"
        return "did not tell what was active before (DM2)"


def _fault(key: str, one: HeardFault) -> Fault:
    """As a stored fault: what is active fails now, what was active is stored (J1939-73)."""
    words = trouble_words(one.spn, one.fmi)
    return Fault(
        module=key,
        number=one.spn << 5 | one.fmi,
        code=trouble_code(one.spn, one.fmi),
        text=words if one.certain else "; ".join(filter(None, (words, UNSURE))),
        status=NO_STATUS,
        failed_now=one.active,
        pending=False,
        confirmed=False,
        warning=False,
        count=one.times,
    )
