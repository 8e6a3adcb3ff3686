"""Bad answers on order: a controller that is slow, silent, or talks nonsense."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

from simulator.errors import Misunderstood

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping


def _other_service(request: bytes, _answer: bytes) -> bytes:
    return bytes([(request[0] + 1) & 0x3F | 0x40]) + request[1:3]


def _wrong_length(_request: bytes, answer: bytes) -> bytes:
    return answer[:-1] if len(answer) > 1 else answer + b"\x00"


KINDS: Mapping[str, Callable[[bytes, bytes], bytes] | None] = {
    "nonsense": lambda _request, _answer: bytes.fromhex("A55AC33C0F"),
    "other_service": _other_service,
    "late": lambda _request, answer: answer,
    "truncated": lambda _request, answer: answer,
    "never": None,
    "wrong_length": _wrong_length,
    "negative": None,
}
"""Kind of bad answer to what becomes of the good one, by request and good answer."""
CARRIED_OUT = frozenset({"late", "truncated", "wrong_length"})
"""Kinds in which the request is done for all that; in the others only if that is ordered."""


@dataclasses.dataclass
class Bad:
    """A bad answer that is ordered.

    Attributes:
        kind: one of KINDS.
        code: negative response code.
        left: requests it still applies to.
        seconds: how late.
        done: whether the request is carried out.
    """

    kind: str
    code: int
    left: int
    seconds: float
    done: bool

    def spoil(self, request: bytes, answer: bytes) -> bytes | None:
        """What is sent instead of the good answer; None = nothing."""
        if self.kind == "negative":
            return bytes([0x7F, request[0], self.code])
        change = KINDS[self.kind]
        return None if change is None else change(request, answer)


@dataclasses.dataclass(frozen=True)
class Slow:
    """An ordered answer that more time is needed (78).

    Attributes:
        times: how often; every_s: how far apart.
        forever: no answer ever follows.
    """

    times: int
    every_s: float
    forever: bool


class Wishes:
    """What was ordered of one controller.

    Attributes:
        silent: it does not answer diagnostic requests at all.
        deaf_to_release: it neither carries out nor answers a request to give an output back.
        mute_status, busy_status: asked whether an inhibit holds it says nothing, or that it is busy.
    """

    def __init__(self) -> None:
        self.silent = self.deaf_to_release = False
        self.mute_status = self.busy_status = False
        self._slow: dict[int, Slow] = {}
        self._bad: dict[int, Bad] = {}

    def pending(self, service: str, times: int, every_s: float, *, forever: bool) -> None:
        """Answer "response pending" so many times before every answer of a service; 0 = no longer.

        Raises:
            Misunderstood: no service.
        """
        number = one_byte(service, "service")
        if times > 0 or forever:
            self._slow[number] = Slow(times, every_s, forever)
        else:
            self._slow.pop(number, None)

    def answer(
        self, service: str, kind: str, *, nrc: str, count: int, seconds: float, done: bool | None
    ) -> None:
        """Spoil the next answers of a service.

        Raises:
            Misunderstood: no service, kind or negative response code.
        """
        if kind not in KINDS:
            raise Misunderstood(f"{kind!r} is no kind of bad answer; there are {', '.join(KINDS)}.")
        code = one_byte(nrc, "nrc")
        carried_out = kind in CARRIED_OUT if done is None else done
        self._bad[one_byte(service, "service")] = Bad(kind, code, count, seconds, carried_out)

    def slow(self, service: int) -> Slow | None:
        """What is ordered for a request of this service."""
        return self._slow.get(service)

    def take(self, service: int) -> Bad | None:
        """The bad answer ordered for this request, counted off."""
        bad = self._bad.get(service)
        if bad is None:
            return None
        bad.left -= 1
        if bad.left <= 0:
            del self._bad[service]
        return bad


def one_byte(text: str, name: str) -> int:
    """A byte written in hexadecimal.

    Raises:
        Misunderstood: it is none.
    """
    try:
        number = int(text, 16)
    except ValueError:
        number = -1
    if not 0 <= number <= 0xFF:
        raise Misunderstood(f"'{name}' is one byte in hexadecimal digits, such as 19, not {text!r}.")
    return number
