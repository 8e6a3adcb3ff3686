"""One output on the glass: chosen, armed by one touch, fired by another for as long as it holds.

Pure: touches and moments come in, requests to the bus side go out. It decides nothing about safety: the bus
side grants and refuses by itself. What stands here keeps a person from firing by mistake.
"""

from __future__ import annotations

import enum
from typing import TYPE_CHECKING

from app.messages import LinkState
from app.output_messages import Beat, Consider, EndInhibit, Lift, Phase, Press, Watch

if TYPE_CHECKING:
    from collections.abc import Callable

    from app.messages import FromScreen
    from app.moment import Moment
    from app.output_messages import OutputInfo, OutputState

ARM_S = 1.0
"""How long the arming touch must hold (design rule)."""

ARMED_FOR_S = 10.0
"""An arm that is not used dies (our own figure): the hand has gone elsewhere."""

CONSIDER_EVERY_S = 0.5
"""Between reminders to a bus side that does not speak of the chosen output."""

ANSWER_S = 1.0
"""For the bus side to speak of a press."""

WATCH_EVERY_S = 0.2
"""Between words to the bus side that a latched inhibit stands on the glass."""

END_EVERY_S = 0.5
"""Until the bus side says that it gives the inhibit back, it is asked again."""

UNHEARD_S = 10.0
"""Of silence, after which a latched inhibit is called unknown: twice the time after which the controller ends
it by itself (our own figure)."""


class Stage(enum.Enum):
    """What a person looks at."""

    LIST = enum.auto()
    """No output is chosen."""
    NEEDS = enum.auto()
    """Something is missing."""
    READY = enum.auto()
    """Nothing is missing; it can be armed."""
    ARMED = enum.auto()
    HELD = enum.auto()
    """Pressed: starting, live or being released."""
    LATCHED = enum.auto()
    """An inhibit holds without the finger, whoever pressed it, until it is given back."""
    ENDED = enum.auto()
    """The result of the press, or why it was refused."""
    UNCONFIRMED = enum.auto()
    """It was not confirmed stopped; nobody has said yet that they have seen that."""


class Latch:
    """An inhibit of which the bus side said that it holds by itself.

    Attributes:
        state: the newest word about it.
        told_at: when that came.
        heard: it is of this moment.
        cause: why this side asked to give it back; empty while it did not.
        asked_at: when it did so last.
        watched_at: when the bus side was told last that it stands on the glass.
    """

    def __init__(self, state: OutputState, now: float) -> None:
        self.state = state
        self.told_at = now
        self.heard = True
        self.cause = ""
        self.asked_at = self.watched_at = float("-inf")

    def is_of(self, state: OutputState | None) -> bool:
        """It speaks of the same press."""
        return state is not None and (state.output, state.press) == (self.state.output, self.state.press)


class Bench:
    """The chosen output.

    Attributes:
        output: its key, None if none is chosen.
        stage: see Stage.
        state: what the bus side says of it, None while it says nothing or is not heard.
        trouble: a sentence of this side about the last press; empty if the bus side's word stands.
        latch: the inhibit that holds without a finger, None while there is none.

    Args:
        ask: sends a request to the bus side.
    """

    def __init__(self, ask: Callable[[FromScreen], None]) -> None:
        self._ask = ask
        self._considered_at = float("-inf")
        self._arm_since: float | None = None
        self._armed_at: float | None = None
        self._press = 0
        self._newest = 0
        self._pressed_at = 0.0
        self._holding = False
        self._over = False
        self._stopped = ""
        self._now = float("-inf")
        self._seen_unconfirmed: tuple[str, int] | None = None
        self._outputs: dict[str, OutputInfo] = {}
        self.output: str | None = None
        self.state: OutputState | None = None
        self.stage = Stage.LIST
        self.trouble = ""
        self.latch: Latch | None = None

    @property
    def info(self) -> OutputInfo | None:
        """What the family says of the output that is looked at."""
        key = self.state.output if self.stage is Stage.UNCONFIRMED and self.state else self.output
        return None if key is None else self._outputs.get(key)

    @property
    def outputs(self) -> list[OutputInfo]:
        """Every output of this craft, in the family's order."""
        return list(self._outputs.values())

    @property
    def told(self) -> bool:
        """The bus side speaks of this very press."""
        return self._press != 0 and self.state is not None and self.state.press == self._press

    @property
    def busy(self) -> bool:
        """Armed or pressed: the lanes give way."""
        return self.stage in (Stage.ARMED, Stage.HELD)

    @property
    def holding(self) -> bool:
        """A finger is on the hold target of this press."""
        return self._holding

    def arming(self, now: float) -> float:
        """Share of ARM_S for which the arming touch has held, 0 to 1."""
        return 0.0 if self._arm_since is None else min(1.0, (now - self._arm_since) / ARM_S)

    def choose(self, output: str, now: float) -> None:
        """Look at one output."""
        self._forget()
        self.output = output
        self._consider(now)
        self.stage = Stage.NEEDS

    def leave(self, cause: str = "Another page was opened.") -> None:
        """Look at none; whatever is held ends."""
        self.lifted(cause)
        self.end(cause)
        self.latch = None
        if self.output is not None:
            self._ask(Consider(None))
        self._forget()
        self.output = None
        self.stage = Stage.LIST

    def again(self) -> None:
        """The result was seen; look at the same output once more."""
        if self.stage is Stage.ENDED:
            self._forget()
            self.stage = Stage.NEEDS

    def seen(self) -> None:
        """A person has seen that it was not confirmed stopped. The lock stays."""
        if self.stage is Stage.UNCONFIRMED and self.state is not None:
            self._seen_unconfirmed = self.state.output, self.state.press
            self.stage = Stage.LIST if self.output is None else Stage.NEEDS
            self._forget()

    def arm_begins(self, now: float) -> None:
        """A finger comes down on the arming key."""
        if self.stage is Stage.READY:
            self._arm_since = now

    def arm_ends(self) -> None:
        """It lifts, or drifts off."""
        self._arm_since = None

    def disarm(self, cause: str) -> None:
        """What is held ends, what is armed is armed no more. What holds by itself goes on."""
        self.lifted(cause)
        self._armed_at = None

    def stop(self, cause: str) -> None:
        """STOP TEST, a stop key, nobody sees the glass: as ``disarm``, and a latched inhibit is given back.

        It may have been latched a moment ago, which this side will only hear of: then it is given back too.
        """
        self.disarm(cause)
        self._stopped = cause
        self.end(cause)

    def end(self, cause: str) -> None:
        """Give the latched inhibit back; asked again until the bus side says that it does."""
        if self.latch is not None and not self.latch.cause:
            self.latch.cause = cause
            self._ask_end(self.latch)

    def pressed(self, now: float) -> None:
        """A finger comes down on the hold target."""
        if self.stage is not Stage.ARMED or self.output is None:
            return
        self._armed_at = None  # one arm, one press
        self._press = self._newest = max(int(now * 1000), self._newest + 1)
        self._pressed_at = now
        self._holding, self._over = True, False
        self.trouble = self._stopped = ""
        self.stage = Stage.HELD
        self._ask(Press(self.output, self._press, now))

    def lifted(self, cause: str) -> None:
        """It is there no more; ``cause`` in words."""
        if self._holding:
            self._holding = False
            self._ask(Lift(self._press, cause))

    def take(self, moment: Moment, now: float, sampled: float) -> None:
        """Look at the newest moment; call it at every tick.

        Args:
            moment: see Moment.
            now: seconds on CLOCK_MONOTONIC.
            sampled: when it was last looked whether the finger is still there; never later than it was.
        """
        self._now = now
        if self._holding:
            self._ask(Beat(self._press, sampled))
        snapshot = moment.snapshot if moment.live else None
        found = snapshot is not None and moment.link is not None and moment.link.state is LinkState.FOUND
        if moment.catalogue is not None:
            self._outputs = {info.key: info for info in moment.catalogue.outputs}
        self.state = None if snapshot is None else snapshot.output
        self._follow(now, heard=snapshot is not None)
        self.stage = self._stage(now, found=found)
        if self.stage is not Stage.READY:
            self._arm_since = None
        if self.stage is not Stage.ARMED:
            self._armed_at = None
        known = self.output is None or (self.state is not None and self.state.output == self.output)
        if not known and self.latch is None and now - self._considered_at >= CONSIDER_EVERY_S:
            self._consider(now)

    def _stage(self, now: float, *, found: bool) -> Stage:
        state = self.state
        if state is not None and self._unseen(state):
            self.lifted("It was not confirmed stopped.")
            return Stage.UNCONFIRMED
        if self.latch is not None:
            return Stage.LATCHED
        if self.output is None:
            return Stage.LIST
        if self._press:
            return Stage.ENDED if self._over else self._held(state, now)
        if state is None or state.output != self.output or not found:
            return Stage.NEEDS
        return self._before(state, now)

    def _follow(self, now: float, *, heard: bool) -> None:
        """Take up an inhibit that the bus side calls latched, and stay with it until that says otherwise."""
        state = self.state
        if (
            state is not None
            and state.phase is Phase.LATCHED
            and not (self.latch and self.latch.is_of(state))
        ):
            self._take_up(state, now)
        latch = self.latch
        if latch is None:
            return
        latch.heard = latch.is_of(state)
        if latch.heard and state is not None:
            latch.state, latch.told_at = state, now
            if state.phase not in (Phase.LATCHED, Phase.RELEASING):
                self.latch = None
                return
        elif now - latch.told_at > (ANSWER_S if heard else UNHEARD_S):
            self.latch = None
            self._end("The part that talks to the craft does not speak of it any more.")
            return
        if now - latch.watched_at >= WATCH_EVERY_S:
            latch.watched_at = now
            self._ask(Watch(latch.state.press, now))
        if latch.cause and not latch.state.ending and now - latch.asked_at >= END_EVERY_S:
            self._ask_end(latch)

    def _take_up(self, state: OutputState, now: float) -> None:
        """From now on no finger is needed, and none that lifts ends it."""
        if state.press != self._press:
            self.lifted("An inhibit holds.")
            self._forget()
            self.output, self._press = state.output, state.press
        self._holding = self._over = False
        self.trouble = ""
        self.latch = Latch(state, now)
        if self._stopped:
            self.end(self._stopped)

    def _ask_end(self, latch: Latch) -> None:
        latch.asked_at = self._now
        self._ask(EndInhibit(latch.state.press, latch.cause))

    def _unseen(self, state: OutputState) -> bool:
        unconfirmed = state.phase is Phase.NOT_CONFIRMED
        return unconfirmed and (state.output, state.press) != self._seen_unconfirmed

    def _before(self, state: OutputState, now: float) -> Stage:
        """Of an output that this glass has not pressed."""
        if state.phase in (Phase.STARTING, Phase.LIVE, Phase.RELEASING):
            return Stage.HELD  # pressed by a glass before this one: it is being stopped
        if not state.ready:
            return Stage.NEEDS
        if self._arm_since is not None and now - self._arm_since >= ARM_S:
            self._armed_at = now
        armed = self._armed_at is not None and now - self._armed_at < ARMED_FOR_S
        return Stage.ARMED if armed else Stage.READY

    def _held(self, state: OutputState | None, now: float) -> Stage:
        """Of a press that is not over as far as is known."""
        if state is None:
            self._end("The part that talks to the craft does not answer. It stops by itself without it.")
        elif not self.told:
            if now - self._pressed_at > ANSWER_S:
                self._end("No answer came to the press.")
        elif state.phase in (Phase.ENDED, Phase.REFUSED, Phase.NOT_CONFIRMED):
            self._end("")
        return Stage.ENDED if self._over else Stage.HELD

    def _end(self, trouble: str) -> None:
        self.lifted(trouble)
        self._over = True
        self.trouble = trouble

    def _consider(self, now: float) -> None:
        self._considered_at = now
        self._ask(Consider(self.output))

    def _forget(self) -> None:
        self._arm_since = self._armed_at = None
        self._press = 0
        self._holding, self._over = False, False
        self.trouble = self._stopped = ""
