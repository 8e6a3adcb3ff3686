"""Which start of the machine this is: monotonic times of two starts cannot be compared."""

from __future__ import annotations

from pathlib import Path


def boot_id() -> str:
    """Id of this start of the machine; empty where the system does not tell."""
    try:
        return Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
    except OSError:
        return ""
