"""The bus process: gate, recorder and hub behind the wall."""

from __future__ import annotations

import contextlib
import gc
import os
import signal
import sys
import threading
import time
from typing import TYPE_CHECKING

from app.messages import FromScreen, Mark, SetBitRate
from bus.craft import craft_service
from bus.gate import Gate
from bus.hub import Hub
from bus.recorder import Recorder
from bus.wall import Wall

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path
    from types import FrameType

    from bus.adapter import Adapter
    from bus.craft import CraftService
    from bus.family import Family

SNAPSHOT_S = 0.05
"""Between snapshots: 20 a second at most."""

PRIORITY = -5
"""Nice value asked for, so that drawing on the other core's account does not delay the gate."""


def settle_in() -> None:
    """Ask for what the gate's loop needs of the machine: its turn soon, and no long collection of garbage.

    What is loaded by now stays until the end, so no collection looks through it again: of families and
    libraries alone that took some 35 ms, of a long journal more, and the gate stood still meanwhile.
    """
    with contextlib.suppress(OSError):  # granted to root and to the service; a desktop user goes without
        os.setpriority(os.PRIO_PROCESS, 0, PRIORITY)
    gc.collect()
    gc.freeze()


def run(
    adapter: Adapter,
    families: Sequence[Family],
    wall_path: Path,
    recordings: Path | None,
    *,
    journal: Path | None = None,
    make_gate: Callable[[Adapter], Gate] = Gate,
    replay: bool = False,
) -> int:
    """Serve until SIGTERM or SIGINT.

    Args:
        adapter: what to open; it is opened again for ever.
        families: what a craft may turn out to be.
        wall_path: where the screen finds us.
        recordings: folder for raw recordings; None records nothing (a replay is not recorded again).
        journal: what must not be forgotten; None asks no controller anything (a replay cannot).
        make_gate: builds the gate; a replay brings its own wire.
        replay: say REPLAY on every screen.

    Returns:
        Exit code: 0 after an orderly end.

    Raises:
        WallError: another bus process is already there.
    """
    gate = make_gate(adapter)
    hub_outlet = gate.outlet()
    recorder = None
    if recordings is not None:
        # the status is replaced as a whole, so it is asked for anew each time
        recorder = Recorder(recordings, gate.outlet(), lambda: gate.status.about())  # noqa: PLW0108

    service: CraftService | None = None

    def on_request(request: FromScreen) -> None:
        if isinstance(request, SetBitRate):
            gate.set_bit_rate(request.bitrate)
        elif isinstance(request, Mark):
            _mark(recorder, request)
        elif service is not None:
            service.ask(request)

    wall = Wall(wall_path, on_request)
    if journal is not None:
        service = craft_service(gate, journal)
    hub = Hub(
        gate,
        hub_outlet,
        families,
        lambda: recorder.state if recorder is not None else None,
        replay=replay,
        recognised=None if service is None else service.recognised,
    )
    done = threading.Event()

    def finish(_signal: int, _frame: FrameType | None) -> None:
        done.set()

    signal.signal(signal.SIGTERM, finish)
    signal.signal(signal.SIGINT, finish)
    settle_in()
    with contextlib.ExitStack() as ends:  # the gate ends first: it may still have something to write down
        ends.callback(wall.close)
        for part in (recorder, service, gate):
            if part is not None:
                part.start()
                ends.callback(part.stop)
        print(f"Boathook bus process: {adapter.words}, wall at {wall_path}.", file=sys.stderr, flush=True)
        _serve(hub, wall, service, done)
    return 0


def _mark(recorder: Recorder | None, mark: Mark) -> None:
    if recorder is not None:
        recorder.mark(mark.number, mark.at)


def _serve(hub: Hub, wall: Wall, service: CraftService | None, done: threading.Event) -> None:
    next_at = time.monotonic()
    while not done.is_set():
        wall.serve(hub.catalogue, None if service is None else service.report)
        left = next_at - time.monotonic()
        if left > 0:
            wall.wait(left)
            continue
        hub.pump()
        snapshot = hub.snapshot()
        wall.publish(snapshot if service is None else service.complete(snapshot))
        next_at = max(next_at + SNAPSHOT_S, time.monotonic())
