"""The last minute of every signal that is a number: in slots of a quarter second, lowest and highest of each.

All signals are kept, so that a chart of one that is chosen only now begins with its past.
"""

from __future__ import annotations

import math
from array import array
from typing import TYPE_CHECKING

from app.reading import Quality

if TYPE_CHECKING:
    from app.moment import Moment

SLOT_S = 0.25
"""Wide enough that most signals come in each; low and high keep a spike that is shorter."""

SLOTS = 240
"""Complete slots: the last 60 s."""

SPAN_S = SLOT_S * SLOTS


class Track:
    """One signal: a ring of slots; NaN where no good value was."""

    def __init__(self) -> None:
        nothing = [math.nan] * (SLOTS + 1)
        self.low, self.high = array("f", nothing), array("f", nothing)


class Trend:
    """Tracks of this craft's signals.

    Attributes:
        slot: number of the slot that is being filled; the one before it is the newest complete one.
    """

    def __init__(self) -> None:
        self.slot = 0
        self._tracks: dict[str, Track] = {}

    def clear(self) -> None:
        """Another craft."""
        self._tracks.clear()

    def take(self, moment: Moment) -> None:
        """Look at every value; one that is not good leaves a gap."""
        slot = int(moment.now / SLOT_S)
        if slot != self.slot:
            self._turn(slot)
        if moment.catalogue is None or not moment.live:
            return
        place = slot % (SLOTS + 1)
        for info in moment.catalogue.signals:
            value = moment.value(info.name)
            if value is None or not isinstance(value.value, int | float):
                continue
            if moment.quality(info.name) is not Quality.GOOD:
                continue
            track = self._tracks.get(info.name)
            if track is None:
                track = self._tracks[info.name] = Track()
            number = float(value.value)
            if not number >= track.low[place]:  # also where there was none: nothing compares with NaN
                track.low[place] = number
            if not number <= track.high[place]:
                track.high[place] = number

    def track(self, signal: str) -> Track | None:
        """The ring of one signal: slot n stands at n % (SLOTS + 1). None before a good number came."""
        return self._tracks.get(signal)

    def _turn(self, slot: int) -> None:
        """Slots that were passed over, and the new one, are empty."""
        passed = slot - self.slot
        begin = self.slot + 1 if 0 < passed <= SLOTS else slot - SLOTS
        places = [number % (SLOTS + 1) for number in range(begin, slot + 1)]
        for track in self._tracks.values():
            for place in places:
                track.low[place] = track.high[place] = math.nan
        self.slot = slot
