"""What hands do on the craft: throttle lever, key, start and stop switch, lanyard, reverse lever."""

from __future__ import annotations

HAND_PERCENT_S = 300.0
"""How fast a hand moves the lever at most."""


class Driver:
    """The person on the craft.

    Attributes:
        lever: throttle lever, 0 to 100 %.
        key: whether the key is on; key_level is percent of top engine speed it allows, 0 = no valid key.
        start, stop: switches, pressed or not.
        lanyard_pulled: the lanyard is off its post.
        reverse: the reverse lever is pulled.
        steering: degrees, to starboard positive.
        trim: switch of the trim, +1 bow up, -1 bow down, 0 let go.
    """

    def __init__(self) -> None:
        self.lever = 0.0
        self.key = False
        self.key_level = 100
        self.start = self.stop = self.lanyard_pulled = self.reverse = False
        self.steering = self.trim = 0.0
        self._wanted = 0.0
        self._rate = HAND_PERCENT_S

    def throttle(self, percent: float, over_s: float = 0.0) -> None:
        """Move the lever to ``percent``, taking ``over_s`` seconds for it."""
        self._wanted = min(max(percent, 0.0), 100.0)
        way = abs(self._wanted - self.lever)
        self._rate = min(HAND_PERCENT_S, way / over_s) if over_s > 0 else HAND_PERCENT_S

    def step(self, dt_s: float) -> None:
        """Move on."""
        left = self._wanted - self.lever
        most = self._rate * dt_s
        self.lever += min(max(left, -most), most)
