"""The screen side of the wall: what has come from the bus process, and a way to ask it."""

from __future__ import annotations

import contextlib
import socket
import time
from typing import TYPE_CHECKING

import msgspec

from app.diagnosis import Report
from app.messages import AskCatalogue, Catalogue, FromBus, FromScreen, SetBitRate, Snapshot
from app.output_messages import AskReport
from app.ports import View

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

AGAIN_S = 0.2
"""Between attempts to reach the bus process."""

ASK_S = 0.3
"""Between requests for a catalogue or report that has not come."""

LARGEST = 1 << 20
"""Bytes of one message from the bus process."""


class WallClient:
    """Implements app.ports.CraftLink over the wall."""

    def __init__(self, path: Path, *, clock: Callable[[], float] = time.monotonic) -> None:
        self._path = path
        self._clock = clock
        self._socket: socket.socket | None = None
        self._tried = float("-inf")
        self._asked: dict[type[AskCatalogue | AskReport], float] = {}
        self._encoder = msgspec.msgpack.Encoder()
        self._decoder: msgspec.msgpack.Decoder[FromBus] = msgspec.msgpack.Decoder(FromBus)
        self._snapshot: Snapshot | None = None
        self._catalogue: Catalogue | None = None
        self._report: Report | None = None

    def poll(self) -> View:
        """See app.ports.CraftLink."""
        if self._socket is None:
            self._connect()
        if self._socket is not None:
            self._drain(self._socket)
        catalogue, report = self._catalogue, self._report
        number = 0 if self._snapshot is None else self._snapshot.catalogue
        if catalogue is None or catalogue.number != number:
            catalogue = None
            self._fetch(number, AskCatalogue())
        number = 0 if self._snapshot is None else self._snapshot.report
        if report is None or report.number != number:
            report = None
            self._fetch(number, AskReport())
        return View(self._socket is not None, self._snapshot, catalogue, report)

    def set_bit_rate(self, bitrate: int | None) -> None:
        """See app.ports.CraftLink."""
        self._send(SetBitRate(bitrate))

    def ask(self, request: FromScreen) -> None:
        """See app.ports.CraftLink."""
        self._send(request)

    def close(self) -> None:
        """See app.ports.CraftLink."""
        if self._socket is not None:
            self._socket.close()
            self._socket = None

    def fileno(self) -> int:
        """For a reader that waits: the connection's descriptor, -1 while there is none."""
        return -1 if self._socket is None else self._socket.fileno()

    def _connect(self) -> None:
        now = self._clock()
        if now - self._tried < AGAIN_S:
            return
        self._tried = now
        connection = socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET | socket.SOCK_NONBLOCK)
        try:
            connection.connect(str(self._path))
        except OSError:
            connection.close()
            return
        self._socket = connection
        self._catalogue = self._report = None  # another bus process numbers them anew
        self._asked.clear()

    def _drain(self, connection: socket.socket) -> None:
        """Take everything that waits; of several snapshots only the newest counts."""
        while True:
            try:
                data = connection.recv(LARGEST)
            except BlockingIOError:
                return
            except OSError:
                data = b""
            if not data:
                self.close()
                return
            try:
                message = self._decoder.decode(data)
            except (msgspec.DecodeError, UnicodeDecodeError):
                self.close()
                return
            if isinstance(message, Catalogue):
                self._catalogue = message
            elif isinstance(message, Report):
                self._report = message
            else:
                self._snapshot = message

    def _fetch(self, number: int, request: AskCatalogue | AskReport) -> None:
        """Ask for what has this number, now and then; 0 = there is none."""
        now = self._clock()
        if number and now - self._asked.get(type(request), float("-inf")) >= ASK_S:
            self._asked[type(request)] = now
            self._send(request)

    def _send(self, request: FromScreen) -> None:
        if self._socket is not None:
            with contextlib.suppress(OSError):  # a dead connection shows itself at the next poll
                self._socket.send(self._encoder.encode(request), socket.MSG_NOSIGNAL)
