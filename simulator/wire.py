"""Where simulated frames go: the only module of the simulator that opens a bus.

Three ways and no other: a pseudo-terminal that behaves like a serial-line adapter, python-can's virtual bus,
and a virtual CAN network interface. Nothing here can reach a craft.
"""

from __future__ import annotations

import contextlib
import os
import tty
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

import can

from simulator.codec import EXTENDED
from simulator.errors import Forbidden, SimulatorError
from simulator.lone import LoneSender
from simulator.slcan import Adapter
from simulator.vcan import is_vcan

if TYPE_CHECKING:
    from collections.abc import Callable

    from simulator.ledger import Ledger

Frames = list[tuple[int, bytes]]

INTERFACES = ("slcan", "virtual", "socketcan")
BACKLOG = 4096
"""Bytes that wait for a reader who is slow; beyond it frames are dropped and counted."""
READ_MOST = 4096
SLAVES = "/dev/pts/"


class Transport(Protocol):
    """A way to whoever listens.

    Attributes:
        words: for a person.
        place: what the tool must open.
        sent: frames given to the other side, the mark among them; dropped: lost because it did not read.
    """

    words: str
    place: str
    sent: int
    dropped: int

    def carry(self, frames: Frames, at_ms: int, step_ms: int) -> None:
        """Put the frames of one step on the bus; never waits."""

    def listen(self) -> None:
        """Take what the other side sent and answer it; never waits."""

    def plugged(self, *, is_in: bool) -> None:
        """The adapter is in its plug, or pulled."""

    def arrange(self, *, nodes: int, listen_only: bool) -> None:
        """Change who is on the bus and what the adapter can; see open_transport."""

    def state(self) -> dict[str, Any]:
        """For the control socket."""

    def close(self) -> None:
        """Let go of everything; never raises."""


def open_transport(
    interface: str,
    channel: str | None,
    *,
    bitrate: int,
    ledger: Ledger,
    awake: Callable[[], bool],
    nodes: int = 2,
    listen_only: bool = True,
) -> Transport:
    """Open a way for a simulated craft.

    Args:
        interface: one of INTERFACES.
        channel: link to the pseudo-terminal (None = no link), name of the virtual bus, or of a vcan device.
        bitrate: bit/s of the simulated bus.
        ledger: gets all that is received.
        awake: whether there is traffic now.
        nodes: controllers on the bus; 1 = nobody but the tool confirms frames.
        listen_only: whether the serial-line adapter has a listen-only mode.

    Raises:
        Forbidden: any other interface, or a network interface that is not virtual.
        SimulatorError: it cannot be opened.
    """
    if interface == "slcan":
        return SerialLine(
            channel, bitrate=bitrate, ledger=ledger, awake=awake, nodes=nodes, listen_only=listen_only
        )
    if interface == "virtual":
        return LibraryBus("virtual", channel or "boathook", ledger)
    if interface == "socketcan":
        if channel is None or not is_vcan(channel):
            raise Forbidden(
                f"The simulator does not send on {channel or 'an unnamed device'}, because the kernel does "
                "not say that it is a virtual CAN device (vcan); make one, or leave --interface away."
            )
        return LibraryBus("socketcan", channel, ledger)
    raise Forbidden(
        f"The simulator never opens {interface}: a real craft could hang on it; it serves only "
        f"{', '.join(INTERFACES)}."
    )


def _check_link(link: Path) -> None:
    """Only the link of a simulator is ever replaced; one that was killed leaves it behind."""
    if link.is_symlink():
        if not str(link.readlink()).startswith(SLAVES):
            raise Forbidden(f"{link} is a link to something else; name another --channel.")
    elif link.exists():
        raise Forbidden(f"{link} is there already and no link of a simulator; name another --channel.")


class SerialLine:
    """A pseudo-terminal with a serial-line adapter behind it."""

    def __init__(
        self,
        link: str | None,
        *,
        bitrate: int,
        ledger: Ledger,
        awake: Callable[[], bool],
        nodes: int = 2,
        listen_only: bool = True,
    ) -> None:
        self._link = None if link is None else Path(link)
        self._bitrate, self._ledger, self._awake = bitrate, ledger, awake
        self._can_listen = listen_only
        self._lone = LoneSender(bitrate) if nodes == 1 else None
        self._master: int | None = None
        self._waiting = b""
        self._host = False
        self.sent = self.dropped = 0
        self.place = ""
        self._plug()
        self.words = f"slcan on {self.place}"

    def _plug(self) -> None:
        """A new pseudo-terminal with a closed adapter behind it."""
        if self._link is not None:
            _check_link(self._link)
        try:
            self._master, slave = os.openpty()
            try:
                tty.setraw(slave)
                self._slave = os.ttyname(slave)
            finally:
                os.close(slave)
            os.set_blocking(self._master, False)
            if self._link is not None:
                self._make_link(self._link)
        except OSError as error:
            self._unplug()
            raise SimulatorError(f"No pseudo-terminal can be had: {error}.") from error
        self.place = str(self._link or self._slave)
        self._adapter = Adapter(self._bitrate, self._ledger, awake=self._awake, listen_only=self._can_listen)

    def _make_link(self, link: Path) -> None:
        new = link.with_name(f".{link.name}.{os.getpid()}")
        with contextlib.suppress(FileNotFoundError):
            new.unlink()
        new.symlink_to(self._slave)
        new.replace(link)

    def _unplug(self) -> None:
        if self._master is None:
            return
        if self._link is not None:
            with contextlib.suppress(OSError):
                if str(self._link.readlink()) == self._slave:
                    self._link.unlink()
        with contextlib.suppress(OSError):
            os.close(self._master)
        self._master = None
        self._waiting = b""
        self._host = False

    def plugged(self, *, is_in: bool) -> None:
        """See Transport."""
        if is_in and self._master is None:
            self._plug()
        elif not is_in:
            self._unplug()

    def arrange(self, *, nodes: int, listen_only: bool) -> None:
        """See Transport."""
        self._can_listen = self._adapter.can_listen = listen_only
        if (nodes == 1) != (self._lone is not None):
            self._lone = LoneSender(self._bitrate) if nodes == 1 else None

    def listen(self) -> None:
        """See Transport."""
        if self._master is None:
            return
        try:
            block = os.read(self._master, READ_MOST)
        except BlockingIOError:
            self._host = True
        except OSError:  # nobody has the other end open
            self._host = False
            self._waiting = b""
        else:
            self._host = True
            if block and (answers := self._adapter.feed(block)):
                self._waiting += answers
                self._flush()

    def carry(self, frames: Frames, at_ms: int, step_ms: int) -> None:
        """See Transport."""
        if self._lone is not None:
            confirmed = self._master is not None and self._adapter.acknowledges
            frames = self._lone.on_bus(frames, step_ms, confirmed=confirmed, awake=self._awake())
        if self._master is None:
            return
        lines = self._adapter.lines(frames, at_ms)
        if not lines and not self._waiting:
            return
        self._flush()
        if not self._host:
            self.dropped += len(lines)
            return
        for number, line in enumerate(lines):
            if len(self._waiting) + len(line) > BACKLOG:
                self.dropped += len(lines) - number
                break
            self._waiting += line
            self.sent += 1
        self._flush()

    def _flush(self) -> None:
        if not self._waiting or self._master is None:
            return
        try:
            written = os.write(self._master, self._waiting)
        except OSError:  # full, or nobody there
            return
        self._waiting = self._waiting[written:]

    def state(self) -> dict[str, Any]:
        """See Transport."""
        return {
            "place": self.place,
            "mode": self._adapter.mode,
            "rate": self._adapter.rate,
            "plugged": self._master is not None,
            "error_counter": self._lone.errors if self._lone is not None else 0,
            "repeats": self._lone.repeats if self._lone is not None else 0,
        }

    def close(self) -> None:
        """See Transport."""
        self._unplug()


class LibraryBus:
    """python-can's virtual bus, or a vcan device."""

    def __init__(self, interface: str, channel: str, ledger: Ledger) -> None:
        self._ledger = ledger
        self._in = True
        self.sent = self.dropped = 0
        self.place = channel
        self.words = f"{interface} on {channel}"
        try:
            self._bus = can.Bus(interface=interface, channel=channel)
        except (OSError, can.CanError) as error:
            raise SimulatorError(f"{self.words} cannot be opened: {error}.") from error

    def carry(self, frames: Frames, at_ms: int, step_ms: int) -> None:  # noqa: ARG002 (see Transport)
        """See Transport."""
        if not self._in:
            return
        for ident, data in frames:
            extended = bool(ident & EXTENDED)
            message = can.Message(
                arbitration_id=ident & ~EXTENDED, is_extended_id=extended, data=data, check=False
            )
            try:
                self._bus.send(message)
                self.sent += 1
            except (OSError, can.CanError):
                self.dropped += 1

    def listen(self) -> None:
        """See Transport."""
        while (message := self._bus.recv(0)) is not None:
            self._ledger.frame(
                message.arbitration_id,
                bytes(message.data),
                extended=message.is_extended_id,
                remote=message.is_remote_frame,
            )

    def plugged(self, *, is_in: bool) -> None:
        """See Transport."""
        self._in = is_in

    def arrange(self, *, nodes: int, listen_only: bool) -> None:
        """See Transport; here there is nothing to arrange."""

    def state(self) -> dict[str, Any]:
        """See Transport."""
        return {"place": self.place, "plugged": self._in}

    def close(self) -> None:
        """See Transport."""
        with contextlib.suppress(Exception):  # whatever it says, we are done with it
            self._bus.shutdown()
