"""Processes as Linux tells of them, and their end, for several folders of tests."""

import contextlib
import signal
import subprocess
from pathlib import Path


def children_of(pid):
    """Command lines of the direct children of a process, by process id; those that are dead left out."""
    found = {}
    for entry in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError, IndexError):
            stat = (entry / "stat").read_text().rsplit(")", 1)[1].split()
            if int(stat[1]) == pid and stat[0] != "Z":
                found[int(entry.name)] = (entry / "cmdline").read_text().split("\0")
    return found


def end_all(started):
    """End what was started, the newest first, whether it stands still or not; returns when all are gone."""
    for child in reversed(started):
        with contextlib.suppress(ProcessLookupError):
            child.send_signal(signal.SIGCONT)
        child.terminate()
    for child in started:
        try:
            child.wait(10)
        except subprocess.TimeoutExpired:
            child.kill()
            child.wait()
