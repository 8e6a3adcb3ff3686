"""The craft that was recognised: its facts and outputs go to the gate, its controllers to the worker."""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from app.boot import boot_id
from app.output_messages import ClearFaults, ReadFaults, SignIn
from bus.actuate import Actuation, OutputRequest
from bus.diagnose import Diagnosis, Served
from bus.facts import FactTable
from bus.family_uds import ALL_AT_ONCE
from bus.group_requests import group_requests, tools
from bus.journal import Journal
from bus.requests import requests_of

if TYPE_CHECKING:
    from app.diagnosis import Report
    from app.messages import FromScreen, Snapshot
    from bus.family import Family
    from bus.gate import Gate

PROVED, PURGE = "proved", "purge"
"""Kinds of journal entries: engine speed was seen working; the engine has run long enough."""


class CraftService:
    """Between the hub, the wall and the gate; used by one thread.

    Args:
        gate: not started yet.
        journal: of this handheld.
        read_only: nothing can be fired or changed, whoever asks.
        diagnosis: another worker than the usual one.
    """

    def __init__(
        self, gate: Gate, journal: Journal, *, read_only: bool = False, diagnosis: Diagnosis | None = None
    ) -> None:
        self._gate = gate
        self._journal = journal
        self._read_only = read_only
        self._diagnosis = diagnosis or Diagnosis(gate, journal)
        self._actuation: Actuation | None = None
        self._signed_in = SignIn("", "")
        gate.audit.keep_in(journal)
        self._proved = {str(entry["body"].get("proof")) for entry in journal.told if entry["kind"] == PROVED}

    def start(self) -> None:
        """Begin; returns at once."""
        self._journal.start()
        self._diagnosis.start()

    def stop(self) -> None:
        """End, after the gate has."""
        self._diagnosis.stop()
        self._journal.stop()

    def recognised(self, family: Family) -> None:
        """A craft of this family was found; see Hub."""
        uds = family.uds
        table = FactTable(family, testers_of(family), self._proved, self._on_proved, self._on_purged)
        outputs = () if uds is None or self._read_only else uds.outputs
        actuation = Actuation(table, {plan.data.key: plan for plan in outputs}, self._journal, time.monotonic)
        actuation.handle(self._signed_in)
        self._actuation = actuation
        writing = not self._read_only
        allowed = requests_of(uds, writing=writing) | group_requests(family.j1939, writing=writing)
        self._gate.serve_craft(actuation, allowed, lambda: table.serial)
        self._diagnosis.serve(
            Served(family.name, uds, lambda: table.serial, lambda: actuation.locked, family.j1939)
        )

    def ask(self, request: FromScreen) -> None:
        """A request of the screen; one that is not about the craft is nothing here."""
        if isinstance(request, SignIn):
            self._signed_in = request
            self._diagnosis.operator = request.operator
        if isinstance(request, ReadFaults | ClearFaults):
            self._diagnosis.ask(request)
        elif isinstance(request, OutputRequest):
            self._gate.ask_output(request)

    @property
    def report(self) -> Report | None:
        """The newest about this craft."""
        return self._diagnosis.report

    def complete(self, snapshot: Snapshot) -> Snapshot:
        """Add what the worker and the gate do."""
        self._diagnosis.heard = snapshot.heard
        self._diagnosis.look()
        job = self._diagnosis.job  # before the report: a job that is over has left its report
        report, actuation = self._diagnosis.report, self._actuation
        return msgspec.structs.replace(
            snapshot,
            job=job,
            report=0 if report is None else report.number,
            output=None if actuation is None else actuation.state,
            operator=self._signed_in.operator,
        )

    def _on_proved(self, proof: str) -> None:
        craft, _, _ = proof.rpartition(" ")
        self._journal.put(PROVED, craft=craft, proof=proof)

    def _on_purged(self, serial: str) -> None:
        self._journal.put(PURGE, craft=serial)


def testers_of(family: Family) -> frozenset[int]:
    """Identifiers that only a tester sends."""
    if family.uds is None:
        return tools(family.j1939)
    return frozenset().union(*ALL_AT_ONCE.values(), (module.request for module in family.uds.modules))


def craft_service(gate: Gate, journal: Path, *, read_only: bool = False) -> CraftService:
    """The service with the journal at this place; read-only where nothing can be written down."""
    try:
        return CraftService(gate, Journal(journal, boot_id=boot_id()), read_only=read_only)
    except OSError as error:
        print(
            f"The journal {journal} cannot be opened: {error.strerror}. Faults can be read; nothing can be "
            "cleared or fired until that is mended.",
            file=sys.stderr,
            flush=True,
        )
        return read_only_service(gate)


def read_only_service(gate: Gate) -> CraftService:
    """A service that can fire and change nothing; what it notes is forgotten when it ends."""
    with tempfile.TemporaryDirectory(prefix="boathook-") as folder:
        journal = Journal(Path(folder) / "journal.jsonl")  # stays open, and usable, after its name is gone
    return CraftService(gate, journal, read_only=True)
