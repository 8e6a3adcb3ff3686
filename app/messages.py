"""What crosses the wall between the bus process and the screen process.

Snapshots flow to the screen at 20 Hz or less and the newest wins; a catalogue is sent when asked for. All
times are seconds on CLOCK_MONOTONIC, which both processes share.
"""

from __future__ import annotations

import enum

import msgspec

from app.diagnosis import HeardFaults, JobState, Report
from app.engine_data import EngineData
from app.output_messages import (
    AskReport,
    Beat,
    ClearFaults,
    Confirm,
    Consider,
    EndInhibit,
    Lift,
    OutputInfo,
    OutputState,
    Press,
    ReadFaults,
    SignIn,
    Watch,
)
from app.reading import Quality

MAX_MESSAGE = 65_536
"""Bytes; a larger message closes the connection it came from."""


class LinkState(enum.StrEnum):
    """What is known about the way to the craft."""

    NO_ADAPTER = "no_adapter"
    NEED_RATE = "need_rate"
    """The adapter cannot listen without taking part: a person must name the bit rate."""
    SILENT = "silent"
    """Adapter open, nothing heard since: the key is off, or the plug is out."""
    LISTENING = "listening"
    """Bits or frames are heard; the bit rate or the family is not known yet."""
    UNKNOWN_CRAFT = "unknown_craft"
    """Traffic that no family explains: raw frames are recorded, nothing is named."""
    FOUND = "found"
    LOST = "lost"
    """A craft was found and is heard no more; last values stay, greyed with their age."""


class Mode(enum.StrEnum):
    """Where the frames come from. Anything but LIVE is written on every screen."""

    LIVE = "live"
    SIMULATED = "simulated"
    REPLAY = "replay"


class Link(msgspec.Struct, frozen=True):
    """State of the way to the craft.

    Attributes:
        state: see LinkState.
        since: when this state began.
        reason: one plain sentence from the layer that knows (adapter error …); may be empty.
        adapter: the adapter in words, for example "slcan on /dev/ttyACM0".
        bitrate: bit/s in use, None while unknown or where the adapter has none.
        frames: frames received since the bus process started.
        frames_per_s: over the last second.
        bad_frames: frames that no decoder accepts (wrong length, noise) and error frames, since start.
        heard_at: when the last frame came; None if never.
    """

    state: LinkState
    since: float
    reason: str = ""
    adapter: str = ""
    bitrate: int | None = None
    frames: int = 0
    frames_per_s: float = 0.0
    bad_frames: int = 0
    heard_at: float | None = None


class Craft(msgspec.Struct, frozen=True):
    """Which craft this is, as far as the bus tells.

    Attributes:
        family: folder name of the family.
        title: the family in words.
        serial: controller serial as broadcast, None while not heard.
    """

    family: str
    title: str
    serial: str | None = None


class Recording(msgspec.Struct, frozen=True):
    """The recording that runs by itself.

    Attributes:
        file: file name, empty if none is open.
        started_at: when the first frame was written.
        frames: frames in it.
        trouble: one sentence when frames are NOT being kept; empty when all is well.
    """

    file: str
    started_at: float
    frames: int
    trouble: str = ""


class Value(msgspec.Struct, frozen=True, array_like=True):
    """The newest reading of one signal. ``signal`` is its index in the catalogue."""

    signal: int
    value: float | str | None
    at: float
    quality: Quality
    source: int


class RawFrame(msgspec.Struct, frozen=True):
    """The newest frame of one identifier on a bus that no family explains.

    Attributes:
        ident, data: in hexadecimal, as service papers write them.
        times: how often it was heard.
        gap_s: seconds between two of them, evened out; 0 while there was one.
        says: what an open standard makes of it; empty if nothing.
    """

    ident: str
    data: str
    times: int
    gap_s: float
    says: str = ""


class Snapshot(msgspec.Struct, frozen=True, tag="snapshot"):
    """Everything the glass needs to draw one moment.

    Attributes:
        at: when it was made.
        catalogue: number of the catalogue that ``values`` index into; 0 = none yet.
        job: what the diagnostic worker does now.
        report: number of the newest report about this craft; 0 = none yet.
        output: the output that is considered, pressed or was pressed last.
        operator: who is signed in, empty if nobody.
        heard: what engines on this bus told of their faults without being asked.
        raw: what is on a bus that no family explains; empty while a craft is known.
    """

    at: float
    link: Link
    mode: Mode
    craft: Craft | None
    recording: Recording | None
    catalogue: int
    values: list[Value]
    job: JobState | None = None
    report: int = 0
    output: OutputState | None = None
    operator: str = ""
    heard: list[HeardFaults] = []
    raw: list[RawFrame] = []


class Limit(msgspec.Struct, frozen=True):
    """One side of a band.

    Attributes:
        severity: "watch" or "alarm".
        side: "above" or "below".
        value: in the signal's unit.
        engine_above: judged only while engine speed (rev/min) is above this; None = always.
        source: where the number comes from; shown with the limit.
        generic: True for a generic default, False for family data.
        own: a person set it for this craft.
    """

    severity: str
    side: str
    value: float
    engine_above: float | None
    source: str
    generic: bool
    own: bool = False


class SignalInfo(msgspec.Struct, frozen=True):
    """What the glass must know about a signal.

    Attributes:
        name: DBC name.
        label: words for the glass.
        unit: the DBC's unit.
        group: subsystem page it stands on.
        decimals: digits after the point on the glass.
        low, high: ends of a scale drawn for it, None where no scale makes sense.
        max_age: seconds after which the value is stale.
        limits: bands, may be empty.
        enumerated: True if values are texts.
    """

    name: str
    label: str
    unit: str
    group: str
    decimals: int
    low: float | None
    high: float | None
    max_age: float
    limits: list[Limit]
    enumerated: bool


class Catalogue(msgspec.Struct, frozen=True, tag="catalogue"):
    """The signals of the craft that was found.

    Attributes:
        number: rises with every craft found; matches ``Snapshot.catalogue``.
        roles: role (engine_speed, battery, key_level …) to signal name.
        ride: names of the six big values: the arc first, then five tiles.
        groups: subsystem names in the order of their pages.
        outputs: what can be fired.
        modules: names of the controllers that can be asked, for the glass; empty if none can.
        tells: they tell their faults by themselves too (SAE J1939).
        engine: what the family says about the engine, None if nothing.
    """

    number: int
    family: str
    signals: list[SignalInfo]
    roles: dict[str, str]
    ride: list[str]
    groups: list[str]
    outputs: list[OutputInfo] = []
    modules: list[str] = []
    tells: bool = False
    engine: EngineData | None = None


class AskCatalogue(msgspec.Struct, frozen=True, tag="ask_catalogue"):
    """The screen does not hold the catalogue a snapshot speaks of."""


class SetBitRate(msgspec.Struct, frozen=True, tag="set_bit_rate"):
    """A person named the bit rate (bit/s), or None: look for it again."""

    bitrate: int | None


class Mark(msgspec.Struct, frozen=True, tag="mark"):
    """Somebody marked a moment of the ride: number of the mark, and when the finger came down."""

    number: int
    at: float


FromBus = Snapshot | Catalogue | Report
FromScreen = (
    AskCatalogue
    | AskReport
    | SetBitRate
    | Mark
    | Consider
    | Press
    | Beat
    | Lift
    | Watch
    | EndInhibit
    | Confirm
    | SignIn
    | ReadFaults
    | ClearFaults
)
