"""Is this handheld fit for work? One finding a line, each with what to do."""

from __future__ import annotations

import os
import shutil
import time
from typing import TYPE_CHECKING

import msgspec

from app.clocks import EARLIEST_MS
from bus.adapter import plugged_in
from bus.gate import Gate
from bus.way import Way

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from app.errors import FamilyError
    from bus.adapter import Adapter
    from bus.client import WallClient
    from bus.family import Family

LISTEN_S = 3.0
ENOUGH_FREE = 1 << 30
"""Bytes: about six hours of a busy bus."""


class Finding(msgspec.Struct, frozen=True):
    """One thing looked at.

    Attributes:
        part: adapter, bus, storage, clock, families or screen.
        ok: True fit, False not fit, None not looked at.
        words: what was seen and, if it is not fit, what to do.
    """

    part: str
    ok: bool | None
    words: str


def examine(
    adapter: Adapter,
    client: WallClient,
    families: Sequence[Family],
    broken: Sequence[FamilyError],
    data: Path,
) -> Iterator[Finding]:
    """Look at adapter, bus, storage, clock and families; listens at most LISTEN_S and sends nothing."""
    yield from _adapter_and_bus(adapter, client)
    yield _storage(data)
    yield _clock(data)
    yield Finding("families", True, "Sound: " + ", ".join(family.name for family in families) + ".")
    for error in broken:
        yield Finding("families", False, str(error))


def _adapter_and_bus(adapter: Adapter, client: WallClient) -> Iterator[Finding]:
    view = client.poll()
    if view.connected:
        yield Finding("adapter", None, "A running Boathook holds it; its Connection page tells the state.")
        yield Finding("bus", None, "Not looked at for the same reason.")
        return
    chosen = plugged_in(adapter)
    if chosen is None:
        yield Finding("adapter", False, "No adapter is plugged in. Plug one in, or name it with --interface.")
        yield Finding("bus", None, "Not looked at: no adapter.")
        return
    gate = Gate(chosen)
    outlet = gate.outlet()
    frames = 0
    gate.start()
    until = time.monotonic() + LISTEN_S
    while time.monotonic() < until:
        frames += len(outlet.take(0.1))
    status = gate.status
    gate.stop()
    if status.way in (Way.NO_ADAPTER, Way.NEED_RATE):
        yield Finding("adapter", False, status.reason)
        yield Finding("bus", None, "Not looked at: the adapter is not ready.")
        return
    yield Finding("adapter", True, f"{chosen.words} opens.")
    if frames:
        rate = "" if status.bitrate is None else f" at {status.bitrate // 1000} kbit/s"
        yield Finding("bus", True, f"{frames} frames in {LISTEN_S:.0f} s{rate}.")
    else:
        yield Finding("bus", False, "Nothing is heard. Push the plug home and turn the key on.")


def _storage(data: Path) -> Finding:
    try:
        data.mkdir(parents=True, exist_ok=True)
        probe = data / ".doctor"
        started = time.monotonic()
        with probe.open("wb") as file:
            file.write(b"boathook")
            file.flush()
            os.fsync(file.fileno())
        took = time.monotonic() - started
        probe.unlink()
        free = shutil.disk_usage(data).free
    except OSError as error:
        return Finding(
            "storage", False, f"{data} cannot be written: {error.strerror}. Check the card and its rights."
        )
    words = f"{data}: {free / 2**30:.1f} GiB free, a safe write takes {took * 1000:.0f} ms."
    if free < ENOUGH_FREE:
        return Finding("storage", False, f"{words} Copy recordings off and delete them.")
    return Finding("storage", True, words)


def _clock(data: Path) -> Finding:
    now = time.time()
    shown = time.strftime("%Y-%m-%d %H:%M UTC", time.gmtime(now))
    newest = max((path.stat().st_mtime for path in (data / "recordings").glob("*.log")), default=0.0)
    if now * 1000 < EARLIEST_MS:
        return Finding("clock", False, f"It says {shown}, before this program was made. Set the clock.")
    if newest > now + 60:
        return Finding("clock", False, f"It says {shown}, before the newest recording. Set the clock.")
    return Finding("clock", True, f"{shown}.")
