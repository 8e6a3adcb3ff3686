"""Puts one request to a controller and waits for its answer: ISO 14229-1 by the library, sentences by us."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, NamedTuple, TypeVar

from udsoncan.client import Client
from udsoncan.exceptions import (
    InvalidResponseException,
    NegativeResponseException,
    TimeoutException,
    UnexpectedResponseException,
)
from udsoncan.Request import Request

from app.errors import ControllerError, ControllerNonsense, ControllerRefused, ControllerSilent, Refused
from app.nrc import refusal_words
from bus.exchange import Class, Outcome, Result
from bus.link import Link, LinkCut

if TYPE_CHECKING:
    from collections.abc import Callable

    from bus.exchange import AllowedRequest
    from bus.gate import Gate
    from bus.journal import Ticket
    from bus.uds_form import Module

Value = TypeVar("Value")

PENDING_S = 5.5
"""After a controller asked for more time: P2* of 5 s (ISO 14229-2) and the way there and back."""


class Times(NamedTuple):
    """How long a service may take.

    Attributes:
        answer_s: for the answer to begin; P2 is 50 ms, the rest is for a busy bus and a busy tool.
        longest_s: altogether, however often the controller asks for more time.
    """

    answer_s: float
    longest_s: float


TIMES = {0x22: Times(1.0, 8.0), 0x19: Times(2.0, 20.0), 0x14: Times(5.0, 30.0)}
"""Per service; our own figures."""

PATIENCE_S = 2.5
"""For what the gate misses to come by itself: it listens for other testers for 2 s before it lets one out."""

AGAIN_S = 0.1
"""Between two times of asking the gate."""


class Asker:
    """Implements bus.scan_job.Ask; used by one thread.

    Args:
        gate: the one way out.
        waiting: told (words) when the gate or the controller makes us wait, and ("") when that is over.
        wait: sleeps so many seconds; True if the tool is ending.
        times: see TIMES.
        patience_s: see PATIENCE_S.

    Attributes:
        why: what is asked for ("scan", "clear" …), for the journal; whoever asks sets it.
    """

    def __init__(
        self,
        gate: Gate,
        waiting: Callable[[str], None],
        wait: Callable[[float], bool],
        *,
        times: dict[int, Times] | None = None,
        patience_s: float = PATIENCE_S,
    ) -> None:
        self._waiting = waiting
        self._wait = wait
        self._times = times or TIMES
        self._patience_s = patience_s
        self._link = Link(gate)
        self._client = Client(self._link, {"use_server_timing": False, "nrc78_callback": self._on_pending})
        self._pendings = 0
        self.why = ""

    def __call__(self, module: Module, request: AllowedRequest, intent: Ticket | None = None) -> bytes:
        """See bus.scan_job.Ask. A reading that the gate cut off is asked once more; nothing else is."""
        try:
            return self._once(module, request, intent)
        except LinkCut:
            if request.kind is not Class.READING:
                raise
            return self._once(module, request, intent)

    def _once(self, module: Module, request: AllowedRequest, intent: Ticket | None) -> bytes:
        times = self._times[request.pdu[0]]
        self._pendings = 0
        self._begin(request, times, intent)
        try:
            answer = self._answer(module, request, times)
        except ControllerError as error:
            self._link.say(outcome_of(error))
            raise
        else:
            self._link.say(Outcome(Result.ANSWERED, size=len(answer)))
            return answer
        finally:
            self._link.end()
            self._waiting("")

    def _answer(self, module: Module, request: AllowedRequest, times: Times) -> bytes:
        """The answer, or a sentence that names the module."""
        try:
            return self._exchange(request, times)
        except NegativeResponseException as no:
            code = no.response.code or 0
            raise ControllerRefused(f"{module.label} says no. {refusal_words(code)}.", code) from None
        except TimeoutException:
            raise self._silence(module, times) from None
        except (InvalidResponseException, UnexpectedResponseException):
            raise ControllerNonsense(f"{module.label} answered something that makes no sense.") from None
        except ControllerNonsense as error:
            raise ControllerNonsense(f"{module.label}: {error}") from None
        except LinkCut as error:
            raise LinkCut(f"{module.label}: {error}") from None
        except ControllerSilent as error:
            raise ControllerSilent(f"{module.label}: {error}") from None

    def _exchange(self, request: AllowedRequest, times: Times) -> bytes:
        self._client.set_configs(
            {
                "p2_timeout": times.answer_s,
                "p2_star_timeout": PENDING_S,
                "request_timeout": times.longest_s,
            }
        )
        self._client.send_request(Request.from_payload(request.pdu))
        return self._link.last

    def _begin(self, request: AllowedRequest, times: Times, intent: Ticket | None) -> None:
        patiently(
            lambda: self._link.begin(request, times.longest_s, intent, self.why),
            self._waiting,
            self._wait,
            self._patience_s,
        )

    def _silence(self, module: Module, times: Times) -> ControllerSilent | ControllerNonsense:
        if self._link.strays:
            return ControllerNonsense(f"{module.label} answered, but not what it was asked.")
        if self._pendings:
            return ControllerSilent(
                f"{module.label} asked for more time and came to no end within {times.longest_s:g} s."
            )
        return ControllerSilent(f"{module.label} did not answer. Check its fuse and its plug, read again.")

    def _on_pending(self) -> None:
        self._pendings += 1
        self._waiting("The controller asks for more time")


def patiently(
    ask: Callable[[], Value], waiting: Callable[[str], None], wait: Callable[[float], bool], patience_s: float
) -> Value:
    """Ask the gate for leave, again while what is missing may come by itself.

    Args:
        ask: asks once.
        waiting: see Asker.
        wait: see Asker.
        patience_s: see PATIENCE_S.

    Raises:
        Refused: it did not come.
    """
    until = time.monotonic() + patience_s
    while True:
        try:
            return ask()
        except Refused as refused:
            if time.monotonic() >= until or wait(AGAIN_S):
                raise
            waiting(refused.needs[0])


def outcome_of(error: ControllerError) -> Outcome:
    """What an error says of the exchange; a cut has its cause from the gate."""
    if isinstance(error, ControllerRefused):
        return Outcome(Result.REFUSED, code=error.code)
    for kind, result in _RESULTS.items():
        if isinstance(error, kind):
            return Outcome(result, words=str(error))
    return Outcome(Result.BROKEN_OFF, words=str(error))


_RESULTS = {ControllerSilent: Result.SILENT, ControllerNonsense: Result.NONSENSE}
