"""What the quick check before hire finds: a row for a part of the craft, and what was seen of it."""

from __future__ import annotations

import enum

import msgspec

from app.messages import Limit, SignalInfo


class Verdict(enum.StrEnum):
    """What follows for the hire; later ones are worse."""

    FIT = "fit"
    LOOK = "look"
    """Somebody must look before it goes out; whatever is not known makes it that."""
    ASHORE = "keep ashore"


class State(enum.StrEnum):
    """Why a row says what it says."""

    FINE = "fine"
    LOW = "low"
    HIGH = "high"
    SAID = "said"
    """The craft itself says that something is the matter."""
    STORED = "stored"
    NOT_NOW = "not_now"
    """It tells something only while the engine runs, and it does not."""
    TOO_SLOW = "too_slow"
    """The engine runs too slowly for it to be judged."""
    NOT_KNOWN = "not_known"
    OLD = "old"
    NOT_READ = "not_read"
    READING = "reading"


UNKNOWN = frozenset({State.TOO_SLOW, State.NOT_KNOWN, State.OLD, State.NOT_READ, State.READING})


class Seen(msgspec.Struct, frozen=True):
    """One thing that was looked at.

    Attributes:
        key: which, for the words.
        what: words for the glass.
        state: see State.
        verdict: what follows from it alone.
        text: the value with its unit, or why it is not known.
        info: of the signal, where limits were used.
        limits: it was held against, or the one that was passed.
        more: a further sentence; may be empty.
    """

    key: str
    what: str
    state: State
    verdict: Verdict
    text: str
    info: SignalInfo | None = None
    limits: tuple[Limit, ...] = ()
    more: str = ""


class Row(msgspec.Struct, frozen=True):
    """A part of the craft: everything seen of it; ``seen`` is never empty."""

    key: str
    seen: tuple[Seen, ...]

    @property
    def worst(self) -> Seen:
        """What decides: the worst, of equals the first; what was not judged comes behind what was."""
        return max(self.seen, key=lambda one: (list(Verdict).index(one.verdict), one.state in UNKNOWN))

    @property
    def verdict(self) -> Verdict:
        """Of the worst."""
        return self.worst.verdict

    @property
    def known(self) -> bool:
        """Nothing of it is unknown."""
        return not any(one.state in UNKNOWN for one in self.seen)
