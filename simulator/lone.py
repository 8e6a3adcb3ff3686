"""A sender that nobody confirms: it repeats the same frame until somebody does."""

from __future__ import annotations

FRAME_BITS = 111
"""Of a frame with 8 bytes and an 11-bit identifier, without stuffing."""
SHARE = 20
"""A real sender repeats back to back; here at a twentieth of what the line holds, to spare the machine."""
STEP_UP, MOST = 8, 128
"""The error counter rises by 8 for each frame that is not confirmed, and for that reason no higher than 128
(rule of the CAN standard: an error-passive sender stops counting missing acknowledgements)."""


class LoneSender:
    """The one controller on the bus.

    Attributes:
        errors: its transmit error counter.
        repeats: frames that were sent again since the start.
    """

    def __init__(self, bitrate: int) -> None:
        self._per_ms = bitrate / 1000.0 / FRAME_BITS / SHARE
        self._credit = 0.0
        self._stuck: tuple[int, bytes] | None = None
        self.errors = 0
        self.repeats = 0

    def on_bus(
        self, frames: list[tuple[int, bytes]], step_ms: int, *, confirmed: bool, awake: bool
    ) -> list[tuple[int, bytes]]:
        """Frames really on the bus in this step.

        Args:
            frames: what the controller wants to send.
            step_ms: length of the step.
            confirmed: whether somebody acknowledges.
            awake: whether the controller is awake.
        """
        if confirmed or not awake:
            self._stuck = None
            self.errors = max(0, self.errors - len(frames)) if awake else 0
            return frames
        if self._stuck is None:
            if not frames:
                return []
            self._stuck = frames[0]
        self._credit = min(self._credit + self._per_ms * step_ms, 10.0)
        times, self._credit = int(self._credit), self._credit % 1.0
        self.errors = min(MOST, self.errors + STEP_UP * times)
        self.repeats += times
        return [self._stuck] * times
