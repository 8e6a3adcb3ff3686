"""A full CAN bus in a process of its own, for reaction_gate.py: a craft, its controller, strangers' frames.

    python tests/benchmarks/full_bus.py BUS_FD ANCHOR_FD CONTROL_FD < traffic.json

Frames go both ways as lines of the serial-line protocol. A line "gate" or "anchor" on the control socket
makes it send, at once and into whatever else is under way, the one frame that says the engine turns; the
answer is when (CLOCK_MONOTONIC). The other frames leave every millisecond, as a USB adapter hands them over.
"""

import contextlib
import json
import os
import select
import socket
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "safety"))

from little_controller import LittleController

RESPONSE = 0x7E8


def line(ident, data):
    return b"t%03X%d%s\r" % (ident, len(data), data.hex().upper().encode())


class FullBus:
    def __init__(self, bus, anchor, control, traffic):
        self.bus, self.anchor, self.control = bus, anchor, control
        self.danger = bytes.fromhex(traffic["danger"])
        self.noise = [line(ident, bytes.fromhex(data)) for ident, data in traffic["noise"]]
        self.noise_a_ms = traffic["noise_a_ms"]
        self.cycles = [
            [period / 1000, 0.0, 0, [line(ident, bytes.fromhex(data)) for data in variants]]
            for period, ident, variants in traffic["cycles"]
        ]
        self.controller = LittleController(time.monotonic)
        self.heard = b""
        self.noise_at = 0

    def run(self):
        next_at = time.monotonic()
        while True:
            left = next_at - time.monotonic()
            ready, _, _ = select.select([self.bus, self.anchor, self.control], [], [], max(0.0, left))
            if self.control in ready and not self.order():
                return
            if self.bus in ready:
                self.hear()
            if self.anchor in ready:
                self.anchor.recv(4096)
            now = time.monotonic()
            if now >= next_at:
                self.bus.sendall(b"".join(self.due(now)))
                next_at = max(next_at + 0.001, now - 0.01)

    def order(self):
        words = self.control.recv(64)
        to = {b"gate\n": self.bus, b"anchor\n": self.anchor}.get(words)
        if to is None:
            return False
        at = time.monotonic()
        to.sendall(self.danger)
        self.control.sendall(repr(at).encode() + b"\n")
        return True

    def hear(self):
        *lines, self.heard = (self.heard + self.bus.recv(4096)).split(b"\r")
        for said in lines:
            self.controller.hear(int(said[1:4], 16), bytes.fromhex(said[5:].decode()))

    def due(self, now):
        """Of this millisecond: what the craft says, what its controller answers, strangers for the rest."""
        self.controller.tick()
        lines = [line(RESPONSE, data) for at, data in self.controller.answers if at <= now]
        self.controller.answers = [entry for entry in self.controller.answers if entry[0] > now]
        for cycle in self.cycles:
            period, at, count, variants = cycle
            if now >= at:
                cycle[1], cycle[2] = max(at + period, now), count + 1
                lines.append(variants[count % len(variants)])
        while len(lines) < self.noise_a_ms:
            self.noise_at = (self.noise_at + 1) % len(self.noise)
            lines.append(self.noise[self.noise_at])
        return lines


if __name__ == "__main__":
    with contextlib.suppress(OSError):  # it stands for hardware, which nobody keeps waiting
        os.setpriority(os.PRIO_PROCESS, 0, -15)
    FullBus(*(socket.socket(fileno=int(number)) for number in sys.argv[1:4]), json.load(sys.stdin)).run()
