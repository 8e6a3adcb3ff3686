"""The bus side of the wall: a local socket on which snapshots go out and requests come in.

AF_UNIX SOCK_SEQPACKET, owner only, never blocking. A reader that does not read loses snapshots and nothing
else; a message that is too long or makes no sense closes the connection it came on and nothing else.
"""

from __future__ import annotations

import contextlib
import errno
import os
import select
import socket
import struct
import sys
from typing import TYPE_CHECKING

import msgspec

from app.errors import WallError, WallTaken
from app.messages import MAX_MESSAGE, AskCatalogue, Catalogue, FromScreen, Snapshot
from app.output_messages import AskReport

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from app.diagnosis import Report

READERS = 8
"""Connections at a time: the screen, and a command line or two."""

REQUESTS_A_TURN = 32
"""Messages taken from one connection before the others have their turn."""

_CREDENTIALS = struct.Struct("3i")


class Wall:
    """Listens at a path and serves every connection of the same user.

    Attributes:
        dropped: snapshots not sent because a reader was slow.
        expelled: connections closed for what they sent.
    """

    def __init__(self, path: Path, on_request: Callable[[FromScreen], None]) -> None:
        self._path = path
        self._on_request = on_request
        self._encoder = msgspec.msgpack.Encoder()
        self._decoder: msgspec.msgpack.Decoder[FromScreen] = msgspec.msgpack.Decoder(FromScreen)
        self._readers: list[socket.socket] = []
        self.dropped = 0
        self.expelled = 0
        self._listener = self._listen()

    def _listen(self) -> socket.socket:
        self._path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        listener = socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET | socket.SOCK_NONBLOCK)
        with socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET) as probe:
            try:
                probe.connect(str(self._path))
            except FileNotFoundError:
                pass
            except OSError:
                self._path.unlink(missing_ok=True)  # left behind by one that was killed
            else:
                listener.close()
                raise WallTaken(
                    f"Another Boathook already talks to the craft ({self._path}). Use its window or close it."
                )
        old = os.umask(0o177)
        try:
            listener.bind(str(self._path))
        except OSError as error:
            listener.close()
            raise WallError(f"The socket {self._path} cannot be made: {error.strerror}.") from error
        finally:
            os.umask(old)
        listener.listen(READERS)
        return listener

    def serve(self, catalogue: Catalogue | None, report: Report | None = None) -> None:
        """Take new connections and requests; answer requests for catalogue and report. Never blocks."""
        self._accept()
        for reader in list(self._readers):
            for _ in range(REQUESTS_A_TURN):
                if not self._take(reader, catalogue, report):
                    break

    def wait(self, timeout_s: float) -> None:
        """Until somebody connects or asks something, at most ``timeout_s``."""
        select.select([self._listener, *self._readers], [], [], timeout_s)

    def publish(self, snapshot: Snapshot) -> None:
        """Send the newest state to everyone who has room for it."""
        if not self._readers:
            return
        message = self._encoder.encode(snapshot)
        for reader in list(self._readers):
            if not self._send(reader, message):
                self.dropped += 1

    def close(self) -> None:
        """Hang up and remove the socket."""
        for reader in self._readers:
            reader.close()
        self._readers.clear()
        self._listener.close()
        self._path.unlink(missing_ok=True)

    def _accept(self) -> None:
        with contextlib.suppress(BlockingIOError, ConnectionAbortedError):
            while True:
                reader, _ = self._listener.accept()
                reader.setblocking(False)
                credentials = reader.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, _CREDENTIALS.size)
                _, uid, _ = _CREDENTIALS.unpack(credentials)
                if uid not in (os.geteuid(), 0) or len(self._readers) >= READERS:
                    reader.close()
                    continue
                self._readers.append(reader)

    def _take(self, reader: socket.socket, catalogue: Catalogue | None, report: Report | None) -> bool:
        """One message; False when there is none or the connection is gone."""
        try:
            data, _, flags, _ = reader.recvmsg(MAX_MESSAGE)
        except BlockingIOError:
            return False
        except OSError:
            self._drop(reader)
            return False
        if not data and not flags & socket.MSG_TRUNC:
            self._drop(reader)
            return False
        try:
            request = None if flags & socket.MSG_TRUNC else self._decoder.decode(data)
        except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
            request = None
        if request is None:
            self.expelled += 1
            self._drop(reader)
            return False
        if isinstance(request, AskCatalogue | AskReport):
            wanted = catalogue if isinstance(request, AskCatalogue) else report
            if wanted is not None:
                self._send(reader, self._encoder.encode(wanted))
        else:
            self._on_request(request)
        return True

    def _send(self, reader: socket.socket, message: bytes) -> bool:
        try:
            reader.send(message, socket.MSG_DONTWAIT | socket.MSG_NOSIGNAL)
        except BlockingIOError:
            return False
        except OSError as error:
            if error.errno == errno.EMSGSIZE:  # ours is too long, the reader has done nothing wrong
                print(
                    f"A message of {len(message)} bytes does not pass the wall.", file=sys.stderr, flush=True
                )
                return False
            self._drop(reader)
        return True

    def _drop(self, reader: socket.socket) -> None:
        if reader in self._readers:
            self._readers.remove(reader)
        reader.close()
