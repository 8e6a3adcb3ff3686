"""Fakes for the electrical side: a scripted wire and a hand-driven clock."""

import queue
import threading
import time

import pytest

from app.errors import AdapterError, AdapterLost, AdapterMissing
from bus.frame import Frame
from bus.wire import CannotListen


class ScriptedCraft:
    """A craft, its bus and the adapter on it, for gates: every open makes a new wire on the same bus."""

    def __init__(self):
        self.rate = 500_000
        self.can_listen = True
        self.plugged = True
        self.awake = True
        self.opened = []
        self.sent = []
        self.lock = threading.Lock()
        self.extra = queue.SimpleQueue()
        self.held = None

    def open_wire(self, adapter, bitrate, *, listen_only):
        if not self.plugged:
            raise AdapterMissing("There is no adapter.")
        if listen_only and not self.can_listen:
            raise CannotListen("It cannot listen.")
        with self.lock:
            if self.held is not None:
                raise AdapterError("Another program holds it.")
            self.opened.append((bitrate, listen_only))
            self.held = ScriptedWire(self, bitrate, listen_only)
            return self.held


class ScriptedWire:
    bad = 0

    def __init__(self, craft, bitrate, listen_only):
        self.craft, self.bitrate, self.listening_only = craft, bitrate, listen_only

    def receive(self, timeout_s):
        if not self.craft.plugged:
            raise AdapterLost("It went away.")
        try:
            return self.craft.extra.get_nowait()
        except queue.Empty:
            pass
        if self.craft.awake and self.bitrate in (self.craft.rate, None):
            time.sleep(0.002)
            return [Frame(time.monotonic(), 0x120, bytes(8))]
        time.sleep(timeout_s)
        return []

    def send(self, ident, data):
        self.craft.sent.append((ident, data))

    def close(self):
        with self.craft.lock:
            assert self.craft.held is self
            self.craft.held = None


@pytest.fixture
def craft():
    return ScriptedCraft()
