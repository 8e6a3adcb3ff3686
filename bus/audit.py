"""What left the tool, counted at the door: journal lines of each exchange, each press, each frame held back.

Used by the gate's thread alone. It asks the journal, whose own thread waits for the disk, and never looks
whether a line got there: whatever fails here, the gate goes on as if nothing was.
"""

from __future__ import annotations

import collections
import contextlib
import dataclasses
import sys
from typing import TYPE_CHECKING, Any

from app.nrc import REFUSALS
from bus.exchange import Exchange, Outcome, Result
from bus.frame import digits
from bus.output_run import DEFAULT_SESSION, OPEN_SESSION
from bus.outputs import READ_BACK, unwrap_single

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from app.output_messages import OutputState
    from bus.frame import Frame
    from bus.journal import Journal

ASKED, SENT, BLOCKED = "asked", "sent", "blocked"
"""Kinds of journal entries: an exchange that was admitted, the frames of a press, a frame held back."""

BLOCKED_A_SECOND = 3
"""Frames held back that get a line of their own in a second; of the others the next line tells the number."""

CONTROL = 0x2F
"""InputOutputControlByIdentifier of ISO 14229-1; its fourth byte is 00 where control is returned."""

OVER = "Its exchange is over"
NOT_NEXT = "It is not the next frame of its request"
LAPSED = "Leave for it has lapsed"
NOT_SENDING = "The adapter takes no part"
"""Why a frame was held back."""


def unnamed() -> None:
    """The name of a craft that is not known."""


@dataclasses.dataclass
class _Asking:
    """The exchange under way, as it was admitted."""

    exchange: Exchange
    since: float
    operator: str
    craft: str


@dataclasses.dataclass
class _Press:
    """What was let out of one press."""

    output: str
    press: int
    since: float
    operator: str
    craft: str
    counts: collections.Counter[str] = dataclasses.field(default_factory=collections.Counter)
    answers_from: int | None = None
    last_answer: bytes = b""


class Audit:
    """The account of the one door.

    Attributes:
        operator: who is signed in; empty = nobody.
        craft: asked for family and serial in words, None while not known.
        answering: identifier of requests to that of their answers.

    Args:
        clock: seconds.
    """

    def __init__(self, clock: Callable[[], float]) -> None:
        self._clock = clock
        self._journal: Journal | None = None
        self._asking: _Asking | None = None
        self._press: _Press | None = None
        self._second = float("-inf")
        self._told = 0
        self._untold = 0
        self._failed = False
        self.operator = ""
        self.craft: Callable[[], str | None] = unnamed
        self.answering: dict[int, int] = {}

    def keep_in(self, journal: Journal) -> None:
        """From now on the account is written there; before, it is not kept."""
        self._journal = journal

    def admitted(self, exchange: Exchange) -> None:
        """An exchange begins."""
        self._asking = _Asking(exchange, self._clock(), self.operator, self._craft())

    def over(self, exchange: Exchange, because: str) -> None:
        """An exchange is over; ``because`` counts where its asker has not said what came of it."""
        asking, self._asking = self._asking, None
        if asking is None or asking.exchange is not exchange:
            asking = _Asking(exchange, self._clock(), self.operator, self._craft())
        request = exchange.request
        self._note(
            ASKED,
            craft=asking.craft,
            operator=asking.operator,
            asked=request.what,
            why=exchange.why,
            request=request.pdu.hex(),
            to=digits(request.request),
            frames=exchange.frames,
            **_told_of(exchange.outcome or Outcome(Result.BROKEN_OFF, words=because)),
            took_s=round(self._clock() - asking.since, 3),
        )

    @contextlib.contextmanager
    def giving(self, data: bytes, to: int, of: Exchange | OutputState | None) -> Iterator[None]:
        """Round the giving of a frame to the adapter: it counts once that has been done."""
        try:
            yield
        except Exception as error:
            self.block(data, to, f"It may not have left: {error}")
            raise
        self._count(data, to, of)

    def _count(self, data: bytes, to: int, of: Exchange | OutputState | None) -> None:
        if isinstance(of, Exchange):
            of.frames += 1
            return
        output, number = ("", 0) if of is None else (of.output, of.press)
        press = self._press
        if press is None or (press.output, press.press) != (output, number):
            self.press_over()
            press = self._press = _Press(output, number, self._clock(), self.operator, self._craft())
        press.answers_from = self.answering.get(to)
        press.counts[_name_of(data)] += 1

    def hear(self, frames: Iterable[Frame]) -> None:
        """Frames just received; of a press the last answer is told."""
        press = self._press
        if press is None:
            return
        for frame in frames:
            if frame.ident == press.answers_from:
                press.last_answer = unwrap_single(frame.data) or press.last_answer

    def press_over(self) -> None:
        """Nothing more of the press goes out."""
        press, self._press = self._press, None
        if press is not None:
            self._note(
                SENT,
                craft=press.craft,
                operator=press.operator,
                output=press.output,
                press=press.press,
                frames=press.counts.total(),
                **press.counts,
                last_answer=press.last_answer.hex(),
                took_s=round(self._clock() - press.since, 3),
            )

    def block(self, data: bytes, to: int, why: str) -> None:
        """A frame was handed over and not let out."""
        now = self._clock()
        if now - self._second >= 1.0:
            self._second, self._told = now, 0
        if self._told >= BLOCKED_A_SECOND:
            self._untold += 1
            return
        self._told += 1
        self._blocked(frame=data.hex(), to=digits(to), why=why)

    def turn(self, *, busy: bool) -> None:
        """One turn of the gate's loop is over; ``busy``: a press goes on."""
        if not busy:
            self.press_over()
        if self._untold and self._clock() - self._second >= 1.0:
            self.end()

    def end(self) -> None:
        """Tell the number of frames held back that has not been told."""
        if self._untold:
            self._blocked()

    def _blocked(self, **body: str) -> None:
        more, self._untold = self._untold, 0
        self._note(BLOCKED, craft=self._craft(), operator=self.operator, **body, more=more)

    def _craft(self) -> str:
        try:
            return self.craft() or ""
        except Exception as error:  # noqa: BLE001 - see the module
            self._say_once(error)
            return ""

    def _note(self, kind: str, /, **body: Any) -> None:
        if self._journal is None:
            return
        try:
            self._journal.put(kind, **body)
        except Exception as error:  # noqa: BLE001 - see the module
            self._say_once(error)

    def _say_once(self, error: Exception) -> None:
        if not self._failed:
            self._failed = True
            with contextlib.suppress(OSError):
                print(f"What is sent cannot be noted: {error!r}.", file=sys.stderr, flush=True)


def _told_of(outcome: Outcome) -> dict[str, Any]:
    """What came of an exchange, as it stands in its line."""
    told: dict[str, Any] = {"result": outcome.result.value}
    if outcome.result is Result.ANSWERED:
        return told | {"bytes": outcome.size}
    if outcome.code is not None:
        known = REFUSALS.get(outcome.code)
        return told | {"code": f"{outcome.code:02X}", "name": known.name if known is not None else ""}
    return told | {"words": outcome.words}


def _name_of(data: bytes) -> str:
    """What a frame of a press asks for."""
    pdu = unwrap_single(data) or b""
    if pdu in (OPEN_SESSION, DEFAULT_SESSION):
        return "session" if pdu == OPEN_SESSION else "default_session"
    if pdu[:1] == bytes([CONTROL]) and len(pdu) >= 4:
        return "release" if pdu[3] == 0 else "start"
    return "read_back" if pdu[:1] == READ_BACK else "other"
