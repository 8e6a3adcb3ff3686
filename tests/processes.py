"""Processes as Linux tells of them, and their end, for several folders of tests."""

import contextlib
import signal
import subprocess
from pathlib import Path


def parent_of(pid):
    """Process id of who started a process that runs; None of one that is gone, or dead and not waited for."""
    with contextlib.suppress(OSError, ValueError):
        state, parent, *_ = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
        return None if state == "Z" else int(parent)
    return None


def children_of(pid):
    """Command lines of the direct children of a process, by process id; those that are dead left out."""
    found = {}
    for entry in Path("/proc").glob("[0-9]*"):
        if parent_of(entry.name) == pid:
            with contextlib.suppress(OSError):
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
