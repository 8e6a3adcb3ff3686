"""The screen side of the wall: what has come from the bus process, and a way to ask it."""

from __future__ import annotations

import contextlib
import socket
import time
from typing import TYPE_CHECKING

import msgspec

from app.messages import AskCatalogue, Catalogue, FromBus, FromScreen, SetBitRate, Snapshot
from app.ports import View

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

AGAIN_S = 0.2
"""Between attempts to reach the bus process."""

ASK_S = 0.3
"""Between requests for a catalogue that has not come."""

LARGEST = 1 << 20
"""Bytes of one message from the bus process."""


class WallClient:
    """Implements app.ports.CraftLink over the wall."""

    def __init__(self, path: Path, *, clock: Callable[[], float] = time.monotonic) -> None:
        self._path = path
        self._clock = clock
        self._socket: socket.socket | None = None
        self._tried = float("-inf")
        self._asked = float("-inf")
        self._encoder = msgspec.msgpack.Encoder()
        self._decoder: msgspec.msgpack.Decoder[FromBus] = msgspec.msgpack.Decoder(FromBus)
        self._snapshot: Snapshot | None = None
        self._catalogue: Catalogue | None = None

    def poll(self) -> View:
        """See app.ports.CraftLink."""
        if self._socket is None:
            self._connect()
        if self._socket is not None:
            self._drain(self._socket)
        catalogue = self._catalogue
        if self._snapshot is not None and self._snapshot.catalogue:
            if catalogue is None or catalogue.number != self._snapshot.catalogue:
                catalogue = None
                self._ask()
        else:
            catalogue = None
        return View(self._socket is not None, self._snapshot, catalogue)

    def set_bit_rate(self, bitrate: int | None) -> None:
        """See app.ports.CraftLink."""
        self._send(SetBitRate(bitrate))

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
        self._catalogue = None  # another bus process numbers its catalogues anew
        self._asked = float("-inf")

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
            else:
                self._snapshot = message

    def _ask(self) -> None:
        now = self._clock()
        if now - self._asked >= ASK_S:
            self._asked = now
            self._send(AskCatalogue())

    def _send(self, request: FromScreen) -> None:
        if self._socket is not None:
            with contextlib.suppress(OSError):  # a dead connection shows itself at the next poll
                self._socket.send(self._encoder.encode(request), socket.MSG_NOSIGNAL)
