"""What else the machine does while an output must end: another process draws and reckons all the time."""

import contextlib
import os
import subprocess
import sys
from pathlib import Path

WORKS = """
import json, os, zlib
from PIL import Image, ImageDraw, ImageFilter
rows = [(n * 7919 % 10007, str(n)) for n in range(4000)]
starter = os.getppid()
while os.getppid() == starter:
    picture = Image.new("RGB", (800, 480), "white")
    pen = ImageDraw.Draw(picture)
    for n in range(400):
        pen.line((n * 2, 0, 800 - n * 2, 480), fill=(n % 255, 90, 40), width=3)
    picture.filter(ImageFilter.GaussianBlur(3)).resize((1280, 768)).tobytes()
    zlib.compress(json.dumps(sorted(rows)).encode(), 6)
    [{"row": row} for row in rows]
"""
"""Draws a picture and goes through numbers, in turn, for as long as it is let: a report and an analysis."""


class OtherWork:
    """Begins at once."""

    def __init__(self):
        self._child = subprocess.Popen([sys.executable, "-c", WORKS])

    def end(self):
        self._child.kill()
        self._child.wait()


def kept_waiting(pid):
    """Seconds for which the kernel has let each thread of this process wait for a core, by thread.

    Without those that end meanwhile; empty where the kernel does not count it.
    """
    found = {}
    with contextlib.suppress(OSError):
        for task in Path(f"/proc/{pid}/task").iterdir():
            with contextlib.suppress(OSError):
                found[task.name] = int((task / "schedstat").read_text().split()[1]) / 1e9
    return found


def stolen():
    """Seconds for which the host has let the cores of this machine wait, all cores together."""
    first = Path("/proc/stat").read_text().splitlines()[0].split()
    return int(first[8]) / os.sysconf("SC_CLK_TCK")


class Delays:
    """Why something was late: how long its processes have had to wait for a core since this was made.

    Args:
        pids: name to process.
    """

    def __init__(self, pids):
        self._pids = pids
        self._before = {name: kept_waiting(pid) for name, pid in pids.items()}
        self._stolen = stolen()

    def words(self):
        waited = []
        for name, pid in self._pids.items():
            before = self._before[name]
            waits = [now - before.get(task, 0.0) for task, now in kept_waiting(pid).items()]
            longest = max(waits, default=0.0)
            waited.append(f"{name} {longest * 1000:.0f} ms")
        return f"waited for a core: {', '.join(waited)}; host took {stolen() - self._stolen:.2f} s of all"
