"""Puts one request for a parameter group to a controller, by SAE J1939-21, through the gate."""

from __future__ import annotations

import contextlib
import time
from typing import TYPE_CHECKING

from app.errors import ControllerError, ControllerNonsense, ControllerRefused, ControllerSilent
from bus.asker import PATIENCE_S, outcome_of, patiently
from bus.exchange import Outcome, Result
from bus.group_requests import EVERYBODY, TOOL
from bus.link import LinkCut

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from bus.exchange import Exchange
    from bus.gate import Gate
    from bus.group_requests import GroupRequest
    from bus.journal import Ticket

CLAIM_S = 0.25
"""After an address was claimed nothing is sent from it for so long: another one who has it says so (J1939-81,
from memory)."""

ACKNOWLEDGED_S = 1.25
"""For an acknowledgement (timer T3 of J1939-21, from memory)."""

TURN_S = 0.02

ACKNOWLEDGED = 0
NO = {
    1: "It does not do that.",
    2: "It denies access.",
    3: "It is busy and cannot do it now.",
}
"""First byte of an acknowledgement that is none (standards.md 5.4)."""


class GroupAsker:
    """Used by one thread.

    Args:
        gate, waiting, wait, why, patience_s: see bus.asker.Asker.
        label: name of the controller.
    """

    def __init__(
        self,
        gate: Gate,
        label: str,
        waiting: Callable[[str], None],
        wait: Callable[[float], bool],
        *,
        why: str,
        patience_s: float = PATIENCE_S,
    ) -> None:
        self._gate = gate
        self._label = label
        self._waiting = waiting
        self._wait = wait
        self._patience_s = patience_s
        self._why = why

    def tell(self, request: GroupRequest, intent: Ticket) -> None:
        """Put it, and wait until the controller has acknowledged it.

        Raises:
            Refused: the gate does not let it out.
            ControllerError: the controller says no, or nothing that makes sense.
        """
        with self._exchange(request, intent) as exchange:
            strays = 0
            for data in self._heard(exchange, ACKNOWLEDGED_S):
                control = control_of(data, request.pdu)
                if control is None:
                    strays += 1
                elif control == ACKNOWLEDGED:
                    exchange.outcome = Outcome(Result.ANSWERED, size=len(data))
                    return
                else:
                    words = NO.get(control, f"Its reason {control} is not known.")
                    raise ControllerRefused(f"{self._label} says no. {words}", control)
            if strays:
                raise ControllerNonsense(f"{self._label} answered, but not what it was asked.")
            raise ControllerSilent(f"{self._label} did not acknowledge within {ACKNOWLEDGED_S:g} s.")

    def call(self, request: GroupRequest, come: Callable[[], bool], longest_s: float) -> bool:
        """Put it, and wait until what it asks for has come by another way.

        Args:
            request: what is asked for.
            come: whether it has.
            longest_s: how long to wait.

        Returns:
            Whether it has come.

        Raises:
            Refused: the gate does not let it out.
            LinkCut: the gate cut it off, twice.
        """
        try:
            return self._call(request, come, longest_s)
        except LinkCut:
            return self._call(request, come, longest_s)

    def _call(self, request: GroupRequest, come: Callable[[], bool], longest_s: float) -> bool:
        with self._exchange(request, None) as exchange:
            for _ in self._heard(exchange, longest_s, turns=True):
                if come():
                    exchange.outcome = Outcome(Result.ANSWERED)
                    return True
            exchange.outcome = Outcome(Result.SILENT, words=f"Nothing came within {longest_s:g} s.")
            return False

    @contextlib.contextmanager
    def _exchange(self, request: GroupRequest, intent: Ticket | None) -> Iterator[Exchange]:
        """The claim and the request have gone; the exchange is over when this is left."""
        exchange = patiently(
            lambda: self._gate.admit(request, intent, self._why), self._waiting, self._wait, self._patience_s
        )
        try:
            (to_all, claim), (to_one, asked) = request.frames()
            self._gate.transmit(exchange, to_all, claim)
            for _ in self._heard(exchange, CLAIM_S):
                pass  # whatever is acknowledged now was asked for by somebody else
            self._gate.transmit(exchange, to_one, asked)
            yield exchange
        except ControllerError as error:
            exchange.outcome = outcome_of(error)
            raise
        finally:
            self._gate.finish(exchange)
            self._waiting("")

    def _heard(self, exchange: Exchange, longest_s: float, *, turns: bool = False) -> Iterator[bytes]:
        """Each answer as it comes, for so long; with ``turns`` an empty one after each turn without.

        Raises:
            LinkCut: the gate closed the exchange.
        """
        until = time.monotonic() + longest_s
        while (left := until - time.monotonic()) > 0:
            data = exchange.answer(min(left, TURN_S))
            if exchange.closed:
                raise LinkCut(f"{self._label}: The exchange was cut off.")
            if data is not None or turns:
                yield data or b""


def control_of(data: bytes, pdu: bytes) -> int | None:
    """The control byte of an acknowledgement of this very request; None if it is none.

    Bytes 6 to 8 are the group that was asked for, byte 5 who asked (J1939-21, from memory); who does not tell
    has all ones there.
    """
    if len(data) != 8 or data[5:8] != pdu or data[4] not in (TOOL, EVERYBODY):
        return None
    return data[0]
