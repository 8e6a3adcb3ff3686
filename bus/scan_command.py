"""Identity and faults on the command line: from a running bus process, or read-only from the craft."""

from __future__ import annotations

import select
import sys
import time
from typing import TYPE_CHECKING, TextIO

import msgspec

from app.output_messages import ReadFaults
from bus.craft import read_only_service
from bus.gate import Gate
from bus.hub import Hub
from bus.watch_live import TURN_S, say_link

if TYPE_CHECKING:
    from collections.abc import Sequence

    from app.diagnosis import Fault, ModuleState, Report
    from app.messages import Catalogue, Snapshot
    from bus.adapter import Adapter
    from bus.client import WallClient
    from bus.family import Family

LONGEST_S = 180.0
"""Of one scan; every question has its own, shorter end."""

ASK_AGAIN_S = 1.0
"""A request that came while another job was under way was dropped."""

FAILED, REFUSED = 1, 3


class _Waiting:
    """Follows what is known until the report has come, or will not.

    Attributes:
        words: why there will be none, empty while there may.
    """

    def __init__(self, seconds: float) -> None:
        self._found_by = time.monotonic() + seconds
        self._done_by = self._found_by + LONGEST_S
        self._asked = float("-inf")
        self._before: int | None = None
        self._said = ""
        self.words = ""

    def wants_to_ask(self, snapshot: Snapshot, catalogue: Catalogue | None) -> bool:
        """Whether the request is to be sent now."""
        now = time.monotonic()
        if snapshot.job is not None and snapshot.job.words != self._said:
            self._said = snapshot.job.words
            print(self._said, file=sys.stderr, flush=True)
        if catalogue is None or catalogue.number != snapshot.catalogue:
            if now > self._found_by:
                self.words = "No craft that is known is heard."
            return False
        if not catalogue.modules:
            self.words = f"The family {catalogue.family} names no controllers that can be asked."
            return False
        if now > self._done_by:
            self.words = "The scan came to no end."
        if self._before is None:
            self._before = snapshot.report
        if snapshot.job is not None or now - self._asked < ASK_AGAIN_S:
            return False
        self._asked = now
        return True

    def has_come(self, report: Report | None) -> bool:
        """Whether this is the report that was asked for."""
        return (
            report is not None
            and self._before is not None
            and report.number > self._before
            and report.kind == "scan"
        )


def attached(client: WallClient, out: TextIO, *, as_json: bool, seconds: float) -> int:
    """Ask the running bus process.

    Args:
        client: connected.
        out: where the report goes.
        as_json: as one JSON object.
        seconds: how long to wait for a craft.

    Returns:
        Exit code.
    """
    waiting = _Waiting(seconds)
    while not waiting.words:
        view = client.poll()
        if not view.connected:
            waiting.words = "The bus process has ended."
        elif waiting.has_come(view.report):
            assert view.report is not None
            return _print(view.report, out, as_json=as_json)
        elif view.snapshot is not None and waiting.wants_to_ask(view.snapshot, view.catalogue):
            client.ask(ReadFaults())
        select.select([client.fileno()] if view.connected else [], [], [], TURN_S)
    print(waiting.words, file=sys.stderr)
    return FAILED


def alone(adapter: Adapter, families: Sequence[Family], out: TextIO, *, as_json: bool, seconds: float) -> int:
    """Open the adapter and ask the craft; nothing can be fired or changed on this way. See ``attached``."""
    gate = Gate(adapter)
    service = read_only_service(gate)
    hub = Hub(gate, gate.outlet(), families, lambda: None, recognised=service.recognised)
    waiting = _Waiting(seconds)
    said = ""
    gate.start()
    service.start()
    try:
        while not waiting.words:
            hub.pump()
            if waiting.has_come(service.report):
                assert service.report is not None
                return _print(service.report, out, as_json=as_json)
            if waiting.wants_to_ask(service.complete(hub.snapshot()), hub.catalogue):
                service.ask(ReadFaults())
            said = say_link(hub, gate, said)
            time.sleep(TURN_S)
    finally:
        gate.stop()
        service.stop()
    print(waiting.words, file=sys.stderr)
    return FAILED


def _print(report: Report, out: TextIO, *, as_json: bool) -> int:
    """The report, and the exit code that goes with it."""
    out.write(msgspec.json.encode(report).decode() + "\n" if as_json else _text(report))
    out.flush()
    if report.needs:
        return REFUSED
    return FAILED if report.trouble or not all(module.read for module in report.modules) else 0


def _text(report: Report) -> str:
    lines = [report.craft or "No craft"]
    lines += [
        f"{line.label}: {line.value or 'not told'}{' ' if line.unit else ''}{line.unit}"
        for line in report.identity
    ]
    for module in report.modules:
        faults = [fault for fault in report.faults if fault.module == module.key]
        lines.append(_module(module, len(faults)))
        for fault in faults:
            lines.append(f"  {_fault(fault)}")
            lines += [f"    {line.label}: {line.value} {line.unit}".rstrip() for line in fault.snapshot]
    if report.trouble:
        lines.append(report.trouble)
    return "\n".join(lines) + "\n"


def _module(module: ModuleState, count: int) -> str:
    if not module.read:
        return f"{module.label}: NOT READ. {module.words}"
    return f"{module.label}: {'no' if count == 0 else count} fault{'' if count == 1 else 's'}"


def _fault(fault: Fault) -> str:
    states = {
        "failing now": fault.failed_now,
        "pending": fault.pending,
        "confirmed": fault.confirmed,
        "warning lamp": fault.warning,
    }
    facts = [words for words, holds in states.items() if holds] or ["failed since the last clearing"]
    if fault.count is not None:
        facts.append(f"set {fault.count} time{'' if fault.count == 1 else 's'}")
    if fault.hours is not None:
        facts.append(f"at {fault.hours:.1f} h")
    return f"{fault.code} {fault.text or '(not known to the family)'}: {', '.join(facts)}"
