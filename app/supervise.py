"""Keeps the two halves of the kiosk (and the demonstration craft) running: part of the composition root.

If one dies the others carry on, and it is started again at once; one that dies again and again is given a
short pause so that a broken installation does not burn the battery.
"""

from __future__ import annotations

import ctypes
import os
import signal
import subprocess
import sys
import threading
import time
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from types import FrameType

LOOK_S = 0.1
"""Between looks at the children."""

SHORT_LIFE_S = 3.0
"""A life shorter than this counts as a failed start."""

PAUSES_S = (0.0, 0.0, 0.5, 1.0, 2.0, 5.0)
"""Before start number n in a row of short lives."""

_PR_SET_PDEATHSIG = 1


def die_with_parent() -> None:
    """Ask the kernel to end this process (SIGTERM) when the one that started it ends, however it ends."""
    ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGTERM)


class _Child:
    def __init__(self, name: str, command: Sequence[str]) -> None:
        self.name = name
        self._command = command
        self._process: subprocess.Popen[bytes] | None = None
        self._started = 0.0
        self._short = 0
        self._not_before = 0.0

    def look(self, now: float) -> int | None:
        """Start it if it does not run. Returns its exit code when it has just ended by itself."""
        if self._process is None:
            if now >= self._not_before:
                environment = dict(os.environ, BOATHOOK_SUPERVISED="1")
                self._process = subprocess.Popen(self._command, env=environment)
                self._started = now
            return None
        code = self._process.poll()
        if code is None:
            return None
        self._process = None
        self._short = self._short + 1 if now - self._started < SHORT_LIFE_S else 0
        self._not_before = now + PAUSES_S[min(self._short, len(PAUSES_S) - 1)]
        return code

    def end(self) -> None:
        if self._process is None:
            return
        self._process.terminate()
        try:
            self._process.wait(5)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()


def supervise(commands: Mapping[str, Sequence[str]], *, ends_all: str) -> int:
    """Run commands until one of them ends the whole, or a signal does.

    Args:
        commands: name to command, in the order of starting; ended in the opposite order.
        ends_all: the one whose orderly end (exit code 0) closes the kiosk: the window.

    Returns:
        Exit code: 0, or 1 when a command cannot be run, or 3 refused and 2 usage as the child said.
    """
    done = threading.Event()

    def finish(_signal: int, _frame: FrameType | None) -> None:
        done.set()

    signal.signal(signal.SIGTERM, finish)
    signal.signal(signal.SIGINT, finish)
    children = [_Child(name, command) for name, command in commands.items()]
    code = 0
    try:
        while not done.is_set():
            for child in children:
                ended = child.look(time.monotonic())
                if ended is None:
                    continue
                if (child.name == ends_all and ended == 0) or ended in (2, 3):
                    code = ended
                    done.set()
                    break
                print(f"The {child.name} process ended ({ended}); it is started again.", file=sys.stderr)
            done.wait(LOOK_S)
    finally:
        for child in reversed(children):
            child.end()
    return code
