"""What must hold of an inhibit, which keeps fuel or spark off while a person cranks: by the truth.

It may be asked for and given back only while the engine stands still; while it holds nothing is said to its
controller but the questions whether it holds, the release and the default session; and the engine never fires
up while the controller has just said that it holds.
"""

from __future__ import annotations

import dataclasses
import math
from typing import TYPE_CHECKING

from simulator.outputs import read_back

if TYPE_CHECKING:
    from collections.abc import Mapping

    from simulator.outputs import Output, Run
    from simulator.physics import Engine

STOOD_S = 2.0
"""The engine has stood still for so long before an inhibit is given back."""
TOLERANCE_S = 0.2
"""Clocks and sensors are not that exact: off STOOD_S, and until the tool can know that the engine turns."""
BELIEVED_S = 2.2
"""A tool may believe the last word of the controller for 2 s, and the tolerance."""
GIVEN_BACK, ADJUSTED = 0x00, 0x03
NO, PENDING = frozenset({b"\x7f\x22", b"\x7f\x2f"}), b"\x78"


@dataclasses.dataclass(frozen=True)
class Start:
    """The engine fired up on the switch on which somebody had cranked it with fuel or spark held off.

    Attributes:
        output: key of the inhibit.
        did: "started_while_held" or "started_after_hold".
        wrong: why it is a violation; None = the tool could know that it did not hold any longer.
    """

    output: str
    did: str
    wrong: str | None


class InhibitWitness:
    """Watches the inhibits of one craft."""

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self._turns_since: float | None = None
        self._stands_since = -math.inf
        self._said: dict[int, float] = {}
        self._cranked_with: set[int] = set()
        self._fired = engine.fires

    @staticmethod
    def is_status(pdu: bytes, table: Mapping[int, Output]) -> bool:
        """Whether a request asks if an inhibit holds."""
        asked = len(pdu) == 3 and pdu[0] == 0x22
        return asked and read_back(table, int.from_bytes(pdu[1:3], "big")) is not None

    @staticmethod
    def fits(pdu: bytes, live: Mapping[int, Run]) -> bool:
        """Whether a request may come while one is held: its own status or release; the default session."""
        did = int.from_bytes(pdu[1:3], "big")
        if len(pdu) == 3 and pdu[0] == 0x22:
            return any(run.output.status == did for run in live.values())
        return len(pdu) == 4 and pdu[0] == 0x2F and pdu[3] == GIVEN_BACK and did in live

    def request(self, pdu: bytes, live: Mapping[int, Run], now: float) -> list[str]:
        """Why a request should not have given back what is held; empty if it may, or does not.

        Who asks for the end does not take it for held any longer, whatever the controller makes of it.
        """
        everything = pdu[:1] == b"\x10" and len(pdu) > 1 and pdu[1] & 0x7F == 0x01
        one = pdu[:1] == b"\x2f" and pdu[3:4] == b"\x00"
        did = int.from_bytes(pdu[1:3], "big")
        held = [run.output for run in live.values() if run.output.kind == "inhibit"]
        for ended in [*self._said] if everything else [did] if one else []:
            self._said.pop(ended, None)
        given = [output.key for output in held if everything or (one and output.did == did)]
        wrong = self._moves(now) if given else None
        return [] if wrong is None else [f"{key} given back {wrong}" for key in given]

    def _moves(self, now: float) -> str | None:
        """Why the engine does not count as standing still, in words."""
        too_short = f"before the engine had stood still for {STOOD_S:g} s"
        if self._turns_since is None:
            return too_short if now - self._stands_since < STOOD_S - TOLERANCE_S - 1e-9 else None
        if now - self._turns_since > TOLERANCE_S + 1e-9:
            return "while the engine turns"
        return too_short if self._turns_since - self._stands_since < STOOD_S - TOLERANCE_S - 1e-9 else None

    def answer(self, frame: bytes, table: Mapping[int, Output], now: float) -> None:
        """Take a frame of the controller that the tool can hear: what it says of its inhibits.

        Args:
            frame: as it is on the bus; all that matters here fits one frame.
            table: what the controller has, by data identifier.
            now: seconds of the bus.
        """
        pdu = frame[1 : 1 + frame[0]] if frame and 0 < frame[0] < 8 else b""
        did = int.from_bytes(pdu[1:3], "big")
        output = read_back(table, did) if pdu[:1] == b"\x62" else table.get(did)
        if output is not None and output.kind == "inhibit" and len(pdu) == 4 and pdu[0] in {0x62, 0x6F}:
            holds = pdu[3] == (output.held_value if pdu[0] == 0x62 else ADJUSTED)
            if holds:
                self._said[output.did] = now
            else:
                self._said.pop(output.did, None)
        elif pdu[:2] == b"\x50\x01" or (pdu[:2] in NO and pdu[2:3] != PENDING):
            self._said.clear()

    def step(self, now: float, live: Mapping[int, Run], table: Mapping[int, Output]) -> list[Start]:
        """Look at the engine.

        Args:
            now: seconds of the bus.
            live: what is live, by data identifier.
            table: what there is, by data identifier.

        Returns:
            The engine's start, if it fired up in this step and an inhibit should have held, or had held.
        """
        engine = self._engine
        if engine.speed > 0.0:
            self._turns_since = now if self._turns_since is None else self._turns_since
        elif self._turns_since is not None:
            self._turns_since, self._stands_since = None, now
        fires_up = engine.fires and not self._fired
        self._fired = engine.fires
        believed = {did for did, at in self._said.items() if now - at <= BELIEVED_S}
        found = []
        if fires_up:
            for did in sorted(believed | self._cranked_with):
                key = table[did].key
                if did in believed:
                    wrong = f"{key}: the engine fired up while it was said to hold"
                    found.append(Start(key, "started_while_held", wrong))
                else:
                    found.append(Start(key, "started_after_hold", None))
        if not engine.driver.start:
            self._cranked_with.clear()
        elif engine.speed > 0.0:
            self._cranked_with |= {did for did, run in live.items() if run.output.kind == "inhibit"}
        return found
