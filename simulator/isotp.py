"""The controller's end of ISO 15765-2 transport: normal addressing, classic CAN. Pure: frames in, frames out.

Figures of the standard as collected from open secondary sources: N_Bs and N_Cr 1000 ms, STmin 0 to 127 ms and
100 to 900 µs with every reserved code taken as 127 ms, block size 0 = no further flow control.
"""

from __future__ import annotations

import collections
import dataclasses

N_BS_S = N_CR_S = 1.0
"""Longest wait for a flow control, and for the next consecutive frame."""
LONGEST = 4095
"""Bytes of a message whose length has 12 bits."""
LONGEST_SEPARATION_S = 0.127
CONTINUE, WAIT, OVERFLOW = 0, 1, 2
BURST = 16
"""Frames given out at one poll at most when the other side wants no pause: about 4 ms of a 500 kbit/s bus."""

Frames = list[tuple[int, bytes]]


def separation_s(code: int) -> float:
    """Pause between consecutive frames that a STmin code asks for, in seconds; 0 to 0.127."""
    if code <= 0x7F:
        return code / 1000.0
    if 0xF1 <= code <= 0xF9:
        return (code - 0xF0) / 10_000.0
    return LONGEST_SEPARATION_S


@dataclasses.dataclass(frozen=True)
class Request:
    """A whole message as received.

    Attributes:
        functional: it came by the identifier that every controller hears.
    """

    payload: bytes
    functional: bool


@dataclasses.dataclass
class _Sending:
    """A long answer on its way."""

    payload: bytes
    at: int = 6
    number: int = 1
    block: int = 0
    endless: bool = False
    separation: float = 0.0
    next_at: float = 0.0
    waits_since: float | None = None


@dataclasses.dataclass
class _Receiving:
    """A long request that comes in."""

    length: int
    payload: bytes
    number: int
    block: int
    heard_at: float


class Endpoint:
    """One controller's transport.

    Attributes:
        requests: whole messages received, oldest first; the owner takes them out.
        problems: sentences on frames that do not belong; the owner takes them out.
    """

    def __init__(
        self,
        request: int,
        response: int,
        functional: int | None = None,
        *,
        padding: int = 0,
        block_size: int = 0,
        st_min: int = 0,
        buffer: int = LONGEST,
    ) -> None:
        """Make it.

        Args:
            request: identifier it listens to.
            response: identifier it sends with.
            functional: the other one it listens to, if any.
            padding: filler byte of short frames.
            block_size: frames between two flow controls, asked of a tester that sends a long request.
            st_min: pause asked of it.
            buffer: longest message it takes, bytes.
        """
        self.request, self.response, self.functional = request, response, functional
        self._padding, self._block_size, self._st_min, self._buffer = padding, block_size, st_min, buffer
        self._out: Frames = []
        self._sending: _Sending | None = None
        self._receiving: _Receiving | None = None
        self.requests: collections.deque[Request] = collections.deque()
        self.problems: list[str] = []

    def reset(self) -> None:
        """Forget everything, as at power-down."""
        self._out.clear()
        self._sending = self._receiving = None
        self.requests.clear()

    @property
    def busy(self) -> bool:
        """A long answer is not out yet."""
        return self._sending is not None

    def send(self, payload: bytes, now: float) -> None:
        """Answer; a long answer waits for the tester's flow control.

        Args:
            payload: 1 to 4095 bytes.
            now: seconds.
        """
        if not 0 < len(payload) <= LONGEST:
            raise ValueError(f"{len(payload)} bytes are no message.")
        if len(payload) <= 7:
            self._out.append((self.response, single_frame(payload, self._padding)))
            return
        self.send_raw(bytes([0x10 | len(payload) >> 8, len(payload) & 0xFF]) + payload[:6])
        self._sending = _Sending(payload, waits_since=now)

    def send_raw(self, data: bytes, *, fill: bool = True) -> None:
        """Put one frame on the bus as it is."""
        self._out.append((self.response, data + bytes([self._padding]) * (8 - len(data)) if fill else data))

    def give_up(self) -> None:
        """Stop a long answer where it is."""
        self._sending = None

    def receive(self, ident: int, data: bytes, now: float) -> None:
        """Take a frame of the bus; one that is not for this controller is ignored."""
        if ident not in (self.request, self.functional):
            return
        functional = ident == self.functional
        kind = data[0] >> 4 if data else None
        if kind == 0:
            self._single(data, functional=functional)
        elif functional:
            self._problem("a functional request must be a single frame")
        elif kind == 1:
            self._first(data, now)
        elif kind == 2:
            self._consecutive(data, now)
        elif kind == 3:
            self._flow_control(data, now)
        else:
            self._problem("no frame of ISO 15765-2")

    def _problem(self, words: str) -> None:
        self.problems.append(words)

    def _single(self, data: bytes, *, functional: bool) -> None:
        length = data[0]
        if not 0 < length <= 7 or len(data) <= length:
            self._problem("a single frame with a length that does not fit it")
            return
        if not functional:
            self._receiving = self._sending = None
        self.requests.append(Request(data[1 : 1 + length], functional))

    def _first(self, data: bytes, now: float) -> None:
        if len(data) < 8:
            self._problem("a first frame that is not full")
            return
        length = (data[0] & 0xF) << 8 | data[1]
        if length == 0:  # the escape for lengths of 32 bits: more than this controller takes
            self._receiving = None
            self._control(OVERFLOW)
            return
        if length < 8:
            self._problem("a first frame for a message that fits a single frame")
            return
        if length > self._buffer:
            self._receiving = None
            self._control(OVERFLOW)
            return
        self._receiving = _Receiving(length, data[2:8], 1, self._block_size, now)
        self._control(CONTINUE)

    def _control(self, status: int) -> None:
        self.send_raw(bytes([0x30 | status, self._block_size, self._st_min]))

    def _consecutive(self, data: bytes, now: float) -> None:
        receiving = self._receiving
        if receiving is not None and now - receiving.heard_at > N_CR_S:
            receiving = self._receiving = None
        if receiving is None:
            self._problem("a consecutive frame without a first one")
            return
        rest = receiving.length - len(receiving.payload)
        if data[0] & 0xF != receiving.number or len(data) < 1 + min(rest, 7):
            self._receiving = None
            self._problem("a consecutive frame out of its order, or not full")
            return
        receiving.payload += data[1 : 1 + rest]
        receiving.number = (receiving.number + 1) % 16
        receiving.heard_at = now
        if len(receiving.payload) == receiving.length:
            self._receiving = None
            self.requests.append(Request(receiving.payload, functional=False))
        elif self._block_size:
            receiving.block -= 1
            if receiving.block == 0:
                receiving.block = self._block_size
                self._control(CONTINUE)

    def _flow_control(self, data: bytes, now: float) -> None:
        sending = self._sending
        if sending is None or sending.waits_since is None:
            self._problem("a flow control that nobody waits for")
            return
        status = data[0] & 0xF
        if status == WAIT:
            sending.waits_since = now
        elif status == CONTINUE and len(data) >= 3:
            sending.waits_since = None
            sending.block, sending.endless = data[1], data[1] == 0
            sending.separation = separation_s(data[2])
            sending.next_at = now
        else:
            self._sending = None
            if status != OVERFLOW:
                self._problem("a flow control of a reserved kind, or not full")

    def poll(self, now: float) -> Frames:
        """Frames to put on the bus now, oldest first."""
        frames, self._out = self._out, []
        sending = self._sending
        if sending is None:
            return frames
        if sending.waits_since is not None:
            if now - sending.waits_since > N_BS_S:
                self._sending = None
            return frames
        for _ in range(1 if sending.separation > 0 else BURST):
            if now < sending.next_at - 1e-9:
                break
            part = sending.payload[sending.at : sending.at + 7]
            self.send_raw(bytes([0x20 | sending.number]) + part)
            sending.at += len(part)
            sending.number = (sending.number + 1) % 16
            sending.next_at = now + sending.separation
            if sending.at >= len(sending.payload):
                self._sending = None
                break
            if not sending.endless:
                sending.block -= 1
                if sending.block == 0:
                    sending.waits_since = now
                    break
        frames += self._out
        self._out = []
        return frames


def single_frame(payload: bytes, padding: int = 0) -> bytes:
    """The one frame of a short message.

    Args:
        payload: 1 to 7 bytes.
        padding: filler byte.
    """
    if not 0 < len(payload) <= 7:
        raise ValueError(f"{len(payload)} bytes do not fit a single frame.")
    return (bytes([len(payload)]) + payload).ljust(8, bytes([padding]))
