"""Running the engine out of the water: how long it has run, and whether that is too long.

Pure: what a person says about the water, and the engine speed, come in. The tool only counts; it
cannot stop an engine.
"""

from __future__ import annotations

import enum

from app.engine_words import RUNNING_ABOVE

DRY_S = 15.0
"""Seconds without cooling water: generic default, published advice for such craft ranges from 15 to 30 s."""

REST_S = 300.0
"""Seconds of standing after which the full time counts again (common practice, no source)."""


class Water(enum.Enum):
    """What a person says about the cooling water."""

    NONE = enum.auto()
    HOSE = enum.auto()


class Flush(enum.IntEnum):
    """The step of flushing that is to be done now."""

    HOSE_ON = 0
    START = 1
    TAP_ON = 2
    TAP_OFF = 3
    ENGINE_OFF = 4
    DONE = 5


BY_ENGINE = frozenset({Flush.START, Flush.ENGINE_OFF, Flush.DONE})
"""The engine speed tells their end; of the others only a person can."""


class State(enum.Enum):
    """What the page says."""

    ASKS = enum.auto()
    """Nobody said whether there is water."""
    READY = enum.auto()
    """The engine stands and may run for the time that is left."""
    RUNS = enum.auto()
    OVER = enum.auto()
    """It runs, and its time is used up."""
    UNKNOWN = enum.auto()
    """It ran, and whether it still does is not known; the time goes on."""
    RESTS = enum.auto()
    """It stands, and its time is used up."""


class Trailer:
    """Counts one craft's seconds.

    Attributes:
        allowed_s: seconds it may run without water: the family's, or DRY_S.
        by_family: they are the family's.
        water: see Water; None until somebody said it.
        flush: see Flush; counts on the hose only.
        used_s: seconds it has run since it had last rested in full.
        ran: it has run since the water was said.
        ended: seconds of a run that has just ended, taken away by who tells the book; None if none has.
    """

    def __init__(self) -> None:
        self.clear()

    def clear(self) -> None:
        """Another craft: nothing is known of how long it ran."""
        self.limit(0.0)
        self.water: Water | None = None
        self.used_s = 0.0
        self.ran = False
        self.flush = Flush.HOSE_ON
        self.ended: float | None = None
        self._runs = self._known = False
        self._run_s = 0.0
        self._looked: float | None = None
        self._stood_since: float | None = None

    def limit(self, seconds: float) -> None:
        """What the family says that it may run without water; 0 = nothing, DRY_S holds."""
        self.by_family = seconds > 0
        self.allowed_s = seconds or DRY_S

    def say(self, water: Water | None) -> None:
        """A person says what there is; None = it is in the water again."""
        self.water, self.ran, self.flush = water, False, Flush.HOSE_ON

    def step_done(self) -> None:
        """A person says that the step is done; where the engine speed tells that, nothing changes."""
        if self.flush not in BY_ENGINE:
            self.flush = Flush(self.flush + 1)

    def take(self, speed: float | None, now: float) -> None:
        """Look at the engine; call it once a tick.

        Args:
            speed: rev/min, None while it is not known.
            now: seconds.
        """
        passed = 0.0 if self._looked is None else max(0.0, now - self._looked)
        self._looked = now
        self._known = speed is not None
        running = self._runs if speed is None else speed > RUNNING_ABOVE
        if self._runs:  # also what cannot be seen: it may have run
            self._run_s += passed
            if self.water is Water.NONE:
                self.used_s += passed
        if running:
            self._runs, self._stood_since = True, None
            self.ran = self.ran or self.water is not None
            self.flush = max(self.flush, Flush.TAP_ON)
        elif self._runs:
            self._stop(now)
        if self._stood_since is not None and speed is None:
            self._stood_since = now  # whether it stands is not known: the rest begins anew
        if self._stood_since is not None and now - self._stood_since >= REST_S:
            self.used_s, self._stood_since = 0.0, None

    def stands(self, now: float) -> None:
        """A person says that an engine stands whose speed is not known."""
        if self.state is State.UNKNOWN:
            self._stop(now)

    def _stop(self, now: float) -> None:
        if self.water is not None:
            self.ended = self._run_s
        if self.ran:  # earlier than told, the tap may still be on: water floods an engine that stands
            self.flush = Flush.DONE if self.flush is Flush.ENGINE_OFF else Flush.HOSE_ON
        self._runs, self._run_s, self._stood_since = False, 0.0, now

    @property
    def left_s(self) -> float:
        """Seconds it may still run without water; 0 or more."""
        return max(0.0, self.allowed_s - self.used_s)

    @property
    def run_s(self) -> float:
        """Seconds of the run that goes on; 0 if none does."""
        return self._run_s

    @property
    def runs(self) -> bool:
        """It runs, as far as is known."""
        return self._runs

    def rest_left_s(self, now: float) -> float:
        """Seconds until the full time counts again; 0 if it does."""
        return 0.0 if self._stood_since is None else max(0.0, REST_S - (now - self._stood_since))

    @property
    def state(self) -> State:
        """See State; of a run without water."""
        if self.water is None:
            return State.ASKS
        if self._runs and not self._known:
            return State.UNKNOWN
        if self._runs:
            return State.OVER if self.water is Water.NONE and self.left_s == 0 else State.RUNS
        return State.RESTS if self.water is Water.NONE and self.left_s == 0 else State.READY
