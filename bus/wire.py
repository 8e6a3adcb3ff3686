"""The wire itself: the only module of the tool that opens a bus. Only the gate may hold it."""

from __future__ import annotations

import contextlib
import errno
import os
import select
import time
from typing import TYPE_CHECKING, Any, Protocol

import can
import serial

from app.errors import AdapterDenied, AdapterError, AdapterLost, AdapterMissing
from bus import slcan
from bus.adapter import LISTEN_ONLY_OPTIONS
from bus.frame import EXTENDED, Frame

if TYPE_CHECKING:
    from bus.adapter import Adapter

ANSWER_WITHIN_S = 0.3
"""How long an adapter on a serial line may take to answer a command."""

BLOCK = 65_536
DRAIN = 500
"""Frames taken at most from one python-can bus before the caller gets them."""


class Wire(Protocol):
    """An open bus.

    Attributes:
        listening_only: the adapter takes no part: it acknowledges nothing and cannot send.
        bad: error frames, remote frames and noise seen since it was opened.
    """

    @property
    def listening_only(self) -> bool: ...  # noqa: D102
    @property
    def bad(self) -> int: ...  # noqa: D102

    def receive(self, timeout_s: float) -> list[Frame]:
        """Frames that have come; waits at most ``timeout_s`` for the first.

        Raises:
            AdapterLost: it went away.
        """

    def send(self, ident: int, data: bytes) -> None:
        """Give a frame to the adapter.

        Raises:
            AdapterLost: it went away, or took nothing.
        """

    def close(self) -> None:
        """Let go of the adapter; never raises."""


class CannotListen(AdapterError):
    """The adapter has no listen-only mode."""


def open_wire(adapter: Adapter, bitrate: int | None, *, listen_only: bool) -> Wire:
    """Open an adapter.

    Args:
        adapter: which one; its interface is known.
        bitrate: bit/s; None only where the rate is set elsewhere.
        listen_only: take no part in the bus.

    Raises:
        CannotListen: listen_only was asked of an adapter that has no such mode.
        AdapterMissing, AdapterDenied, AdapterError: it cannot be opened; the sentence says why.
    """
    if adapter.interface == "slcan":
        return _SerialLine(adapter, bitrate, listen_only=listen_only)
    return _LibraryBus(adapter, bitrate, listen_only=listen_only)


def _unusable(adapter: Adapter) -> AdapterMissing:
    return AdapterMissing(
        f"The interface {adapter.interface} cannot be used here: its name is unknown or its driver is "
        "not installed. Choose one that python-can lists."
    )


def _explain(adapter: Adapter, error: BaseException) -> AdapterError:
    """Turn what a library or the system raised into a sentence."""
    number = error.errno if isinstance(error, OSError) else None
    cause: BaseException | None = error
    while number is None and cause is not None:
        cause = cause.__cause__ or cause.__context__
        number = getattr(cause, "errno", None)
    where = adapter.channel or adapter.interface
    if number in {errno.ENOENT, errno.ENODEV, errno.ENXIO}:
        return AdapterMissing(f"There is no {where}. Plug the adapter in, or name another channel.")
    if number in {errno.EACCES, errno.EPERM}:
        return AdapterDenied(
            f"This user may not open {where}. Add the user to the group that owns it (often dialout), "
            "then log in again."
        )
    if number in {errno.EBUSY, errno.EAGAIN}:
        return AdapterError(f"Another program holds {where}. Close it.")
    if isinstance(error, can.CanInterfaceNotImplementedError):
        return _unusable(adapter)
    first = (str(error).strip() or type(error).__name__).splitlines()[0]
    return AdapterError(f"The adapter {adapter.words} could not be opened: {first}.")


class _SerialLine:
    """A serial-line adapter, read in blocks: one system call for all that has come."""

    def __init__(self, adapter: Adapter, bitrate: int | None, *, listen_only: bool) -> None:
        channel, _, baud = (adapter.channel or "").partition("@")
        if not channel:
            raise AdapterMissing("A serial line needs a channel, for example /dev/ttyACM0.")
        if bitrate not in slcan.RATE_COMMANDS:
            rates = ", ".join(str(rate) for rate in slcan.RATE_COMMANDS)
            raise AdapterError(f"A serial-line adapter cannot be set to {bitrate} bit/s. It knows {rates}.")
        try:
            self._port = serial.Serial(channel, int(baud or 115_200), timeout=0, exclusive=True)
        except (OSError, ValueError, serial.SerialException) as error:
            raise _explain(adapter, error) from error
        self._fd = self._port.fileno()
        self._poll = select.poll()
        self._poll.register(self._fd, select.POLLIN)
        self._lines = slcan.LineDecoder()
        self._early: list[Frame] = []
        self.listening_only = listen_only
        try:
            self._command(slcan.CLOSE)
            self._lines.noise = 0
            self._command(slcan.RATE_COMMANDS[bitrate])
            if not self._command(slcan.LISTEN if listen_only else slcan.OPEN) and listen_only:
                raise CannotListen(
                    f"The adapter {adapter.words} cannot listen without taking part in the bus."
                )
        except AdapterError:
            self.close()
            raise

    @property
    def bad(self) -> int:
        """Lines that were noise."""
        return self._lines.noise

    def _command(self, text: bytes) -> bool:
        """Give a command; True only if the adapter answered yes in time."""
        self._lines.take_answers()
        self._write(text)
        until = time.monotonic() + ANSWER_WITHIN_S
        while (left := until - time.monotonic()) > 0:
            self._early.extend(self._read(left))
            answers = self._lines.take_answers()
            if answers:
                return answers[-1]
        return False

    def _write(self, data: bytes) -> None:
        try:
            written = os.write(self._fd, data)
        except OSError as error:
            raise AdapterLost(f"The adapter on {self._port.port} went away.") from error
        if written != len(data):
            raise AdapterLost(f"The adapter on {self._port.port} takes no data.")

    def _read(self, timeout_s: float) -> list[Frame]:
        try:
            events = self._poll.poll(max(0.0, timeout_s) * 1000)
            if not events:
                return []
            block = os.read(self._fd, BLOCK)
        except BlockingIOError:
            return []
        except OSError as error:
            raise AdapterLost(f"The adapter on {self._port.port} went away.") from error
        if not block:
            raise AdapterLost(f"The adapter on {self._port.port} went away.")
        return self._lines.feed(block, time.monotonic())

    def receive(self, timeout_s: float) -> list[Frame]:
        """See Wire."""
        if self._early:
            early, self._early = self._early, []
            return early
        return self._read(timeout_s)

    def send(self, ident: int, data: bytes) -> None:
        """See Wire."""
        self._write(slcan.frame_line(ident, data))

    def close(self) -> None:
        """See Wire."""
        with contextlib.suppress(OSError):  # it may be gone already, which is what we want
            os.write(self._fd, slcan.CLOSE)
        with contextlib.suppress(OSError):
            self._port.close()


class _LibraryBus:
    """Any adapter that python-can knows."""

    def __init__(self, adapter: Adapter, bitrate: int | None, *, listen_only: bool) -> None:
        options: dict[str, Any] = {}
        interface = adapter.interface or ""
        if interface not in can.VALID_INTERFACES:
            raise _unusable(adapter)
        if adapter.sets_rate:
            options["bitrate"] = bitrate
            if listen_only:
                if interface not in LISTEN_ONLY_OPTIONS:
                    raise CannotListen(
                        f"The adapter {adapter.words} cannot listen without taking part in the bus."
                    )
                options |= LISTEN_ONLY_OPTIONS[interface]
                if "state" in options:
                    options["state"] = can.BusState[options["state"]]
        self._words = adapter.words
        self.listening_only = listen_only and adapter.sets_rate
        self.bad = 0
        try:
            self._bus = can.Bus(interface=interface, channel=adapter.channel, **options)
        except Exception as error:  # drivers raise anything; every one becomes a sentence
            raise _explain(adapter, error) from error

    def receive(self, timeout_s: float) -> list[Frame]:
        """See Wire."""
        frames: list[Frame] = []
        try:
            message = self._bus.recv(timeout_s)
            at = time.monotonic()
            taken = 0
            while message is not None:
                taken += 1
                if message.is_error_frame or message.is_remote_frame or message.is_fd:
                    self.bad += 1
                else:
                    ident = message.arbitration_id | (EXTENDED if message.is_extended_id else 0)
                    frames.append(Frame(at, ident, bytes(message.data)))
                if taken >= DRAIN:  # of any kind: a bus may say nothing but error frames, without end
                    break
                message = self._bus.recv(0)
        except Exception as error:
            raise AdapterLost(f"The adapter {self._words} went away: {error}.") from error
        return frames

    def send(self, ident: int, data: bytes) -> None:
        """See Wire."""
        try:
            self._bus.send(
                can.Message(
                    arbitration_id=ident & ~EXTENDED,
                    is_extended_id=bool(ident & EXTENDED),
                    data=data,
                ),
                timeout=0.05,
            )
        except Exception as error:
            raise AdapterLost(f"The adapter {self._words} took no frame: {error}.") from error

    def close(self) -> None:
        """See Wire."""
        with contextlib.suppress(Exception):  # it may be gone already, which is what we want
            self._bus.shutdown()
