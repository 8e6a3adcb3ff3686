"""What a tool must never do to the craft, judged by the truth and not by what the bus says."""

from __future__ import annotations

import dataclasses
import re
from typing import TYPE_CHECKING

from simulator.inhibit_witness import InhibitWitness

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from simulator.outputs import Output, Run
    from simulator.physics import Engine

GRACE_S = 0.3
"""An output may be live for so long after a danger began: the bus must say so first, and the tool stop."""
BATTERY_V = 11.7
"""A tenth below the 11.8 V that an output test needs: sensors are not that exact."""
FILM_CM3 = 3.0
"""Of test fuel in one cylinder."""
UNDER_WAY = 2100.0
"""rev/min; a tenth above 2000, the highest at which this family may be asked anything."""
MOVES_FOR_S = 0.5
"""The engine turns, or is under way, for so long before a request is held against the tool."""

DEFAULT_SESSION = b"\x10\x01"

DANGERS: Mapping[str, Callable[[Engine], bool]] = {
    "the engine turns": lambda engine: engine.speed > 0.0,
    "the start switch is pressed": lambda engine: engine.driver.start,
    "the lanyard is pulled": lambda engine: engine.driver.lanyard_pulled,
    "the battery is low": lambda engine: engine.battery.volts < BATTERY_V,
}
"""Nothing may be live while one of these holds."""


@dataclasses.dataclass(frozen=True)
class Before:
    """How a controller stood when a request came.

    Attributes:
        module: key of the controller.
        extended: its session is the extended one.
        live: what is live on it.
        outputs: what it has, by data identifier.
        offered: requests it offers, as patterns of their hexadecimal digits.
        film: test fuel in the cylinders, cm³.
    """

    module: str
    extended: bool
    live: Mapping[int, Run]
    outputs: Mapping[int, Output]
    offered: Iterable[str]
    film: Mapping[int, float]


class Witness:
    """Watches one craft.

    Attributes:
        since: seconds of the bus at which each danger began.
        inhibits: what must hold of fuel or spark that is held off.
    """

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self.since: dict[str, float] = {}
        self.inhibits = InhibitWitness(engine)
        self._under_way: float | None = None
        self._noted: set[tuple[int, str]] = set()

    def request(self, pdu: bytes, before: Before, now: float, *, functional: bool) -> list[str]:
        """Why a request should not have come; empty if it may.

        Args:
            pdu: as received.
            before: the controller at that moment.
            now: seconds of the bus.
            functional: it went to every controller at once.
        """
        found = []
        text = pdu.hex()
        offered = ("3e80",) if functional else before.offered
        if not any(re.fullmatch(pattern, text) for pattern in offered):
            found.append(f"a request that {before.module} does not offer")
        gives_back = pdu == DEFAULT_SESSION or (pdu[:1] == b"\x2f" and pdu[3:] == b"\x00")
        # Whether an inhibit holds may be asked at any speed: that is how a failed one is noticed.
        spared = gives_back or self.inhibits.is_status(pdu, before.outputs)
        if self._under_way is not None and now - self._under_way > MOVES_FOR_S and not spared:
            found.append("a request under way")
        turns = self.since.get("the engine turns")
        if pdu[:1] == b"\x14" and turns is not None and now - turns > MOVES_FOR_S:
            found.append("a clear while the engine turns")
        output = before.outputs.get(int.from_bytes(pdu[1:3], "big")) if pdu[:1] == b"\x2f" else None
        starts = output is not None and pdu[3:4] == b"\x03"
        if output is not None and starts:
            found += self._start(pdu, output, before, now)
        if before.live and not self._fits_live(pdu, output, before, starts=starts):
            names = ", ".join(run.output.key for run in before.live.values())
            found.append(f"a request while {names} is live")
        return found + self.inhibits.request(pdu, before.live, now)

    def _start(self, pdu: bytes, output: Output, before: Before, now: float) -> list[str]:
        found = []
        if not before.extended:
            found.append(f"{output.key} asked for without a session")
        if output.pulsed and (len(pdu) != 6 or 0 in pdu[4:6]):
            found.append(f"{output.key} asked for without an end of its own")
        if output.kind == "coil" and sum(before.film.values()) > 0.0:
            found.append(f"{output.key} asked for with test fuel in a cylinder")
        found += [
            f"{output.key} asked for while {danger}"
            for danger, began in self.since.items()
            if now - began > GRACE_S
        ]
        return found

    @staticmethod
    def _fits_live(pdu: bytes, output: Output | None, before: Before, *, starts: bool) -> bool:
        """Renewal, release or keep-alive of a burst, default session; an inhibit has its own list."""
        if pdu == DEFAULT_SESSION:
            return True
        if any(run.output.kind == "inhibit" for run in before.live.values()):
            return InhibitWitness.fits(pdu, before.live)
        if pdu[:2] in {b"\x3e\x80", b"\x3e\x00"}:
            return not any(run.output.pulsed for run in before.live.values())
        if output is None:
            return False
        return pdu[3:] == b"\x00" or (starts and not output.pulsed and set(before.live) == {output.did})

    def step(self, now: float, live: Iterable[Run], film: Mapping[int, float]) -> list[tuple[str, str]]:
        """Look at the craft.

        Args:
            now: seconds of the bus.
            live: what is live on any controller.
            film: test fuel in the cylinders, cm³.

        Returns:
            Output and what is wrong with it being live; each is told once for each run.
        """
        for danger, holds in DANGERS.items():
            if not holds(self._engine):
                self.since.pop(danger, None)
            else:
                self.since.setdefault(danger, now)
        if self._engine.speed > UNDER_WAY:
            self._under_way = self._under_way if self._under_way is not None else now
        else:
            self._under_way = None
        lasting = [danger for danger, began in self.since.items() if now - began > GRACE_S]
        found = []
        runs = list(live)
        for run in runs:
            if run.output.kind != "inhibit":  # made for cranking; it has rules of its own
                found += self._once(run, [f"live while {danger}" for danger in lasting])
            if film.get(run.output.cylinder, 0.0) > FILM_CM3 + 1e-9 and run.output.kind == "injector":
                found += self._once(
                    run, [f"more than {FILM_CM3:g} cm³ of fuel in cylinder {run.output.cylinder}"]
                )
        self._noted = {(number, words) for number, words in self._noted if number in map(id, runs)}
        return found

    def _once(self, run: Run, sentences: list[str]) -> list[tuple[str, str]]:
        new = [words for words in sentences if (id(run), words) not in self._noted]
        self._noted |= {(id(run), words) for words in new}
        return [(run.output.key, words) for words in new]
