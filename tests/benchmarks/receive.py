"""What receiving costs: our block reader against python-can's serial-line bus, CPU per frame, in one run.

    .venv/bin/python tests/benchmarks/receive.py

A child process writes 8-byte frames at a steady 1000 a second into a pty; both readers take turns on it. The
goal is a ratio of at most 0.5. The machine may be shared: quote the ratio, not the microseconds.
"""

import os
import statistics
import subprocess
import sys
import textwrap
import time
import tty

import can

from bus.adapter import Adapter
from bus.wire import open_wire

FRAMES = 3000
ROUNDS = 3

WRITER = textwrap.dedent(
    """
    import os, sys, time
    fd, count = int(sys.argv[1]), int(sys.argv[2])
    at = time.monotonic()
    for number in range(count):
        os.write(fd, b"t1208%016X\\r" % number)
        at += 0.001
        time.sleep(max(0.0, at - time.monotonic()))
    """
)


def paced(master):
    return subprocess.Popen([sys.executable, "-c", WRITER, str(master), str(FRAMES)], pass_fds=[master])


def ours(path, master):
    wire = open_wire(Adapter("slcan", path), 500_000, listen_only=False)
    writer = paced(master)
    began, got = time.process_time(), 0
    while got < FRAMES:
        got += len(wire.receive(1.0))
    spent = time.process_time() - began
    writer.wait()
    wire.close()
    return spent / FRAMES * 1e6


def theirs(path, master):
    bus = can.Bus(interface="slcan", channel=path, bitrate=500_000, sleep_after_open=0)
    writer = paced(master)
    began, got = time.process_time(), 0
    while got < FRAMES:
        got += bus.recv(1.0) is not None
    spent = time.process_time() - began
    writer.wait()
    bus.shutdown()
    return spent / FRAMES * 1e6


def main():
    master, slave = os.openpty()
    tty.setraw(slave)
    path = os.ttyname(slave)
    rows = [(ours(path, master), theirs(path, master)) for _ in range(ROUNDS)]
    mine, other = (statistics.median(column) for column in zip(*rows, strict=True))
    print(f"ours {mine:.1f} us a frame, python-can {other:.1f} us a frame, ratio {mine / other:.2f}")


if __name__ == "__main__":
    main()
