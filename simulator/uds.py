"""One controller's end of ISO 14229-1: sessions, order of checks, negative answers, "response pending".

Pure: frames and time in, frames and words out. What a service does stands in ``services``; what there is to
read and to move, in the table of the family.
"""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Any

from simulator import negative
from simulator.isotp import Endpoint
from simulator.negative import Refused
from simulator.services import SERVICES, SUPPRESS, is_release, is_status
from simulator.wishes import Wishes

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from simulator.isotp import Request
    from simulator.outputs import Outputs
    from simulator.trouble import Memory
    from simulator.wishes import Bad, Slow

DEFAULT, EXTENDED_SESSION = 0x01, 0x03
S3_S = 5.0
"""Without a request for so long the controller goes back to the default session."""
BUSY_AGAIN = b"\x3e\x80"
"""Keep-alive that needs no answer: taken even while another request is being worked on."""


@dataclasses.dataclass(frozen=True)
class Module:
    """How a controller is reached and what it says of itself.

    Attributes:
        key: its name; request, response, functional: identifiers.
        identity: data identifier to what it reads.
        offered: requests it offers, as patterns of their hexadecimal digits.
        records: extended data records of a code: how often it set, and its age.
        padding: filler byte of short frames.
    """

    key: str
    request: int
    response: int
    functional: int
    identity: Mapping[int, Callable[[], bytes]]
    offered: tuple[str, ...]
    records: tuple[int, int] = (0x01, 0x02)
    padding: int = 0


@dataclasses.dataclass
class _Job:
    """A request that is worked on slowly."""

    request: Request
    slow: Slow
    left: int
    next_at: float


class Controller:
    """A controller that can be asked.

    Attributes:
        module: see Module.
        memory: its fault codes; outputs: what it can move, None if nothing.
        may_clear: whether it lets its codes be cleared now.
        session: number of the session; s3_at: seconds at which it ends by itself, None in the default one.
        wishes: bad answers on order.
    """

    def __init__(
        self, module: Module, memory: Memory, outputs: Outputs | None, *, may_clear: Callable[[], bool]
    ) -> None:
        self.module, self.memory, self.outputs, self.may_clear = module, memory, outputs, may_clear
        self.endpoint = Endpoint(module.request, module.response, module.functional, padding=module.padding)
        self.session = DEFAULT
        self.wishes = Wishes()
        self.s3_at: float | None = None
        self._job: _Job | None = None
        self._late: list[tuple[float, bytes]] = []
        self._cut_short = False

    def sleep(self) -> None:
        """The supply went."""
        self.endpoint.reset()
        self._job = None
        self._late.clear()
        self._cut_short = False
        self.enter_session(DEFAULT, "the controller went to sleep")

    def enter_session(self, session: int, why: str) -> None:
        """Change the session; every output is given back with the end of the extended one."""
        if session == DEFAULT and self.outputs is not None:
            self.outputs.release_all(why, self.module.key)
        self.session = session
        self.s3_at = None

    def _renew(self, now: float) -> None:
        self.s3_at = now + S3_S if self.session != DEFAULT else None

    def handle(self, request: Request, now: float) -> str:
        """Work on a request.

        Returns:
            What was done, in words.
        """
        service = request.payload[0]
        if (why := self._ignores(request, now)) is not None:
            return f"nothing: it is {why} on order"
        if self._job is not None or (self.wishes.busy_status and is_status(self, request.payload)):
            self._renew(now)
            if request.payload == BUSY_AGAIN:
                return "kept the session"
            self._answer(negative.negative(service, negative.BUSY), now)
            return "refused: it is busy (21)"
        bad = self.wishes.take(service)
        if bad is None:
            slow = self.wishes.slow(service)
            if slow is not None:
                self._job = _Job(request, slow, slow.times, now)
                self.s3_at = None
                return "asked for more time (78)"
            return self._carry_out(request, now, after_pending=False)
        return self._spoil(request, bad, now)

    def _ignores(self, request: Request, now: float) -> str | None:
        """Why a request is neither carried out nor answered, in words; only a mute one keeps the session."""
        if self.wishes.silent:
            return "silent"
        if self.wishes.deaf_to_release and is_release(request.payload):
            return "deaf to releases"
        if self.wishes.mute_status and is_status(self, request.payload):
            self._renew(now)
            return "mute about its inhibits"
        return None

    def _spoil(self, request: Request, bad: Bad, now: float) -> str:
        """Give the bad answer that is ordered."""
        good, words = self._work(request, now) if bad.done else (None, "nothing")
        self._renew(now)
        spoilt = bad.spoil(request.payload, good or bytes([request.payload[0] | 0x40]))
        if spoilt is None:
            return f"{words}; no answer on order"
        if bad.kind == "late":
            self._late.append((now + bad.seconds, spoilt))
        elif bad.kind == "truncated":
            self._truncate(spoilt, now)
        else:
            self._answer(spoilt, now)
        return f"{words}; answer on order: {bad.kind}"

    def _truncate(self, answer: bytes, now: float) -> None:
        """A long answer stops after its first frame; a short one lacks its last byte."""
        if len(answer) <= 7:
            self.endpoint.send_raw(bytes([len(answer)]) + answer[:-1], fill=False)
            return
        self.endpoint.send(answer, now)
        self._cut_short = True

    def _answer(self, answer: bytes, now: float) -> None:
        self._cut_short = False
        self.endpoint.send(answer, now)

    def _carry_out(self, request: Request, now: float, *, after_pending: bool) -> str:
        answer, words = self._work(request, now, after_pending=after_pending)
        self._renew(now)
        if answer is not None:
            self._answer(answer, now)
        return words

    def _work(self, request: Request, now: float, *, after_pending: bool = False) -> tuple[bytes | None, str]:
        """Do what is asked; the answer (None = none is due) and words for the ledger."""
        pdu = request.payload
        try:
            answer = self._serve(pdu, now)
        except Refused as refused:
            quiet = request.functional and refused.code in negative.SILENT_IF_FUNCTIONAL
            no = None if quiet else negative.negative(pdu[0], refused.code)
            return no, f"refused ({refused.code:02X}){', unanswered' if quiet else ''}"
        service = SERVICES[pdu[0]]
        if service.subfunctions and pdu[1] & SUPPRESS and not after_pending:
            return None, "done, unanswered as asked"
        return answer, "done"

    def _serve(self, pdu: bytes, now: float) -> bytes:
        """Check in the order of ISO 14229-1, then do it.

        Raises:
            Refused: with the negative response code.
        """
        service = SERVICES.get(pdu[0])
        if service is None:
            raise Refused(negative.SERVICE_NOT_SUPPORTED)
        if service.extended_only and self.session == DEFAULT:
            raise Refused(negative.SERVICE_NOT_IN_SESSION)
        if len(pdu) < service.shortest:
            raise Refused(negative.WRONG_LENGTH)
        if service.subfunctions:
            sub = pdu[1] & ~SUPPRESS
            lengths = service.subfunctions.get(sub)
            if lengths is None:
                raise Refused(negative.SUBFUNCTION_NOT_SUPPORTED)
            if len(pdu) != lengths:
                raise Refused(negative.WRONG_LENGTH)
            pdu = bytes([pdu[0], sub]) + pdu[2:]
        return service.run(self, pdu, now)

    def step(self, now: float) -> list[str]:
        """Let time pass.

        Returns:
            What happened without being asked for at this moment, in words.
        """
        happened = []
        if self.s3_at is not None and now >= self.s3_at:
            self.enter_session(DEFAULT, "the session ended by itself")
            happened.append("the session ended by itself")
        for at, answer in [late for late in self._late if now >= late[0]]:
            self._late.remove((at, answer))
            self._answer(answer, now)
        if self._job is not None:
            happened += self._work_on(self._job, now)
        return happened

    def _work_on(self, job: _Job, now: float) -> list[str]:
        """Ask for more time, or finish."""
        service = job.request.payload[0]
        if job.slow.forever and self.wishes.slow(service) is not job.slow:
            self._job = None
            self._renew(now)
            return ["the request it was busy with is dropped"]
        if now < job.next_at - 1e-9:
            return []
        if job.left > 0 or job.slow.forever:
            job.left -= 1
            job.next_at += job.slow.every_s
            self._answer(negative.negative(service, negative.PENDING), now)
            return []
        self._job = None
        return [f"after more time: {self._carry_out(job.request, now, after_pending=True)}"]

    def poll(self, now: float) -> list[tuple[int, bytes]]:
        """Frames it puts on the bus now."""
        frames = self.endpoint.poll(now)
        if self._cut_short and any(data[0] >> 4 == 2 for _, data in frames):
            self._cut_short = False
            self.endpoint.give_up()
            return [frame for frame in frames if frame[1][0] >> 4 != 2]
        return frames

    def said(self) -> dict[str, Any]:
        """For the control socket."""
        return {"session": self.session, "busy": self._job is not None, "silent": self.wishes.silent}
