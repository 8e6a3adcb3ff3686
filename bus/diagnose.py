"""The diagnostic worker: one thread with a queue, which reads identity and faults, and clears.

Everything it sends passes the gate. Whatever a controller answers becomes a sentence; the worker lives on.
"""

from __future__ import annotations

import dataclasses
import queue
import sys
import threading
import time
import traceback
from typing import TYPE_CHECKING

import msgspec

from app.diagnosis import CameBack, Fault, JobState, Report
from app.faults import came_back
from app.output_messages import ClearFaults, ReadFaults
from bus.asker import PATIENCE_S, Asker, Times
from bus.clear_job import END, SETTLE_S, ClearJob, NotCleared, cut_short, recovered
from bus.group_asker import GroupAsker
from bus.scan_job import Found, Reader
from bus.told_job import ToldReader

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from app.diagnosis import HeardFaults
    from bus.gate import Gate
    from bus.group_form import GroupData
    from bus.journal import Journal
    from bus.scan_job import Source
    from bus.uds_form import Uds

REPORT_HOLDS_S = 60.0
"""What was read longer ago is not what would be cleared."""


@dataclasses.dataclass(frozen=True)
class Served:
    """The craft whose controllers are asked.

    Attributes:
        name: of its family.
        uds, groups: what can be asked, by ISO 14229-1 or by SAE J1939; None if nothing.
        serial: family and serial as the gate heard it, None while unknown.
        locked: why its outputs are locked, empty if they are not.
    """

    name: str
    uds: Uds | None
    serial: Callable[[], str | None]
    locked: Callable[[], str]
    groups: GroupData | None = None


class Diagnosis:
    """The worker.

    Attributes:
        heard: what the engines on the bus told of their faults.
        job: what it does now, None if nothing.
        report: the newest result for the craft that is served, None before.
        operator: who is signed in, for the journal.

    Args:
        gate: the one way out.
        journal: where is saved what will be cleared.
        settle_s: see bus.clear_job.SETTLE_S.
        patience_s, times: see bus.asker.
    """

    def __init__(
        self,
        gate: Gate,
        journal: Journal,
        *,
        settle_s: float = SETTLE_S,
        patience_s: float = PATIENCE_S,
        times: dict[int, Times] | None = None,
    ) -> None:
        self._gate = gate
        self._journal = journal
        self._settle_s = settle_s
        self._ending = threading.Event()
        self._patience_s = patience_s
        self._ask = Asker(gate, self._waiting, self._ending.wait, times=times, patience_s=patience_s)
        self._why = ""  # see Asker
        self._queue: queue.SimpleQueue[ReadFaults | ClearFaults | None] = queue.SimpleQueue()
        self._thread = threading.Thread(target=self._run, name="diagnosis", daemon=True)
        self._taken = False
        self._served: Served | None = None
        self._numbers = 0
        self._words = ""
        self._cut_short = cut_short(journal.told)
        self._cleared: dict[str, tuple[list[Fault], dict[str, float]]] = {}
        self.heard: Sequence[HeardFaults] = ()
        self.job: JobState | None = None
        self.report: Report | None = None
        self.operator = ""

    def start(self) -> None:
        """Begin; returns at once."""
        self._thread.start()

    def stop(self) -> None:
        """End; a job under way is broken off at its next step."""
        self._ending.set()
        self._queue.put(None)
        self._thread.join(5)

    def serve(self, served: Served) -> None:
        """From now on this craft is asked; what was read of another one is not its."""
        self._served = served
        self.report = None

    def ask(self, request: ReadFaults | ClearFaults) -> None:
        """Take a request; one that comes while another is under way is dropped, a finger touched twice."""
        if not self._taken:
            self._taken = True
            self._queue.put(request)

    def look(self) -> None:
        """Tell, once its serial is heard, that clearing this craft was cut short before a restart."""
        served = self._served
        craft = served.serial() if served is not None else None
        if craft is not None and craft in self._cut_short and self.report is None and not self._taken:
            found = recovered(craft, self._cut_short[craft])
            self._publish("clear", craft, dataclasses.replace(found, faults=[]), before=found.faults)

    def _run(self) -> None:
        while (request := self._queue.get()) is not None and not self._ending.is_set():
            served = self._served
            kind = "scan" if isinstance(request, ReadFaults) else "clear"
            self._words = "Beginning"
            self._why = kind
            self.job = JobState(kind, self._words, 0, 0, time.monotonic())
            try:
                source = None if served is None else self._source(served)
                if served is None or source is None:
                    self._publish(
                        kind, "", Found(trouble="No craft is heard whose controllers can be asked.")
                    )
                elif isinstance(request, ReadFaults):
                    self._scan(served, source)
                else:
                    self._clear(served, source, request)
            except Exception as error:  # noqa: BLE001 - a fault of our own must not end the only worker
                traceback.print_exc(file=sys.stderr)
                self._failed(kind, f"The tool itself failed: {error}. Read again.")
            finally:
                self.job = None
                self._taken = False

    def _source(self, served: Served) -> Source | None:
        """Who is asked; None if there is nobody."""
        if served.uds is not None:
            self._ask.why = self._why
            return Reader(served.uds, self._ask, self)
        if served.groups is None:
            return None
        ask = GroupAsker(
            self._gate,
            served.groups.label,
            self._waiting,
            self._ending.wait,
            why=self._why,
            patience_s=self._patience_s,
        )
        return ToldReader(served.groups, ask, lambda: self.heard, self)

    def _scan(self, served: Served, source: Source) -> None:
        locked = served.locked()
        if locked:
            self._ask.why = "unlock"
        found = source.whole()
        craft = served.serial() or served.name
        owners = {plan.data.module for plan in served.uds.outputs} if served.uds is not None else set()
        if found.has_read(owners) and served.locked() == locked:  # else it was locked after it was read
            self._gate.unlock_outputs()
        left = self._cut_short.get(craft)
        if left is not None and found.has_read({str(key) for key in left.get("modules", ())}):
            self._journal.put(END, craft=craft, cleared=[], unsure=[], known=True)
            del self._cut_short[craft]
        if served is self._served:
            self._publish("scan", craft, found, came_back=self._back_since(craft, found.faults))

    def _clear(self, served: Served, source: Source, request: ClearFaults) -> None:
        shown = self.report
        against = _against(request, shown, served, time.monotonic())
        if against or shown is None:
            self._refuse("clear", f"Nothing was cleared. {against}", (against,))
            return
        job = ClearJob(
            source,
            shown,
            self,
            journal=self._journal,
            operator=self.operator,
            settle_s=self._settle_s,
            wait=self._ending.wait,
        )
        try:
            cleared = job.run()
        except NotCleared as error:
            if served is self._served:
                self._refuse("clear", str(error), error.needs)
            return
        finally:
            self._cut_short = cut_short(self._journal.told)
        self._cleared[shown.craft] = shown.faults, cleared.at
        if served is self._served:
            self._publish(
                "clear", shown.craft, cleared.found, before=shown.faults, came_back=cleared.came_back
            )

    def _back_since(self, craft: str, faults: list[Fault]) -> list[CameBack]:
        """Which faults that were last cleared on this craft are there again."""
        before, cleared_at = self._cleared.get(craft, ([], {}))
        now = time.monotonic()
        return [
            back
            for module, at in cleared_at.items()
            for back in came_back([one for one in before if one.module == module], faults, round(now - at, 1))
        ]

    def _publish(
        self,
        kind: str,
        craft: str,
        found: Found,
        *,
        before: list[Fault] | None = None,
        came_back: list[CameBack] | None = None,
    ) -> None:
        self._numbers += 1
        self.report = Report(
            number=self._numbers,
            kind=kind,
            at=time.monotonic(),
            wall=time.time(),
            craft=craft,
            identity=found.identity,
            modules=found.modules,
            faults=found.faults,
            before=before or [],
            came_back=came_back or [],
            trouble=found.trouble,
            needs=list(found.needs),
        )

    def _refuse(self, kind: str, trouble: str, needs: tuple[str, ...]) -> None:
        """Nothing new is known: what was read before stays, with its time, and the reason is added."""
        shown = self.report
        if shown is None:
            self._publish(kind, "", Found(trouble=trouble, needs=needs))
            return
        self._numbers += 1
        self.report = msgspec.structs.replace(
            shown,
            number=self._numbers,
            kind=kind,
            before=[],
            came_back=[],
            trouble=trouble,
            needs=list(needs),
        )

    def _failed(self, kind: str, trouble: str) -> None:
        """A fault of our own: after one in the middle of clearing nothing that was read before counts."""
        craft = self.report.craft if self.report is not None else ""
        if kind == "clear" and craft in self._cut_short:
            found = recovered(craft, self._cut_short[craft])
            found.trouble = f"{trouble} {found.trouble}"
            self._publish(kind, craft, dataclasses.replace(found, faults=[]), before=found.faults)
        else:
            self._refuse(kind, trouble, ())

    def expect(self, steps: int) -> None:
        """See bus.scan_job.Progress."""
        if self.job is not None:
            self.job = msgspec.structs.replace(self.job, steps=self.job.steps + steps)

    def step(self, words: str) -> None:
        """See bus.scan_job.Progress."""
        if self.job is not None:
            done = min(self.job.done + 1, max(self.job.steps - 1, 0))
            self._words = words
            self.job = msgspec.structs.replace(self.job, words=words, done=done, waiting=False)

    def _waiting(self, words: str) -> None:
        if self.job is not None:
            self.job = msgspec.structs.replace(self.job, words=words or self._words, waiting=bool(words))


def _against(request: ClearFaults, shown: Report | None, served: Served, now: float) -> str:
    """Why what a person saw is not what would be cleared; empty if it is."""
    if shown is None:
        return "Read the faults first."
    if request.report != shown.number:
        return "Another reading has come since. Look at it, then clear."
    if not shown.at <= request.at <= now or now - shown.at > REPORT_HOLDS_S:
        return f"The faults were read more than {REPORT_HOLDS_S:.0f} s ago. Read again, then clear."
    if shown.craft != served.serial():
        return "Another controller answers now. Read again, then clear."
    return ""
