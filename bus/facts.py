"""What the gate itself heard of the craft, as facts for the interlock. Unknown is never turned into a yes.

Fed with every received frame before anything else sees it. Nothing here trusts what the screen says about the
engine; the screen brings only confirmations a person gave by touch, each with its time.
"""

from __future__ import annotations

import dataclasses
import hashlib
from typing import TYPE_CHECKING

from app.interlock import (
    AFT_CLEAR_HOLDS_S,
    AT_REST,
    BATTERY_FLOOR_V,
    BATTERY_WRITING_V,
    CRANKED_WITHIN_S,
    HANDS_CLEAR_HOLDS_S,
    JET_CLEAR_HOLDS_S,
    MANIFOLD_WITHIN_KPA,
    NO_LEAK_HOLDS_S,
    NO_SMELL_HOLDS_S,
    PROVED_ABOVE,
    SPARK_SAFE_HOLDS_S,
    SPEED_AGREES_WITHIN,
    STOPPED_FOR_S,
    Fact,
    Need,
    lacking,
)
from bus.heard import Event, Heard
from bus.roles import IN_PLACE, RELEASED, SPEEDS, STANDS

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from bus.family import Family
    from bus.frame import Frame

TESTER_S = 5.0
"""Another tester's request keeps us away for this long."""

LISTENED_S = 2.0
"""Before we know that we are alone: a tester that holds a session open speaks this often (S3client of ISO
14229-2)."""

CONFIRMED_WITHIN_S = 1.0
"""Age of the touch that confirms something when it reaches us; an older one counts for nothing."""


@dataclasses.dataclass(frozen=True)
class _Promise:
    """What a person may confirm."""

    need: Need
    holds_s: float
    words: str
    do: str


PROMISES: Mapping[str, _Promise] = {
    "no_smell": _Promise(
        Need.NO_SMELL, NO_SMELL_HOLDS_S, "Hatch open, no smell of fuel", "Open the hatch, sniff, confirm"
    ),
    "no_leak": _Promise(
        Need.NO_LEAK,
        NO_LEAK_HOLDS_S,
        "Fuel lines, rail and injectors looked at, no leak",
        "Look, mend what leaks, confirm",
    ),
    "hands_clear": _Promise(
        Need.HANDS_CLEAR, HANDS_CLEAR_HOLDS_S, "Hands, hair and clothes clear", "Stand clear, confirm"
    ),
    "aft_clear": _Promise(
        Need.AFT_CLEAR,
        AFT_CLEAR_HOLDS_S,
        "Nobody behind the craft, nobody in the water near it",
        "Send them away, look, confirm",
    ),
    "jet_clear": _Promise(
        Need.JET_CLEAR,
        JET_CLEAR_HOLDS_S,
        "Nobody near intake, jet and stern",
        "Send them away, look, confirm",
    ),
    "spark_safe": _Promise(
        Need.SPARK_SAFE,
        SPARK_SAFE_HOLDS_S,
        "Plugs in a clamped tester, jet area clear, nobody with a pacemaker near",
        "Make it so, confirm",
    ),
}


class FactTable:
    """Facts of the one craft on the bus.

    Args:
        family: of the craft.
        testers: identifiers that only a tester sends.
        proved: what ``on_proved`` was ever called with; grows.
        on_proved: called once with the name under which the proof is booked: craft, and a mark of the
            family's data, so that a changed family must be proved again; must not block.
        on_purged: called with the serial each time the engine has run RAN_FOR_S without a gap.

    Attributes:
        fuel_is_ours: a press that lets fuel in is under way: a pump that runs meanwhile voids no word, and
            nothing that turns meanwhile is a purge.
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
        self._mark = _mark_of(family)
        self._heard = Heard(family, testers)
        self._proved = proved
        self._on_proved = on_proved
        self._on_purged = on_purged
        self._confirmed: dict[str, float] = {}
        self._crank_spent_at = float("-inf")
        self.fuel_is_ours = False

    @property
    def serial(self) -> str | None:
        """Of the controller, with the family's name before it; None while unknown."""
        return self._heard.serial

    def forget(self) -> None:
        """Everything heard so far counts no more; only what comes from now on does."""
        self._heard.forget()

    def feed(self, frame: Frame) -> None:
        """Take a frame the gate received."""
        self._follow(self._heard.feed(frame))

    def _follow(self, events: list[Event]) -> None:
        for event in events:
            if event in (Event.AWAY, Event.OTHER, Event.TURNED):
                self._confirmed.clear()
            elif event is Event.WORKS:
                self._prove()
            elif event is Event.PUMPED and not self.fuel_is_ours:
                self.doubt("no_smell")
                self.doubt("spark_safe")
            elif event is Event.RAN and self.serial is not None and not self.fuel_is_ours:
                self._on_purged(self.serial)

    def _prove(self) -> None:
        name = self._proof()
        if name is not None and name not in self._proved:
            self._proved.add(name)
            self._on_proved(name)

    def _proof(self) -> str | None:
        """The name under which this controller's proof is booked."""
        return None if self.serial is None else f"{self.serial} {self._mark}"

    def confirm(self, what: str, at: float, now: float) -> bool:
        """A person confirmed something at ``at``, about the craft that is heard now.

        Returns:
            Whether it counts: a time from the future or long ago does not, nor does a word about a craft
            that is not heard or not known, or whose engine is not known to be still.
        """
        counts = what in PROMISES and self.takes_word(at, now)
        if counts:
            self._confirmed[what] = at
        return counts

    def takes_word(self, at: float, now: float) -> bool:
        """Whether a word that was touched at ``at`` can count at all; see confirm.

        A craft whose speeds are fresh is heard: they are good for less time than silence takes to be noticed.
        """
        return (
            now - CONFIRMED_WITHIN_S <= at <= now
            and self.serial is not None
            and all(self._heard.good(role, now) == 0 for role in SPEEDS)
        )

    def cranked_ago(self, now: float) -> float | None:
        """Seconds since a crank that may have blown the cylinders out; None = none that counts."""
        at = self._heard.cranked_at
        if self.fuel_is_ours or at is None or at <= self._crank_spent_at or now - at > CRANKED_WITHIN_S:
            return None
        return now - at

    def spend_crank(self, now: float) -> None:
        """Whatever was cranked so far blows out nothing that comes from now on."""
        self._crank_spent_at = now

    def doubt(self, what: str) -> None:
        """What was confirmed counts no more."""
        self._confirmed.pop(what, None)

    def nameless_s(self, now: float) -> float:
        """Seconds for which the craft is heard and has not said its serial; 0 if it has, or is not heard."""
        since = self._heard.listening_since
        if since is None or self.serial is not None or not self._heard.hears(now):
            return 0.0
        return now - since

    def another_tester(self, now: float) -> bool:
        """Another tester was heard within TESTER_S."""
        return now - self._heard.tester_at <= TESTER_S

    def hears(self, now: float) -> bool:
        """The craft is heard."""
        return self._heard.hears(now)

    def at_rest(self, now: float) -> bool:
        """Nobody cranks, and both sources have said for STOPPED_FOR_S that the engine stands still."""
        return not lacking(AT_REST, self.facts(now))

    def facts(self, now: float) -> Mapping[Need, Fact]:
        """Everything the bus and the person told, judged at this moment."""
        self._follow(self._heard.look(now))
        good = self._heard.good
        speed, second = good("engine_speed", now), good("engine_speed_second", now)
        facts = {
            Need.BUS_ALIVE: self._bus_alive(now),
            Need.CONTROLLER_KNOWN: self._controller_known(),
            Need.ALONE: self._alone(now),
            Need.LANYARD_IN: self._switch("lanyard", IN_PLACE, "Lanyard", "Put the lanyard in", now),
            Need.LANYARD_PROVED: Fact(
                self._heard.lanyard_proved,
                "Lanyard: seen pulled on this visit"
                if self._heard.lanyard_proved
                else "Lanyard: not seen pulled on this visit",
                "Pull the lanyard once, put it back",
            ),
            Need.START_RELEASED: self._switch(
                "start_switch", RELEASED, "Start switch", "Let go of the start switch", now
            ),
            Need.SPEED_KNOWN: TWO_SENDERS if self._heard.crowded(now) else _speed_known(speed, second),
            Need.ENGINE_STOPPED: self._stopped(speed, second, now),
            Need.SPEED_PROVED: self._speed_proved(),
            Need.MANIFOLD_AT_REST: self._manifold(now),
            Need.BATTERY: self._battery(BATTERY_FLOOR_V, now),
            Need.BATTERY_FOR_WRITING: self._battery(BATTERY_WRITING_V, now),
            Need.NOT_UNDER_WAY: self._not_under_way(speed, second),
            Need.PUMP_QUIET: self._pump_quiet(now),
        }
        for what, promise in PROMISES.items():
            facts[promise.need] = _kept(promise, self._confirmed.get(what), now)
        return facts

    def _bus_alive(self, now: float) -> Fact:
        if not self._heard.hears(now):
            return Fact(False, "The craft is not heard", "Push the plug home, turn the key on")
        moves_on = self._heard.moves_on(now)
        if moves_on is None:
            return Fact(False, "The controller's counter is not heard", "Push the plug home, turn the key on")
        if not moves_on:
            return Fact(False, "The controller repeats old messages", "Turn the key off and on")
        return Fact(True, "The craft is heard")

    def _controller_known(self) -> Fact:
        if self.serial is None:
            return Fact(
                None, "The controller's serial is not known", "Wait until the craft has said its serial"
            )
        return Fact(True, f"Controller {self.serial}")

    def _alone(self, now: float) -> Fact:
        since = self._heard.listening_since
        if self.another_tester(now):
            return Fact(False, "Another tester talks to a controller", "Unplug the other tester")
        if since is None or now - since < LISTENED_S:
            return Fact(None, "Listening for another tester", f"Wait {LISTENED_S:.0f} s")
        return Fact(True, "No other tester")

    def _speed_proved(self) -> Fact:
        name = self._proof()
        if name in self._proved:
            return Fact(True, "Engine speed was seen working on this controller")
        return Fact(
            None if name is None else False,
            f"Engine speed was never seen above {PROVED_ABOVE:.0f} rev/min on this controller",
            "Run the engine once with the tool connected",
        )

    def _switch(self, role: str, wanted: str, label: str, do: str, now: float) -> Fact:
        if role not in self._heard.roles:
            return Fact(None, f"{label}: this craft does not tell", "Not possible on this craft")
        value = self._heard.good(role, now)
        if value is None:
            return Fact(None, f"{label}: not known", "Read the faults, check its wiring")
        return Fact(value == wanted, f"{label}: {str(value).lower()}", do)

    def _pump_quiet(self, now: float) -> Fact:
        if "fuel_pump" not in self._heard.roles:
            return Fact(True, "Fuel pump: this craft does not tell")
        return self._switch("fuel_pump", STANDS, "Fuel pump", "Wait until it stands, sniff again", now)

    def _stopped(self, speed: float | str | None, second: float | str | None, now: float) -> Fact:
        known = [value for value in (speed, second) if isinstance(value, (int, float))]
        since = self._heard.stopped_since
        if any(value > 0 for value in known):
            return Fact(False, f"Engine is turning, {max(known):.0f} rev/min", "Stop it, wait 2 s")
        if len(known) < 2 or since is None:
            return Fact(None, "Engine: not known to stand still", "Wait until both sources say 0 rev/min")
        if now - since < STOPPED_FOR_S:
            return Fact(False, "Engine stopped less than 2 s ago", "Wait 2 s")
        return Fact(True, "Engine stopped")

    def _manifold(self, now: float) -> Fact:
        if not {"manifold_pressure", "barometric_pressure"} <= self._heard.roles:
            return Fact(True, "Manifold pressure: this craft does not tell")
        manifold = self._heard.good("manifold_pressure", now)
        barometer = self._heard.good("barometric_pressure", now)
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
        return Fact(
            True, "Not under way" if known else "Not heard to be under way; engine speed is not known"
        )

    def _battery(self, floor: float, now: float) -> Fact:
        volts = self._heard.good("battery", now)
        if not isinstance(volts, (int, float)):
            return Fact(None, "Battery voltage is not known", "Read the faults")
        return Fact(volts >= floor, f"Battery {volts:.1f} V", f"Charge it above {floor} V")


TWO_SENDERS = Fact(
    False,
    "Engine speed comes from two senders",
    "Unplug what was added to the bus; nothing is fired beside it",
)


def _speed_known(speed: float | str | None, second: float | str | None) -> Fact:
    if not isinstance(speed, (int, float)) or not isinstance(second, (int, float)):
        return Fact(None, "Engine speed is not known from both sources", "Read the faults, check the wiring")
    if abs(speed - second) > SPEED_AGREES_WITHIN:
        return Fact(
            False,
            f"Engine speed disagrees: {speed:.0f} and {second:.0f} rev/min",
            "Find out which is right; no test until they agree",
        )
    return Fact(True, f"Engine speed {speed:.0f} rev/min from both sources")


def _kept(promise: _Promise, at: float | None, now: float) -> Fact:
    if at is None:
        return Fact(None, f"{promise.words}: not confirmed", promise.do)
    if now - at > promise.holds_s:
        return Fact(False, f"{promise.words}: too long ago", promise.do)
    return Fact(True, f"{promise.words}: confirmed {now - at:.0f} s ago")


def _mark_of(family: Family) -> str:
    """Changes with the family's data."""
    digest = hashlib.sha256()
    for name in ("family.toml", "signals.dbc"):
        digest.update((family.folder / name).read_bytes())
    return digest.hexdigest()[:12]
