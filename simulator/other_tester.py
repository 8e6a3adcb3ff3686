"""A second tester on the same bus: it asks the engine controller while the tool is there too."""

from __future__ import annotations

from simulator.isotp import single_frame

REQUESTS = tuple(bytes.fromhex(text) for text in ("3E80", "22F190", "1902FF"))
EVERY_S = 0.1
CONTINUE = b"\x30\x00\x00".ljust(8, b"\x00")


class OtherTester:
    """Asks in turn, and takes long answers as the standard wants."""

    def __init__(self, request: int, response: int, now: float, seconds: float) -> None:
        """Begin.

        Args:
            request: identifier of the controller it asks.
            response: identifier of its answers.
            now: seconds of the bus.
            seconds: how long it stays.
        """
        self._request, self._response = request, response
        self._ends, self._next, self._count = now + seconds, now, 0
        self._flow_control = False

    def over(self, now: float) -> bool:
        """Whether it has left."""
        return now >= self._ends

    def hear(self, ident: int, data: bytes) -> None:
        """A frame of a controller."""
        if ident == self._response and data[:1] and data[0] >> 4 == 1:
            self._flow_control = True

    def poll(self, now: float) -> list[tuple[int, bytes]]:
        """Its frames of this moment."""
        frames = []
        if self._flow_control:
            self._flow_control = False
            frames.append((self._request, CONTINUE))
        if now >= self._next and not self.over(now):
            self._next += EVERY_S
            frames.append((self._request, single_frame(REQUESTS[self._count % len(REQUESTS)])))
            self._count += 1
        return frames
