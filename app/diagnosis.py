"""What a controller told about itself: identity, stored faults, what came back after clearing."""

from __future__ import annotations

import msgspec


class IdentityLine(msgspec.Struct, frozen=True):
    """One fact a module gives about itself.

    Attributes:
        module: key of the module.
        label: words for the glass.
        value: text as read, empty if the module does not give it.
        unit: unit or empty.
        band: the value is the hours in this band of engine speed, from and to in rev/min; None = it is not.
        counter: the value is how often something happened.
        foreign: the value is none of those that the family's data are made for.
    """

    module: str
    label: str
    value: str
    unit: str = ""
    band: tuple[int, int] | None = None
    counter: bool = False
    foreign: bool = False


class ModuleState(msgspec.Struct, frozen=True):
    """Whether a module could be read.

    Attributes:
        key, label: which module.
        read: True only if its faults were read to the end; a module not read is never "no faults".
        words: one sentence when it was not read.
    """

    key: str
    label: str
    read: bool
    words: str = ""


class SnapshotLine(msgspec.Struct, frozen=True):
    """One value kept by the controller from the moment a fault set."""

    label: str
    value: str
    unit: str = ""


class Fault(msgspec.Struct, frozen=True):
    """A stored fault.

    Attributes:
        module: key of the module that holds it.
        number: the three bytes of the code as one number; of SAE J1939 the SPN above five bits of FMI.
        code: text form by SAE J2012 / ISO 15031-6 (P0117), with the failure type behind a dash if not 0; of
            SAE J1939 "SPN 110 FMI 0".
        text: the family's words; empty for an unknown code: a name is never invented.
        failed_now, pending, confirmed, warning: bits 0, 2, 3 and 7 of the ISO 14229-1 status byte.
        status: the status byte; app.faults.NO_STATUS of SAE J1939.
        count: how often it set; None if the controller does not tell.
        age: warm-up cycles since it was last seen; None if the controller does not tell.
        hours: engine hours when it set; None if not told. Faults of one moment share it.
        snapshot: values of that moment.
    """

    module: str
    number: int
    code: str
    text: str
    status: int
    failed_now: bool
    pending: bool
    confirmed: bool
    warning: bool
    count: int | None = None
    age: int | None = None
    hours: float | None = None
    snapshot: list[SnapshotLine] = []


class HeardFault(msgspec.Struct, frozen=True):
    """A trouble code that an engine told by itself (SAE J1939-73).

    Attributes:
        spn, fmi: which part, and what is wrong with it; words in app.j1939_words.
        times: how often it became active; None if not told.
        active: it is so now; False = it was.
        certain: False: told in an older way of writing, of which there were several; the part is not certain.
    """

    spn: int
    fmi: int
    times: int | None
    active: bool
    certain: bool = True


class HeardFaults(msgspec.Struct, frozen=True):
    """What one sender told of its faults.

    Attributes:
        source: its address on the bus.
        active_at: when its last message of active faults came, CLOCK_MONOTONIC; None if none did.
        before_at: the same of faults that were active before.
        lamps: names of those that are lit.
        faults: active ones first.
        more: so many did not fit.
        active_since, before_since: when those messages began to come; what happened later is not in them.
    """

    source: int
    active_at: float | None
    before_at: float | None
    lamps: list[str]
    faults: list[HeardFault]
    more: int = 0
    active_since: float | None = None
    before_since: float | None = None


class CameBack(msgspec.Struct, frozen=True):
    """A fault that set again after it was cleared.

    Attributes:
        after_s: seconds from the clear to the reading that showed it.
    """

    module: str
    code: str
    text: str
    after_s: float


class Report(msgspec.Struct, frozen=True, tag="report"):
    """The result of one reading or clearing.

    Attributes:
        number: rises with every report of a bus process.
        kind: "scan" (identity and faults read) or "clear" (saved, cleared, read again).
        at: seconds on CLOCK_MONOTONIC when it was done.
        wall: the same in seconds since 1970.
        craft: family and serial in words.
        identity, modules, faults: what was read (after the clear, for "clear").
        before: for "clear", the faults saved before it.
        came_back: for "clear", which of them set again; for "scan", which of those that this bus process last
            cleared on this craft are there again.
        trouble: one sentence if it could not be finished; empty otherwise.
        needs: what was missing, in the order to mend it, if the tool refused; empty otherwise.
    """

    number: int
    kind: str
    at: float
    wall: float
    craft: str
    identity: list[IdentityLine]
    modules: list[ModuleState]
    faults: list[Fault]
    before: list[Fault] = []
    came_back: list[CameBack] = []
    trouble: str = ""
    needs: list[str] = []


class JobState(msgspec.Struct, frozen=True):
    """What the diagnostic worker does now.

    Attributes:
        kind: "scan" or "clear".
        words: one line ("Reading the engine controller's faults").
        done, steps: progress.
        since: when it began (CLOCK_MONOTONIC).
        waiting: the controller asked for more time.
    """

    kind: str
    words: str
    done: int
    steps: int
    since: float
    waiting: bool = False
