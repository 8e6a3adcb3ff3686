"""A family: what is known about the craft of one make and kind, as data in a folder."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec
import platformdirs

from app.engine_data import EngineData
from app.errors import FamilyError, UsageError
from app.interlock import RULES
from app.messages import Catalogue, Limit, SignalInfo
from app.output_messages import OutputInfo
from bus.dbc import MessageLayout, SignalLayout, load_dbc
from bus.decode import Decoder, enumerated
from bus.family_check import LIMITS, check_family
from bus.family_file import read_family_file
from bus.family_form import Decode, Engine, Recognise, Shown
from bus.family_uds import read_uds
from bus.group_form import GroupData, read_groups
from bus.uds_form import Uds

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from bus.outputs import OutputPlan

SHIPPED = Path(__file__).parent / "families"
"""The folder of the families that come with the tool."""

SHORTEST_AGE_S = 0.5
"""No value is called stale sooner; fast signals would flicker with every late frame."""

UNKNOWN_AGE_S = 2.0
"""Of a signal whose DBC gives no period."""

PERIODS = 3
"""Missed before a value is stale."""


class Family(msgspec.Struct, frozen=True):
    """A sound family.

    Attributes:
        title: for the glass.
        invented: True for a family that no maker builds.
        bitrates: bit/s at which it is spoken.
        identifiers: "11-bit" or "pgn".
        idle_below: rev/min; above it the craft counts as under way.
        engine: what the glass works signals out with.
        roles: role to signal.
        ride: the big values: the arc first, then two to five tiles.
        groups: pages of values in their order.
        messages: of its DBC file.
        recognise: what names it.
        rules: of decoding.
        shown: signal to how it is shown, in the order of the file.
        uds: its controllers, what can be asked of them and what can be fired; None where nothing can.
        j1939: who tells its faults by SAE J1939 and can be asked and cleared so; None where nobody.
    """

    name: str
    title: str
    folder: Path
    invented: bool
    bitrates: tuple[int, ...]
    identifiers: str
    idle_below: float
    roles: dict[str, str]
    ride: tuple[str, ...]
    groups: tuple[str, ...]
    messages: tuple[MessageLayout, ...]
    recognise: Recognise
    rules: Decode
    shown: dict[str, Shown]
    uds: Uds | None = None
    j1939: GroupData | None = None
    engine: EngineData | None = None

    def decoder(self) -> Decoder:
        """A new decoder, with nothing under way."""
        return Decoder(self.messages, self.identifiers, self.rules)

    def signal(self, name: str) -> SignalLayout:
        """The layout of a signal.

        Raises:
            KeyError: the family has no such signal.
        """
        return self._placed(name)[1]

    @property
    def tells_apart(self) -> frozenset[str]:
        """Signals that say which of several engines, batteries or tanks of one sender is meant."""
        return frozenset(name for name, shown in self.shown.items() if shown.tells_apart)

    def idents_of(self, names: Iterable[str]) -> set[int]:
        """The identifiers, as the DBC writes them, of the messages that carry these signals.

        Raises:
            KeyError: the family has no such signal.
        """
        return {self._placed(name)[0].ident for name in names}

    def period_s(self, name: str) -> float:
        """Seconds between two frames that carry the signal; infinity where the DBC does not say.

        A page that takes turns with others comes once in a whole round.

        Raises:
            KeyError: the family has no such signal.
        """
        message, signal = self._placed(name)
        if message.cycle is None:
            return math.inf
        pages = {page for other in message.signals for page in other.pages} if signal.pages else {0}
        return message.cycle * len(pages)

    def _placed(self, name: str) -> tuple[MessageLayout, SignalLayout]:
        for message in self.messages:
            for signal in message.signals:
                if signal.name == name:
                    return message, signal
        raise KeyError(name)

    def catalogue(self, number: int) -> Catalogue:
        """What the glass must know of the signals it may show; ``number`` as in ``Catalogue.number``."""
        shown = [self._info(name, entry) for name, entry in self.shown.items() if not entry.hidden]
        return Catalogue(
            number,
            self.name,
            shown,
            dict(self.roles),
            list(self.ride),
            list(self.groups),
            outputs=[] if self.uds is None else [_output(plan) for plan in self.uds.outputs],
            modules=self._asked(),
            tells=self.j1939 is not None,
            engine=self.engine,
        )

    def _asked(self) -> list[str]:
        """Labels of who can be asked."""
        if self.uds is not None:
            return [module.label for module in self.uds.modules]
        return [] if self.j1939 is None else [self.j1939.label]

    def _info(self, name: str, shown: Shown) -> SignalInfo:
        signal = self.signal(name)
        low, high = shown.scale or (None, None)
        return SignalInfo(
            name=name,
            label=shown.label,
            unit=signal.unit,
            group=shown.group,
            decimals=shown.decimals,
            low=low,
            high=high,
            max_age=shown.max_age or self._max_age(name),
            limits=_limits(shown),
            enumerated=enumerated(signal),
        )

    def _max_age(self, name: str) -> float:
        period = self.period_s(name)
        return UNKNOWN_AGE_S if math.isinf(period) else max(SHORTEST_AGE_S, PERIODS * period)


def _output(plan: OutputPlan) -> OutputInfo:
    data = plan.data
    return OutputInfo(
        key=data.key,
        label=data.label,
        kind=data.kind,
        longest_s=plan.longest_s,
        pulses=data.count,
        width_ms=data.width_ms,
        fuel_cm3=plan.fuel_cm3,
        released=RULES[data.kind].released,
        after=data.after,
        latched=RULES[data.kind].latched,
    )


def _engine(data: Engine) -> EngineData:
    return EngineData(
        strokes=data.strokes,
        injectors=data.injectors,
        injector_flow=data.injector_flow_cm3_min,
        injector_dead=data.injector_dead_ms,
        injector_pulse=data.injector_pulse,
        fuel_rail=data.fuel_rail,
        rail_absolute=data.rail_pressure == "absolute",
        dry_run=data.dry_run_s,
        rated_speed=data.rated_speed,
    )


def _limits(shown: Shown) -> list[Limit]:
    limits = []
    for key in LIMITS:
        value = getattr(shown, key)
        if value is not None:
            severity, side = key.split("_")
            limits.append(Limit(severity, side, value, shown.engine_above, shown.source, shown.generic))
    return limits


def check_folder(folder: Path) -> tuple[Family | None, list[FamilyError]]:
    """Read a family folder and find everything that is wrong with it.

    Returns:
        The family, None if anything is wrong; and all findings.
    """
    folder = folder.resolve()
    if not folder.is_dir():
        what = "there is no such folder"
        return None, [FamilyError(str(folder), None, what, "Name a folder with family.toml and signals.dbc.")]
    messages, errors = load_dbc(folder / "signals.dbc")
    file, findings = read_family_file(folder / "family.toml")
    if file is not None and messages:
        check_family(file, messages, folder, findings)
    uds = None
    if file is not None and file.uds is not None:
        uds = read_uds(file.uds, messages, findings)
    told = None
    if file is not None and file.j1939 is not None:
        told = read_groups(file.j1939, file, messages, findings)
    errors = [*sorted(findings.errors, key=lambda error: error.line or 0), *errors]
    if file is None or errors:
        return None, errors
    family = Family(
        name=file.about.name,
        title=file.about.title,
        folder=folder,
        invented=file.about.invented,
        bitrates=file.bus.bitrates,
        identifiers=file.bus.identifiers,
        idle_below=file.engine.idle_below,
        roles=file.roles,
        ride=(file.ride.arc, *file.ride.tiles),
        groups=file.groups.order,
        messages=messages,
        recognise=file.recognise,
        rules=file.decode,
        shown=file.signals,
        uds=uds,
        j1939=told,
        engine=_engine(file.engine),
    )
    return family, []


def load_family(folder: Path) -> Family:
    """Read one family.

    Raises:
        FamilyError: the first thing that is wrong with it.
    """
    family, errors = check_folder(folder)
    if family is None:
        raise errors[0]
    return family


def named(name: str, families: Sequence[Family], errors: Iterable[FamilyError]) -> Family:
    """The family that a person means by its name, or by its folder.

    Args:
        name: a name, or a path.
        families: the sound ones.
        errors: what is wrong with the others.

    Raises:
        FamilyError: it is there, and not sound: the first thing that is wrong with it.
        UsageError: there is none.
    """
    if "/" in name or Path(name).is_dir():
        return load_family(Path(name))
    for family in families:
        if family.name == name:
            return family
    for error in errors:
        if name in Path(error.file).parts[-2:]:
            raise error
    known = ", ".join(family.name for family in families)
    raise UsageError(f"There is no family {name}. Known: {known}. Or name a folder that holds one.")


def own_folder() -> Path:
    """Where a shop puts families of its own."""
    return platformdirs.user_data_path("boathook") / "families"


def load_families(extra: Path | None = None) -> tuple[list[Family], list[FamilyError]]:
    """Read the shipped families and the user's own.

    Args:
        extra: folder of further families; None = the one in the user's data directory.

    Returns:
        The sound ones, shipped ones first, each lot by name; and what is wrong with the others.
    """
    families: dict[str, Family] = {}
    errors: list[FamilyError] = []
    for folder in [*_folders(SHIPPED), *_folders(own_folder() if extra is None else extra)]:
        family, wrong = check_folder(folder)
        errors += wrong
        if family is None:
            continue
        if family.name in families:
            what = f"there is a family {family.name} already, in {families[family.name].folder}"
            errors.append(FamilyError(str(folder), None, what, "Give the folder and its name another name."))
            continue
        families[family.name] = family
    return list(families.values()), errors


def _folders(parent: Path) -> Iterable[Path]:
    try:
        return sorted(path for path in parent.iterdir() if path.is_dir() and path.name[0] not in "._")
    except OSError:
        return []
