"""What the gate itself heard of the craft, as facts for the interlock. Unknown is never turned into a yes.

Fed with every received frame before anything else sees it. Nothing here trusts what the screen says about the
engine; the screen brings only confirmations a person gave by touch, each with its time.
"""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

from app.interlock import (
    BATTERY_FLOOR_V,
    BATTERY_WRITING_V,
    HANDS_CLEAR_HOLDS_S,
    MANIFOLD_WITHIN_KPA,
    NO_SMELL_HOLDS_S,
    PROVED_ABOVE,
    SPEED_AGREES_WITHIN,
    STOPPED_FOR_S,
    Fact,
    Need,
)
from app.reading import Quality

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from app.reading import Reading
    from bus.family import Family
    from bus.frame import Frame

SPEED_AGE_S = 0.25
PERIODS = 3
"""A fact is fresh for three of its message's periods, engine speed never longer than SPEED_AGE_S."""

OTHER_AGE_S = 1.0
"""Longest age of any other fact, whatever its message's period."""

ALIVE_S = 0.5
"""No frame for this long: key off or plug out."""

RAN_FOR_S = 30.0
RUNNING_ABOVE = 500.0
"""rev/min for this long burn off what fuel tests left in the cylinders."""

TESTER_S = 5.0
"""Another tester's request keeps us away for this long."""

WATCHED = (
    "engine_speed",
    "engine_speed_second",
    "battery",
    "lanyard",
    "start_switch",
    "manifold_pressure",
    "barometric_pressure",
    "alive",
    "serial",
)
"""Roles the interlock needs; the gate decodes nothing else."""


@dataclasses.dataclass
class _Seen:
    value: float | str | None
    quality: Quality
    at: float


class FactTable:
    """Facts of the one craft on the bus.

    Attributes:
        serial: of the controller, None while unknown.

    Args:
        family: of the craft.
        testers: identifiers that only a tester sends.
        proved: serials whose engine speed was seen above PROVED_ABOVE; grows.
        on_proved: called with the serial when that happens first; must not block.
        on_purged: called with the serial each time the engine has run RAN_FOR_S without a gap.
    """

    def __init__(
        self,
        family: Family,
        testers: frozenset[int],
        proved: set[str],
        on_proved: Callable[[str], None],
        on_purged: Callable[[str], None],
    ) -> None:
        self._family = family
        self._decoder = family.decoder()
        self._role_of = {family.roles[role]: role for role in WATCHED if role in family.roles}
        self._idents = frozenset(family.idents_of(self._role_of))
        self._max_age = {
            role: min(
                SPEED_AGE_S if role.startswith("engine_speed") else OTHER_AGE_S,
                PERIODS * family.period_s(signal),
            )
            for signal, role in self._role_of.items()
        }
        self._max_age["serial"] = float("inf")
        self._testers = testers
        self._proved = proved
        self._on_proved = on_proved
        self._on_purged = on_purged
        self.serial: str | None = None
        self.forget()
        self._no_smell_at = float("-inf")
        self._hands_at = float("-inf")

    def forget(self) -> None:
        """Everything heard so far counts no more; only what comes from now on does."""
        self._seen: dict[str, _Seen] = {}
        self._stopped_since: float | None = None
        self._ran_since: float | None = None
        self._alive_changed: float | None = None
        self._frame_at: float | None = None
        self._tester_at = float("-inf")

    def feed(self, frame: Frame) -> None:
        """Take a frame the gate received."""
        if self._frame_at is not None and frame.at - self._frame_at > ALIVE_S:
            self._stopped_since = None
            self._no_smell_at = float("-inf")
        self._frame_at = frame.at
        if frame.ident in self._testers:
            self._tester_at = frame.at
        if frame.ident in self._idents:
            for reading in self._decoder.feed(frame):
                role = self._role_of.get(reading.signal)
                if role is not None:
                    self._take(role, reading, frame.at)

    def _take(self, role: str, reading: Reading, at: float) -> None:
        old = self._seen.get(role)
        if role == "alive" and (old is None or old.value != reading.value):
            self._alive_changed = at
        if role == "serial" and reading.quality is Quality.GOOD:
            serial = f"{self._family.name} {_plain(reading.value)}"
            if self.serial is not None and serial != self.serial:
                self._no_smell_at = self._hands_at = float("-inf")
                self._stopped_since = None
            self.serial = serial
        self._seen[role] = _Seen(reading.value, reading.quality, at)
        if role.startswith("engine_speed"):
            self._speed(role, reading, at, old)

    def _speed(self, role: str, reading: Reading, at: float, old: _Seen | None) -> None:
        """Follow how long the engine has stood still, by both sources without a gap."""
        gap = old is None or at - old.at > self._max_age[role]
        if reading.quality is not Quality.GOOD or reading.value != 0 or gap:
            self._stopped_since = None
        running = (
            reading.quality is Quality.GOOD
            and isinstance(reading.value, (int, float))
            and reading.value > RUNNING_ABOVE
        )
        if role == "engine_speed":
            self._follow_run(at, running=running and not gap)
        if reading.quality is Quality.GOOD and isinstance(reading.value, (int, float)) and reading.value > 0:
            self._no_smell_at = self._hands_at = float("-inf")
            if reading.value > PROVED_ABOVE and role == "engine_speed":
                self._prove()
        if self._stopped_since is None and not gap and reading.value == 0 and self._both_zero(at):
            self._stopped_since = at

    def _follow_run(self, at: float, *, running: bool) -> None:
        if not running:
            self._ran_since = None
        elif self._ran_since is None:
            self._ran_since = at
        elif at - self._ran_since >= RAN_FOR_S and self.serial is not None:
            self._ran_since = at
            self._on_purged(self.serial)

    def _prove(self) -> None:
        if self.serial is not None and self.serial not in self._proved:
            self._proved.add(self.serial)
            self._on_proved(self.serial)

    def _both_zero(self, now: float) -> bool:
        return all(
            self._good(role, now) == 0
            for role in ("engine_speed", "engine_speed_second")
            if role in self._role_of.values()
        )

    def _good(self, role: str, now: float) -> float | str | None:
        """A fresh good value, else None."""
        seen = self._seen.get(role)
        if seen is None or seen.quality is not Quality.GOOD or now - seen.at > self._max_age[role]:
            return None
        return seen.value

    def confirm(self, what: str, at: float, now: float) -> None:
        """A person confirmed something at ``at``; a time from the future or long ago counts for nothing."""
        if now - 1.0 <= at <= now:
            if what == "no_smell":
                self._no_smell_at = at
            elif what == "hands_clear":
                self._hands_at = at

    def facts(self, now: float) -> Mapping[Need, Fact]:
        """Everything the bus and the person told, judged at this moment."""
        speed, second = self._good("engine_speed", now), self._good("engine_speed_second", now)
        return {
            Need.BUS_ALIVE: self._bus_alive(now),
            Need.CONTROLLER_KNOWN: Fact(
                self.serial is not None,
                "The controller's serial is not known"
                if self.serial is None
                else f"Controller {self.serial}",
                "Wait until the craft has said its serial",
            ),
            Need.ALONE: Fact(
                now - self._tester_at > TESTER_S,
                "Another tester talks to a controller"
                if now - self._tester_at <= TESTER_S
                else "No other tester",
                "Unplug the other tester",
            ),
            Need.LANYARD_IN: self._switch("lanyard", "In place", "Lanyard", "Put the lanyard in", now),
            Need.START_RELEASED: self._switch(
                "start_switch", "Released", "Start switch", "Let go of the start switch", now
            ),
            Need.SPEED_KNOWN: self._speed_known(speed, second),
            Need.ENGINE_STOPPED: self._stopped(speed, second, now),
            Need.SPEED_PROVED: Fact(
                self.serial in self._proved if self.serial is not None else None,
                "Engine speed was seen working on this controller"
                if self.serial in self._proved
                else "Engine speed was never seen above 150 rev/min on this controller",
                "Run the engine once with the tool connected",
            ),
            Need.MANIFOLD_AT_REST: self._manifold(now),
            Need.BATTERY: self._battery(BATTERY_FLOOR_V, now),
            Need.BATTERY_FOR_WRITING: self._battery(BATTERY_WRITING_V, now),
            Need.NOT_UNDER_WAY: self._not_under_way(speed, second),
            Need.NO_SMELL: _confirmed(
                now - self._no_smell_at,
                NO_SMELL_HOLDS_S,
                "Hatch open, no smell of fuel",
                "Open the hatch, sniff",
            ),
            Need.HANDS_CLEAR: _confirmed(
                now - self._hands_at, HANDS_CLEAR_HOLDS_S, "Hands, hair and clothes clear", "Stand clear"
            ),
        }

    def _bus_alive(self, now: float) -> Fact:
        if self._frame_at is None or now - self._frame_at > ALIVE_S:
            return Fact(False, "The craft is not heard", "Push the plug home, turn the key on")
        if "alive" in self._role_of.values() and (
            self._alive_changed is None or now - self._alive_changed > self._max_age["alive"]
        ):
            return Fact(False, "The controller repeats old messages", "Turn the key off and on")
        return Fact(True, "The craft is heard")

    def _switch(self, role: str, wanted: str, label: str, do: str, now: float) -> Fact:
        if role not in self._role_of.values():
            return Fact(None, f"{label}: this craft does not tell", "Not possible on this craft")
        value = self._good(role, now)
        if value is None:
            return Fact(None, f"{label}: not known", "Read the faults, check its wiring")
        return Fact(value == wanted, f"{label}: {str(value).lower()}", do)

    def _speed_known(self, speed: float | str | None, second: float | str | None) -> Fact:
        if not isinstance(speed, (int, float)) or not isinstance(second, (int, float)):
            return Fact(
                None, "Engine speed is not known from both sources", "Read the faults, check the wiring"
            )
        if abs(speed - second) > SPEED_AGREES_WITHIN:
            return Fact(
                False,
                f"Engine speed disagrees: {speed:.0f} and {second:.0f} rev/min",
                "Find out which is right; no test until they agree",
            )
        return Fact(True, f"Engine speed {speed:.0f} rev/min from both sources")

    def _stopped(self, speed: float | str | None, second: float | str | None, now: float) -> Fact:
        known = [value for value in (speed, second) if isinstance(value, (int, float))]
        if any(value > 0 for value in known):
            return Fact(False, f"Engine is turning, {max(known):.0f} rev/min", "Stop it, wait 2 s")
        if len(known) < 2 or self._stopped_since is None:
            return Fact(None, "Engine: not known to stand still", "Wait until both sources say 0 rev/min")
        if now - self._stopped_since < STOPPED_FOR_S:
            return Fact(False, "Engine stopped less than 2 s ago", "Wait 2 s")
        return Fact(True, "Engine stopped")

    def _manifold(self, now: float) -> Fact:
        if not {"manifold_pressure", "barometric_pressure"} <= set(self._role_of.values()):
            return Fact(True, "Manifold pressure: this craft does not tell")
        manifold, barometer = self._good("manifold_pressure", now), self._good("barometric_pressure", now)
        if not isinstance(manifold, (int, float)) or not isinstance(barometer, (int, float)):
            return Fact(None, "Manifold pressure or barometer is not known", "Read the faults")
        difference = abs(manifold - barometer)
        return Fact(
            difference <= MANIFOLD_WITHIN_KPA,
            f"Manifold and barometer differ by {difference:.1f} kPa",
            "With the engine at rest they are equal: wait, or check the sensor",
        )

    def _not_under_way(self, speed: float | str | None, second: float | str | None) -> Fact:
        """A dead speed sensor must not keep its own fault from being read, so only a known speed counts."""
        known = [value for value in (speed, second) if isinstance(value, (int, float))]
        if any(value > self._family.idle_below for value in known):
            return Fact(False, f"Under way, {max(known):.0f} rev/min", "Let the engine idle")
        return Fact(True, "Not under way")

    def _battery(self, floor: float, now: float) -> Fact:
        volts = self._good("battery", now)
        if not isinstance(volts, (int, float)):
            return Fact(None, "Battery voltage is not known", "Read the faults")
        return Fact(volts >= floor, f"Battery {volts:.1f} V", f"Charge it above {floor} V")


def _plain(value: float | str | None) -> str:
    return str(int(value)) if isinstance(value, float) and value.is_integer() else str(value)


def _confirmed(age: float, holds: float, words: str, do: str) -> Fact:
    if age <= holds:
        return Fact(True, f"{words}: confirmed {age:.0f} s ago")
    return Fact(False, f"{words}: not confirmed" if age == float("inf") else f"{words}: too long ago", do)
