"""One request and its answer over ISO 15765-2, through the gate.

The library cuts into frames and puts together; the gate decides which of its frames leave. No thread of its
own: whoever waits for the answer turns the wheel.
"""

from __future__ import annotations

import logging
import time
from collections import deque
from typing import TYPE_CHECKING

import isotp
from udsoncan.connections import BaseConnection
from udsoncan.exceptions import TimeoutException

from app.errors import ControllerError, ControllerNonsense, ControllerSilent
from bus.frame import EXTENDED
from bus.requests import echo

if TYPE_CHECKING:
    from collections.abc import Callable

    from bus.exchange import AllowedRequest, Exchange, Outcome
    from bus.gate import Gate
    from bus.journal import Ticket

TURN_S = 0.02
"""Longest wait for a frame before timers are looked at."""

MOST_A_TURN = 64
"""Frames taken before clock and library are looked at; what comes faster waits in the queue."""

LONGEST_REQUEST_S = 2.0
"""For a request of several frames to be taken by the controller."""

LONG_ANSWERS = 4
"""Long answers that may begin in one exchange; a controller that begins one again and again is let alone."""

LONGEST_GAP = 0x7F
"""ms between frames: what a reserved separation time stands for."""

PARAMETERS = {
    # Every one that decides what is sent or accepted, so that no default of the library does.
    "stmin": 0,
    "blocksize": 0,
    "tx_data_length": 8,
    "tx_data_min_length": 8,
    "max_frame_size": 4095,
    "rx_flowcontrol_timeout": 1000,  # N_Bs and N_Cr of ISO 15765-2, in ms
    "rx_consecutive_frame_timeout": 1000,
    "wftmax": 4,
    "can_fd": False,
}

NOT_TAKEN = "It does not take the request."
BROKEN_OFF = "Its answer broke off half-way."
BROKEN_BY: dict[type[Exception], str] = {
    isotp.ConsecutiveFrameTimeoutError: BROKEN_OFF,
    isotp.WrongSequenceNumberError: BROKEN_OFF,
    isotp.FrameTooLongError: BROKEN_OFF,
    isotp.FlowControlTimeoutError: NOT_TAKEN,
    isotp.OverflowError: NOT_TAKEN,
    isotp.MaximumWaitFrameReachedError: NOT_TAKEN,
}
"""After these nothing of the exchange can come to a good end."""

for _name in ("isotp", "Connection", "UdsClient"):
    logging.getLogger(_name).addHandler(logging.NullHandler())
    logging.getLogger(_name).propagate = False  # what they have to say is told in our own words


class LinkCut(ControllerError):
    """The gate closed the exchange: something that must be true no longer was, or the adapter went."""


class Link(BaseConnection):
    """The transport of one udsoncan client.

    Attributes:
        strays: answers in this exchange that did not answer its request.
        last: the answer that was handed on last.
    """

    def __init__(self, gate: Gate, *, clock: Callable[[], float] = time.monotonic) -> None:
        super().__init__()
        self._gate = gate
        self._clock = clock
        self._exchange: Exchange | None = None
        self._stack: isotp.TransportLayerLogic | None = None
        self._heard: deque[bytes] = deque()
        self._until = 0.0
        self._broken = ""
        self._begun = 0
        self.strays = 0
        self.last = b""

    def begin(
        self, request: AllowedRequest, longest_s: float, intent: Ticket | None = None, why: str = ""
    ) -> None:
        """Ask leave for one request; ``end`` must follow.

        Args:
            request: what will be sent, exactly.
            longest_s: the whole exchange, however often the controller asks for more time.
            intent: see Gate.admit.
            why: see Gate.admit.

        Raises:
            Refused: see Gate.admit.
        """
        self._exchange = self._gate.admit(request, intent, why)
        self._stack = isotp.TransportLayerLogic(
            self._next_frame,
            self._send_frame,
            _address(request),
            error_handler=self._on_error,
            params={**PARAMETERS, "tx_padding": request.padding},
        )
        self._heard.clear()
        self._until = self._clock() + longest_s
        self._broken = ""
        self._begun = 0
        self.strays = 0
        self.last = b""

    def say(self, outcome: Outcome) -> None:
        """What came of the exchange under way, for the journal."""
        if self._exchange is not None:
            self._exchange.outcome = outcome

    def end(self) -> None:
        """The exchange is over, however it went."""
        exchange, self._exchange, self._stack = self._exchange, None, None
        if exchange is not None:
            self._gate.finish(exchange)

    def open(self) -> Link:
        """See udsoncan; ``begin`` opens."""
        return self

    def close(self) -> None:
        """See udsoncan."""
        self.end()

    def is_open(self) -> bool:
        """See udsoncan."""
        return self._exchange is not None

    def empty_rxqueue(self) -> None:
        """Forget what came before the request went out: it answers something else."""
        exchange, stack = self._under_way()
        while exchange.answer(0) is not None:
            pass
        self._heard.clear()
        stack.reset()

    def specific_send(self, payload: bytes, timeout: float | None = None) -> None:  # noqa: ARG002
        """See udsoncan: the whole request leaves, or is on its way frame by frame.

        Raises:
            ControllerError: the controller does not take it.
        """
        _, stack = self._under_way()
        stack.send(payload)
        until = min(self._until, self._clock() + LONGEST_REQUEST_S)
        stack.process()
        while stack.transmitting():
            if self._clock() >= until:
                raise ControllerSilent(NOT_TAKEN)
            self._turn(TURN_S)
            self._must_be_open()

    def specific_wait_frame(self, timeout: float | None = None) -> bytes:
        """See udsoncan: the next answer to this request.

        ``timeout`` is for the answer to begin; one that has begun may go on to the end of the exchange.

        Raises:
            TimeoutException: none came.
            ControllerError: none will come to a good end.
        """
        exchange, stack = self._under_way()
        request = exchange.request
        until = min(self._until, self._clock() + (timeout or 0.0))
        while (now := self._clock()) < until or (stack.is_rx_active() and now < self._until):
            self._turn(TURN_S if now >= until else min(TURN_S, until - now))
            while (payload := stack.recv()) is not None:
                answer = bytes(payload)
                if _answers(answer, request.pdu):
                    self.last = answer
                    return answer
                self.strays += 1
            self._must_be_open()
        if stack.is_rx_active():
            raise ControllerNonsense(BROKEN_OFF)
        raise TimeoutException

    def _under_way(self) -> tuple[Exchange, isotp.TransportLayerLogic]:
        assert self._exchange is not None, "begin comes first"
        assert self._stack is not None
        return self._exchange, self._stack

    def _turn(self, wait_s: float) -> None:
        """Take what was heard, let the library work on it."""
        exchange, stack = self._under_way()
        frame = exchange.answer(wait_s)
        left = MOST_A_TURN
        while frame is not None:
            sound = _sound(frame)
            if sound is not None:
                self._begun += sound[0] >> 4 == 1
                self._heard.append(sound)
            left -= 1
            frame = exchange.answer(0) if left else None
        if self._begun > LONG_ANSWERS:
            raise ControllerNonsense("It begins its answer again and again.")
        stack.process()
        if self._broken:
            raise ControllerNonsense(self._broken)

    def _must_be_open(self) -> None:
        exchange, _ = self._under_way()
        if exchange.closed:
            raise LinkCut("The exchange was cut off.")

    def _next_frame(self, _timeout_s: float) -> isotp.CanMessage | None:
        if not self._heard:
            return None
        exchange, _ = self._under_way()
        data = self._heard.popleft()
        ident = exchange.request.response
        return isotp.CanMessage(
            arbitration_id=ident & ~EXTENDED, extended_id=bool(ident & EXTENDED), dlc=len(data), data=data
        )

    def _send_frame(self, message: isotp.CanMessage) -> None:
        exchange, _ = self._under_way()
        mark = EXTENDED if message.is_extended_id else 0
        self._gate.transmit(exchange, mark | message.arbitration_id, bytes(message.data))

    def _on_error(self, error: Exception) -> None:
        self._broken = self._broken or BROKEN_BY.get(type(error), "")


def _address(request: AllowedRequest) -> isotp.Address:
    """Normal addressing, whichever length the identifiers have: the identifier alone says who is asked."""
    wide = request.request & EXTENDED
    mode = isotp.AddressingMode.Normal_29bits if wide else isotp.AddressingMode.Normal_11bits
    return isotp.Address(mode, rxid=request.response & ~EXTENDED, txid=request.request & ~EXTENDED)


def _answers(answer: bytes, pdu: bytes) -> bool:
    """Whether an answer belongs to a request: service and echo are right, or that service is refused."""
    if answer[:1] == b"\x7f":
        return len(answer) == 3 and answer[1] == pdu[0]
    return answer.startswith(echo(pdu))


def _sound(data: bytes) -> bytes | None:
    """A frame as ISO 15765-2 wants it to be taken; None for one that is to be ignored.

    Ignored: a single frame without its length or with too great a one, and a first frame of an answer that
    one frame would hold. A reserved separation time means the longest.
    """
    if not data:
        return None
    kind, low = data[0] >> 4, data[0] & 0x0F
    if kind == 0:
        return data if 1 <= low <= 7 and len(data) > low else None
    if kind == 1:
        return data if len(data) == 8 and low << 8 | data[1] > 7 else None
    if kind == 2:
        return data
    if kind == 3 and len(data) >= 3:
        reserved = data[2] > LONGEST_GAP and not 0xF1 <= data[2] <= 0xF9
        return bytes([data[0], data[1], LONGEST_GAP if reserved else data[2], *data[3:]])
    return None
