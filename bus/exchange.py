"""One admitted request and its answers, frame by frame.

The gate admits a request as a whole; from then on only its own next frame, or flow control for its answer,
may go out, and only to its controller. Decides, sends nothing.
"""

from __future__ import annotations

import dataclasses
import enum
import queue
import threading
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable

    from bus.frame import Frame
    from bus.journal import Ticket

FLOW_CONTROL = bytes.fromhex("300000")
"""ISO 15765-2: continue, no further flow control, no separation time. The only one we ever send."""


class Class(enum.StrEnum):
    """What a request does to a craft; decides what must be true before it may go."""

    READING = "reading"
    WRITING = "writing"


@dataclasses.dataclass(frozen=True)
class AllowedRequest:
    """A request that a family's data make possible, exactly.

    Attributes:
        pdu: its bytes.
        kind: see Class.
        request, response: identifiers of the controller.
        padding: filler byte.
        what: in words, for the journal and for a refusal.
    """

    pdu: bytes
    kind: Class
    request: int
    response: int
    padding: int
    what: str

    def frames(self) -> list[tuple[int, bytes]]:
        """Identifier and data of every frame of it, in order."""
        return [(self.request, data) for data in frames_of(self.pdu, self.padding)]

    def flow_control(self) -> tuple[int, bytes] | None:
        """The frame that a first frame of a long answer earns; None where there are no long answers."""
        return self.request, _filled(FLOW_CONTROL, self.padding)

    def answered_by(self, ident: int) -> bool:
        """Whether a frame with this identifier may be an answer."""
        return ident == self.response


class Result(enum.StrEnum):
    """How an exchange ended."""

    ANSWERED = "answered"
    REFUSED = "refused"
    SILENT = "no answer"
    NONSENSE = "no sense"
    BROKEN_OFF = "broken off"


class Outcome(NamedTuple):
    """What came of an exchange, as its asker says.

    Attributes:
        result: see Result.
        size: bytes of the answer.
        code: negative response code of ISO 14229-1, None if it was not refused.
        words: why there is no answer.
    """

    result: Result
    size: int = 0
    code: int | None = None
    words: str = ""


def frames_of(pdu: bytes, padding: int) -> list[bytes]:
    """The ISO 15765-2 frames of a request on classic CAN, in order.

    Raises:
        ValueError: no byte, or more than 4095.
    """
    if not 0 < len(pdu) <= 4095:
        raise ValueError(f"a request of {len(pdu)} bytes")
    if len(pdu) <= 7:
        return [_filled(bytes([len(pdu)]) + pdu, padding)]
    frames = [bytes([0x10 | len(pdu) >> 8, len(pdu) & 0xFF]) + pdu[:6]]
    for number, start in enumerate(range(6, len(pdu), 7), start=1):
        frames.append(_filled(bytes([0x20 | number % 16]) + pdu[start : start + 7], padding))
    return frames


def _filled(frame: bytes, padding: int) -> bytes:
    return frame + bytes([padding]) * (8 - len(frame))


class Exchange:
    """An admitted request while it is under way.

    Attributes:
        request: what was admitted.
        intent, why: see Admission.
        blocked: frames that were asked for and are not part of it.
        frames: how many of it the gate has given to the adapter.
        outcome: what came of it; its asker says so before it is finished.
    """

    def __init__(self, request: AllowedRequest, intent: Ticket | None = None, why: str = "") -> None:
        self.request = request
        self.intent = intent
        self.why = why
        self.blocked = 0
        self.frames = 0
        self.outcome: Outcome | None = None
        self._next = request.frames()
        self._flow_control = request.flow_control()
        self._answers: queue.SimpleQueue[bytes] = queue.SimpleQueue()
        self._first_frames = 0
        self._begun = False
        self._open = True

    def let_out(self, ident: int, data: bytes) -> bool:
        """Whether this very frame may go now; the frame then counts as gone."""
        frame = ident, data
        if not self._open:
            self.blocked += 1
            return False
        if self._next and frame == self._next[0]:
            del self._next[0]
            self._begun = True
            return True
        if frame == self._flow_control and not self._next and self._first_frames > 0:
            self._first_frames -= 1
            return True
        self.blocked += 1
        return False

    def feed(self, frames: Iterable[Frame]) -> None:
        """Frames just received, of whomever."""
        for frame in frames:
            if self.request.answered_by(frame.ident):
                self.hear(frame.data)

    def hear(self, data: bytes) -> None:
        """A frame of the controller; each first frame of a long answer earns one flow control.

        What came before the request had begun to go out answers somebody else; so does a long answer that
        began before all of it was out.
        """
        if not self._begun:
            return
        if data and data[0] >> 4 == 1 and not self._next:
            self._first_frames += 1
        self._answers.put(data)

    def answer(self, timeout_s: float) -> bytes | None:
        """The next frame heard from the controller, None after ``timeout_s``."""
        try:
            return self._answers.get(timeout=timeout_s) if timeout_s > 0 else self._answers.get_nowait()
        except queue.Empty:
            return None

    @property
    def closed(self) -> bool:
        """Nothing more of it goes out; nothing more may be waited for."""
        return not self._open

    def close(self) -> None:
        """Nothing more of it goes out."""
        self._open = False


class Admission:
    """A question of another thread to the gate: may this go? Answered by the gate's own thread.

    Whoever settles it first, the gate with its answer or the asker who no longer waits, has settled it: an
    exchange that nobody would ever close cannot begin.

    Attributes:
        request: what is asked for.
        intent: the journal's promise that the intent to write is on the disk; None where nothing is written.
        why: what it is asked for ("scan", "clear" …), for the journal.
        exchange: the admitted exchange, None if refused.
        needs: why not, in words.
    """

    def __init__(self, request: AllowedRequest, intent: Ticket | None = None, why: str = "") -> None:
        self.request = request
        self.intent = intent
        self.why = why
        self.exchange: Exchange | None = None
        self.needs: tuple[str, ...] = ()
        self._unsettled = [True]
        self._answered = threading.Event()

    def _first(self) -> bool:
        """Whether it was open until now; one thread only ever gets a yes (list.pop is one step)."""
        try:
            return self._unsettled.pop()
        except IndexError:
            return False

    def settle(self, exchange: Exchange | None, needs: tuple[str, ...]) -> bool:
        """The gate's answer; False if nobody waits for it any more."""
        if not self._first():
            return False
        self.exchange, self.needs = exchange, needs
        self._answered.set()
        return True

    def abandon(self) -> bool:
        """Wait no longer; False if the gate has just answered."""
        return self._first()

    def wait(self, timeout_s: float) -> bool:
        """Whether the gate answered in time."""
        return self._answered.wait(timeout_s)
