"""A serial-line CAN adapter as bytes in and bytes out; opens nothing.

The text protocol, as the Linux kernel's slcan documentation and the makers of such adapters describe it:
commands end in CR, the answer is CR for yes or BEL for no, perhaps with a value before it. S0 to S8 set the
bit rate, O opens, L opens without taking part, C closes, t T r R send, V version, N serial, F status flags,
Z0 Z1 time stamps off and on.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from simulator.codec import EXTENDED

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from simulator.ledger import Ledger

RATES = {
    b"0": 10_000,
    b"1": 20_000,
    b"2": 50_000,
    b"3": 100_000,
    b"4": 125_000,
    b"5": 250_000,
    b"6": 500_000,
    b"7": 800_000,
    b"8": 1_000_000,
}
YES, NO = b"\r", b"\a"
LONGEST = 64
"""Bytes of a line; more without CR is noise and thrown away."""
STAMP_WRAPS_MS = 60_000

FLAG_ERROR_WARNING, FLAG_BUS_ERROR = 0x04, 0x80
"""Bits of the answer to F."""

CLOSED, OPEN, LISTEN = "closed", "open", "listen-only"


class Adapter:
    """An adapter on a bus.

    Attributes:
        mode: CLOSED, OPEN or LISTEN.
        rate: bit/s set, None before.
        acknowledges: it takes part in the bus and so confirms frames.
    """

    def __init__(
        self, bus_rate: int, ledger: Ledger, *, awake: Callable[[], bool], listen_only: bool = True
    ) -> None:
        """Plug it in.

        Args:
            bus_rate: bit/s of the bus it hangs on.
            ledger: gets every command and frame.
            awake: whether there is traffic on the bus now.
            listen_only: whether it has a listen-only mode.
        """
        self._bus_rate = bus_rate
        self._ledger = ledger
        self._awake = awake
        self.can_listen = listen_only
        self.mode = CLOSED
        self.rate: int | None = None
        self._stamps = False
        self._flags = 0
        self._rest = b""
        self._disturbing = False
        self._commands: dict[bytes, Callable[[bytes], bytes]] = {
            b"S": self._set_rate,
            b"O": self._open,
            b"L": self._listen,
            b"C": self._close,
            b"V": lambda rest: b"V1013\r" if not rest else NO,
            b"N": lambda rest: b"NSIM1\r" if not rest else NO,
            b"F": self._status,
            b"Z": self._set_stamps,
            b"t": lambda rest: self._transmit(rest, 3, remote=False),
            b"T": lambda rest: self._transmit(rest, 8, remote=False),
            b"r": lambda rest: self._transmit(rest, 3, remote=True),
            b"R": lambda rest: self._transmit(rest, 8, remote=True),
        }

    @property
    def fits(self) -> bool:
        """Whether its bit rate is the bus's."""
        return self.rate == self._bus_rate

    @property
    def acknowledges(self) -> bool:  # noqa: D102 (see the class)
        return self.mode == OPEN and self.fits

    def feed(self, block: bytes) -> bytes:
        """Take what came over the serial line, cut anywhere; returns the answers."""
        lines = (self._rest + block).split(b"\r")
        self._rest = lines.pop()
        answers = b"".join(self._obey(line) for line in lines)
        if len(self._rest) > LONGEST:
            self._ledger.enter("noise", "thrown away", bytes=self._rest[:LONGEST].decode("latin-1"))
            self._rest = b""
        return answers

    def _obey(self, line: bytes) -> bytes:
        if not line:
            return b""
        command = self._commands.get(line[:1])
        if command is not None and line[:1] in b"tTrR":
            return command(line)
        answer = NO if command is None else command(line[1:])
        did = "refused" if answer == NO else "done"
        self._ledger.enter("command", did, bytes=line.decode("latin-1"), mode=self.mode, rate=self.rate)
        self._note_disturbance()
        return answer

    def _set_rate(self, rest: bytes) -> bytes:
        if self.mode != CLOSED or rest not in RATES:
            return NO
        self.rate = RATES[rest]
        return YES

    def _open(self, rest: bytes) -> bytes:
        if rest or self.mode != CLOSED or self.rate is None:
            return NO
        self.mode, self._flags, self._disturbing = OPEN, 0, False
        return YES

    def _listen(self, rest: bytes) -> bytes:
        if rest or self.mode != CLOSED or self.rate is None or not self.can_listen:
            return NO
        self.mode, self._flags = LISTEN, 0
        return YES

    def _close(self, rest: bytes) -> bytes:
        if rest or self.mode == CLOSED:
            return NO
        self.mode = CLOSED
        return YES

    def _status(self, rest: bytes) -> bytes:
        if rest or self.mode == CLOSED:
            return NO
        flags, self._flags = self._flags, 0
        return b"F%02X\r" % flags

    def _set_stamps(self, rest: bytes) -> bytes:
        if rest not in {b"0", b"1"} or self.mode != CLOSED:
            return NO
        self._stamps = rest == b"1"
        return YES

    def _note_disturbance(self) -> None:
        """An adapter that takes part at a wrong rate spoils every frame on a bus that is awake."""
        if self.mode == OPEN and not self.fits and not self._disturbing and self._awake():
            self._disturbing = True
            self._ledger.enter(
                "command",
                "disturbed the bus",
                violation="open at a wrong rate in normal mode",
                mode=self.mode,
                rate=self.rate,
            )

    def _transmit(self, line: bytes, digits: int, *, remote: bool) -> bytes:
        try:
            ident = int(line[1 : 1 + digits], 16)
            count = int(line[1 + digits : 2 + digits])
            data = bytes.fromhex(line[2 + digits :].decode("ascii"))
            sound = count <= 8 and len(data) == (0 if remote else count)
            sound = sound and len(line) == 2 + digits + 2 * len(data)
            sound = sound and ident <= (0x1FFF_FFFF if digits == 8 else 0x7FF)
        except ValueError:
            sound = False
        if not sound:
            self._ledger.enter("command", "refused", bytes=line.decode("latin-1"), mode=self.mode)
            return NO
        frame: dict[str, Any] = {
            "ident": ident,
            "extended": digits == 8,
            "remote": remote,
            "data": data.hex(),
        }
        if self.mode == CLOSED:
            self._ledger.enter("frame", "refused: the adapter is closed", **frame)
            return NO
        if self.mode == LISTEN:
            self._ledger.enter(
                "frame", "refused: the adapter only listens", violation="transmit while listen-only", **frame
            )
            return NO
        if not self.fits:
            self._ledger.enter("frame", "disturbed the bus", violation="frame sent at a wrong rate", **frame)
        else:
            self._ledger.frame(ident, data, extended=digits == 8, remote=remote)
        return b"Z\r" if digits == 8 else b"z\r"

    def lines(self, frames: Iterable[tuple[int, bytes]], at_ms: int) -> list[bytes]:
        """What it tells the host of the frames on the bus at ``at_ms``."""
        if self.mode == CLOSED:
            return []
        if not self.fits:
            if self._awake():
                self._flags |= FLAG_BUS_ERROR | FLAG_ERROR_WARNING
                self._note_disturbance()
            return []
        stamp = b"%04X" % (at_ms % STAMP_WRAPS_MS) if self._stamps else b""
        return [
            b"T%08X%d%s%s\r" % (ident & ~EXTENDED, len(data), data.hex().upper().encode(), stamp)
            if ident & EXTENDED
            else b"t%03X%d%s%s\r" % (ident, len(data), data.hex().upper().encode(), stamp)
            for ident, data in frames
        ]
