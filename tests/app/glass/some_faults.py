"""Faults of an invented craft, and reports of them; codes are examples of SAE J2012, their words invented."""

from __future__ import annotations

from app.diagnosis import Fault, ModuleState, Report

MODULES = {"engine": "Engine controller", "display": "Display"}


def fault(code="P0117", text="Coolant sensor low", number=0x011700, status=0x08, *, module="engine", **more):
    failed, pending, confirmed = (bool(status & bit) for bit in (0x01, 0x04, 0x08))
    return Fault(module, number, code, text, status, failed, pending, confirmed, status >= 0x80, **more)


def report(*faults, at=880.0, kind="scan", number=1, craft="auk 20417", unread=None, **more):
    """Of both controllers, two minutes before second 1000; ``unread``: why one was not read."""
    unread = unread or {}
    modules = [
        ModuleState(key, label, key not in unread, unread.get(key, "")) for key, label in MODULES.items()
    ]
    more = {"identity": []} | more
    return Report(number, kind, at, 0.0, craft, modules=modules, faults=list(faults), **more)


def rows(lines):
    return [f"{line.strong} {line.plain}".strip().replace("\u00a0", " ") for line in lines]


def shapes(lines):
    return [line.shape for line in lines]


COOLANT = fault(status=0x2F, hours=1142.3, count=12, age=0)
SUPPLY = fault("P0562", "System voltage low", 0x056200, 0x28, hours=1142.25, count=1, age=1)
MISFIRE = fault("P0301", "Misfire in cylinder 1", 0x030100, 0x24, hours=1098.0, count=255, age=14)
STRANGE = fault("U0073-04", "", 0xC07304, 0x20, module="display")
BOTH = [COOLANT, SUPPLY]
