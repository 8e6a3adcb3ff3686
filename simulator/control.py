"""The control socket: one JSON object a line both ways, for tests and for a person's script.

Only the user who started the simulator can connect. Several clients at once; none can hold up the others.
"""

from __future__ import annotations

import contextlib
import errno
import json
import os
import selectors
import socket
import time
from typing import TYPE_CHECKING, Any, Self

from simulator.errors import Forbidden, Misunderstood, SimulatorError

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

LONGEST_REQUEST = 65_536
LONGEST_ANSWERS = 32 * 1024 * 1024
"""Bytes that wait for a client who does not read; beyond it the client is hung up on."""
LONGEST_PATH = 107
"""Bytes of the name of a Unix socket on Linux."""


class _Client:
    def __init__(self, channel: socket.socket) -> None:
        self.channel = channel
        self.heard = b""
        self.answers = b""


class ControlServer:
    """The listening end; used by one thread."""

    def __init__(self, path: Path, handle: Callable[[dict[str, Any]], dict[str, Any]]) -> None:
        """Open the socket.

        Args:
            path: where; a socket that a killed simulator left there is replaced.
            handle: answers a request; raises SimulatorError with a sentence where it makes no sense.

        Raises:
            Forbidden: something else is there, or another simulator answers there.
            SimulatorError: it cannot be opened.
        """
        self._path = path
        self._handle = handle
        self._selector = selectors.DefaultSelector()
        _make_room(path)
        self._listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        before = os.umask(0o177)
        try:
            self._listener.bind(str(path))
            self._inode = path.stat().st_ino
        except OSError as error:
            self._listener.close()
            raise SimulatorError(f"The control socket {path} cannot be opened: {error.strerror}.") from error
        finally:
            os.umask(before)
        self._listener.listen()
        self._listener.setblocking(False)
        self._selector.register(self._listener, selectors.EVENT_READ)

    def wait(self, timeout_s: float) -> None:
        """Serve whoever asks; returns after ``timeout_s`` at the latest, sooner if something was served."""
        for key, events in self._selector.select(max(0.0, timeout_s)):
            client: _Client | None = key.data
            if client is None:
                self._accept()
                continue
            try:
                if events & selectors.EVENT_READ:
                    self._hear(client)
                self._answer(client)
            except (OSError, EOFError):
                self._hang_up(client)

    def _accept(self) -> None:
        with contextlib.suppress(OSError):
            channel, _ = self._listener.accept()
            channel.setblocking(False)
            self._selector.register(channel, selectors.EVENT_READ, _Client(channel))

    def _hear(self, client: _Client) -> None:
        with contextlib.suppress(BlockingIOError):
            block = client.channel.recv(LONGEST_REQUEST)
            if not block:
                raise EOFError
            client.heard += block
        *lines, client.heard = client.heard.split(b"\n")
        for line in lines:
            client.answers += json.dumps(self._reply(line)).encode() + b"\n"
        if len(client.heard) > LONGEST_REQUEST or len(client.answers) > LONGEST_ANSWERS:
            raise EOFError

    def _reply(self, line: bytes) -> dict[str, Any]:
        try:
            request = json.loads(line)
            if not isinstance(request, dict):
                raise Misunderstood("A request is one JSON object.")
            return self._handle(request)
        except (ValueError, RecursionError):
            return {"error": "A request is one JSON object in one line; this is not JSON."}
        except SimulatorError as error:
            return {"error": str(error)}

    def _answer(self, client: _Client) -> None:
        if client.answers:
            with contextlib.suppress(BlockingIOError):
                client.answers = client.answers[client.channel.send(client.answers) :]
        wanted = selectors.EVENT_READ | (selectors.EVENT_WRITE if client.answers else 0)
        self._selector.modify(client.channel, wanted, client)

    def _hang_up(self, client: _Client) -> None:
        self._selector.unregister(client.channel)
        client.channel.close()

    def close(self) -> None:
        """Give the last answers, hang up and take the socket away; never raises."""
        for key in list(self._selector.get_map().values()):
            if key.data is not None:
                with contextlib.suppress(OSError):
                    key.data.channel.setblocking(True)
                    key.data.channel.settimeout(0.5)
                    key.data.channel.sendall(key.data.answers)
                key.data.channel.close()
        self._selector.close()
        self._listener.close()
        with contextlib.suppress(OSError):
            if self._path.stat().st_ino == self._inode:
                self._path.unlink()


def _make_room(path: Path) -> None:
    """Take away the socket of a simulator that is gone."""
    if len(os.fsencode(path)) > LONGEST_PATH:
        raise Misunderstood(f"{path} is too long a name for a socket; name a shorter --control.")
    if not path.exists() and not path.is_symlink():
        return
    if not path.is_socket():
        raise Forbidden(f"{path} is there already and no socket; name another --control.")
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as probe:
        probe.settimeout(1.0)
        try:
            probe.connect(str(path))
        except OSError as error:
            if error.errno not in {errno.ECONNREFUSED, errno.ENOENT}:
                raise Forbidden(f"{path} cannot be taken over: {error.strerror}.") from error
        else:
            raise Forbidden(f"Another simulator answers at {path}; name another --control.")
    path.unlink(missing_ok=True)


class Control:
    """The asking end.

    Attributes:
        path: of the socket.
    """

    def __init__(self, path: str | Path, *, wait_s: float = 5.0) -> None:
        """Connect, waiting up to ``wait_s`` seconds for a simulator that is just starting.

        Raises:
            SimulatorError: nobody answers there.
        """
        self.path = str(path)
        until = time.monotonic() + wait_s
        while True:
            self._channel = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
            try:
                self._channel.connect(self.path)
            except OSError as error:
                self._channel.close()
                if time.monotonic() >= until:
                    raise SimulatorError(f"No simulator answers at {path}: {error.strerror}.") from error
                time.sleep(0.02)
            else:
                break
        self._channel.settimeout(10.0)
        self._heard = b""

    def ask(self, **request: Any) -> dict[str, Any]:
        """Send a request and wait for its answer, which has "error" if the request made no sense.

        Raises:
            SimulatorError: the simulator went away or does not answer.
        """
        try:
            self._channel.sendall(json.dumps(request).encode() + b"\n")
            while b"\n" not in self._heard:
                block = self._channel.recv(1 << 20)
                if not block:
                    raise SimulatorError(f"The simulator at {self.path} went away.")
                self._heard += block
        except OSError as error:
            raise SimulatorError(f"The simulator at {self.path} does not answer: {error}.") from error
        line, self._heard = self._heard.split(b"\n", 1)
        answer: dict[str, Any] = json.loads(line)
        return answer

    def close(self) -> None:
        """Hang up."""
        self._channel.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
