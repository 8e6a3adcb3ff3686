"""Clearing faults: saved first, then cleared, then read again.

An acknowledgement alone is not "cleared": what stands in the report is what was read afterwards. If the link
breaks half-way the state is unknown until it is read again, after a restart too.
"""

from __future__ import annotations

import dataclasses
import time
from typing import TYPE_CHECKING, Any

import msgspec

from app.diagnosis import CameBack, Fault, IdentityLine, ModuleState, Report
from app.errors import BoathookError, ControllerError, ControllerRefused, Refused
from app.faults import came_back, new_since
from bus.scan_job import Found

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from bus.journal import Journal, Ticket
    from bus.scan_job import Named, Progress, Source

INTENT, END = "clear_intent", "clear_end"
"""Kinds of journal entries; an intent that no end with ``known`` follows is a clear that was cut short."""

SAVED_WITHIN_S = 5.0
"""For the disk to take what is about to be cleared."""

SETTLE_S = 3.0
"""After clearing, before the last reading: a fault whose test runs all the time sets again within that.
Our own figure."""


class NotCleared(BoathookError):
    """Nothing was sent that could clear anything.

    Attributes:
        needs: what the gate misses; empty if it was not the gate.
    """

    exit_code = 3

    def __init__(self, sentence: str, needs: tuple[str, ...] = ()) -> None:
        super().__init__(sentence)
        self.needs = needs


@dataclasses.dataclass
class Cleared:
    """How it went.

    Attributes:
        found: what was read afterwards.
        came_back: which of the faults set again.
        known: every module that was asked to clear could be read afterwards.
        at: when each module said that it has cleared (the job's clock).
    """

    found: Found
    came_back: list[CameBack]
    known: bool
    at: dict[str, float]


class ClearJob:
    """One clearing.

    Args:
        source: who is asked, see bus.scan_job.
        shown: the report a person saw and confirmed.
        progress: see bus.scan_job.
        journal: where the faults are saved.
        operator: who confirmed it.
        settle_s: see SETTLE_S.
        wait: sleeps so many seconds, or less if the tool ends.
        clock: seconds.
    """

    def __init__(
        self,
        source: Source,
        shown: Report,
        progress: Progress,
        *,
        journal: Journal,
        operator: str,
        settle_s: float,
        wait: Callable[[float], object],
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._source = source
        self._shown = shown
        self._progress = progress
        self._journal = journal
        self._operator = operator
        self._settle_s = settle_s
        self._wait = wait
        self._clock = clock
        self._troubles: list[str] = []
        self._needs: tuple[str, ...] = ()
        self._at: dict[str, float] = {}
        self._touched: set[str] = set()

    def run(self) -> Cleared:
        """Do it.

        Raises:
            NotCleared: nothing was sent that could clear anything.
        """
        modules = self._modules()
        self._progress.expect(3 * len(modules) + 2)
        self._nothing_new(modules)
        ticket = self._save(modules)
        for module in modules:
            if not self._needs:
                self._clear(module, ticket)
        if not self._touched:
            self._tell(known=True)
            raise NotCleared(" ".join(self._troubles), self._needs)
        backs = self._at_once(modules)
        if self._at:
            self._progress.step("Cleared. Looking whether anything comes back")
            self._wait(self._settle_s)
        self._progress.step("Reading again")
        found = self._source.whole(identity=False)
        found.identity = list(self._shown.identity)
        self._back(found.faults, backs)
        return self._outcome(found, list(backs.values()))

    def _modules(self) -> list[Named]:
        """Those that hold faults and were read to the end."""
        read = {module.key for module in self._shown.modules if module.read}
        holding = {one.module for one in self._shown.faults}
        modules = [module for module in self._source.modules if module.key in read & holding]
        for module in self._source.modules:
            if module.key in holding - read:
                self._troubles.append(f"{module.label} was not read to the end, so it was not cleared.")
        if not modules:
            raise NotCleared(" ".join(self._troubles) or "There is nothing to clear.")
        return modules

    def _nothing_new(self, modules: list[Named]) -> None:
        """What a person has not seen and what is not saved must not be cleared."""
        for module in modules:
            self._progress.step(f"{module.label}: looking whether anything is new")
            try:
                codes = self._source.codes(module.key)
            except Refused as refused:
                raise NotCleared(str(refused), refused.needs) from refused
            except ControllerError as error:
                raise NotCleared(f"{error} Nothing was cleared.") from error
            new = new_since(self._shown.faults, codes)
            if new:
                names = ", ".join(one.code for one in new)
                raise NotCleared(f"{names} has set since the faults were read. Read again, then clear.")

    def _save(self, modules: list[Named]) -> Ticket:
        self._progress.step("Saving the faults")
        ticket = self._journal.put(
            INTENT,
            craft=self._shown.craft,
            operator=self._operator,
            report=self._shown.number,
            modules=[module.key for module in modules],
            labels={module.key: module.label for module in self._source.modules},
            faults=msgspec.to_builtins(self._shown.faults),
            identity=msgspec.to_builtins(self._shown.identity),
        )
        until = time.monotonic() + SAVED_WITHIN_S
        while not ticket.synced and not ticket.failed and time.monotonic() < until:
            time.sleep(0.005)
        if not ticket.synced:
            why = ticket.failed or "The storage is too slow."
            self._tell(known=True)
            raise NotCleared(f"{why} The faults could not be saved, so nothing was cleared.")
        return ticket

    def _clear(self, module: Named, ticket: Ticket) -> None:
        self._progress.step(f"{module.label}: clearing")
        try:
            self._source.clear(module.key, ticket)
        except Refused as refused:
            self._troubles.append(str(refused))
            self._needs = refused.needs
        except ControllerRefused as error:
            self._troubles.append(f"{error} Nothing of it was cleared.")
        except ControllerError as error:
            self._touched.add(module.key)
            self._troubles.append(f"{error} It did not confirm that it has cleared.")
        else:
            self._touched.add(module.key)
            self._at[module.key] = self._clock()

    def _at_once(self, modules: list[Named]) -> dict[tuple[str, str], CameBack]:
        """The first reading: what is there again now was never gone for long."""
        backs: dict[tuple[str, str], CameBack] = {}
        for module in modules:
            if module.key in self._at:
                try:
                    self._back(self._source.codes(module.key), backs)
                except (Refused, ControllerError):
                    continue  # the last reading decides
        return backs

    def _back(self, now: Iterable[Fault], backs: dict[tuple[str, str], CameBack]) -> None:
        at = self._clock()
        for one in now:
            if one.module in self._at:
                for back in came_back(self._shown.faults, [one], round(at - self._at[one.module], 1)):
                    backs.setdefault((back.module, back.code), back)

    def _outcome(self, found: Found, backs: list[CameBack]) -> Cleared:
        known = found.has_read(self._touched)
        if found.trouble:
            self._troubles.append(found.trouble)
        for module in self._source.modules:
            if module.key in self._touched and not found.has_read({module.key}):
                self._troubles.append(
                    f"{module.label} could not be read after clearing: what it holds now is not known. "
                    "Read again."
                )
            elif module.key in self._touched and module.key not in self._at:
                self._troubles.append(f"{module.label} was read again: what it holds now is shown.")
        found.trouble = " ".join(self._troubles)
        found.needs = found.needs or self._needs
        self._tell(known=known)
        return Cleared(found, backs, known, self._at)

    def _tell(self, *, known: bool) -> None:
        cleared = sorted(self._at)
        unsure = sorted(self._touched - set(cleared))
        self._journal.put(END, craft=self._shown.craft, cleared=cleared, unsure=unsure, known=known)


def cut_short(told: Iterable[dict[str, Any]]) -> dict[str, dict[str, Any]]:
    """By craft: intents to clear after which it is not known what the controllers hold."""
    left: dict[str, dict[str, Any]] = {}
    for entry in told:
        craft = str(entry["body"].get("craft"))
        if entry["kind"] == INTENT:
            left[craft] = entry["body"]
        elif entry["kind"] == END and entry["body"].get("known") is True:
            left.pop(craft, None)
    return left


def recovered(craft: str, intent: dict[str, Any]) -> Found:
    """What can be said of a clear that was cut short; ``faults`` are those saved before it."""
    try:
        faults = msgspec.convert(intent.get("faults"), list[Fault])
        identity = msgspec.convert(intent.get("identity"), list[IdentityLine])
    except msgspec.ValidationError:
        faults, identity = [], []
    words = "Not read since clearing was cut short."
    labels = intent.get("labels")
    names = labels if isinstance(labels, dict) else {}
    modules = [ModuleState(str(key), str(label), read=False, words=words) for key, label in names.items()]
    trouble = f"Clearing {craft} was cut short: what it holds now is not known. Read the faults again."
    return Found(identity, modules, faults, trouble)
