"""Whether an output may move: what must be true, for which output, and by how much.

Pure. The bus process feeds it with facts that its gate heard itself; the screen only shows what it says.
Floors (needs that always hold) and ceilings (time, pulses, fuel) stand here in code; family data may only
tighten them.

An output is a thing on the craft that moves, sounds, sprays or sparks when its controller is asked to.
"""

from __future__ import annotations

import dataclasses
import enum
from typing import TYPE_CHECKING

from app.errors import BoathookError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping


class Kind(enum.StrEnum):
    """What an output is; decides its needs and ceilings."""

    INJECTOR = "injector"
    COIL = "coil"
    FUEL_PUMP = "fuel_pump"
    BILGE_PUMP = "bilge_pump"
    THROTTLE_PLATE = "throttle_plate"
    FAN = "fan"
    HORN = "horn"
    LAMP = "lamp"
    GAUGES = "gauges"
    REVERSE_GATE = "reverse_gate"
    TRIM = "trim"
    FUEL_INHIBIT = "fuel_inhibit"
    """Holds fuel off while a person cranks with the craft's own switch."""
    SPARK_INHIBIT = "spark_inhibit"


class Need(enum.StrEnum):
    """One thing that must be true, in the order a person would mend them."""

    RELEASED = "released"
    """This version fires outputs of this kind at all."""
    ROLE = "role"
    """The operator signed in is a technician."""
    BUS_ALIVE = "bus_alive"
    """Frames of the craft's own family are heard now, at a bit rate that fits."""
    CONTROLLER_KNOWN = "controller_known"
    """The controller's serial is known, so that what was seen can be booked to it."""
    ALONE = "alone"
    """No other tester talks to a controller, and one that did would have been heard."""
    LANYARD_IN = "lanyard_in"
    LANYARD_PROVED = "lanyard_proved"
    """The lanyard was seen pulled on this visit: it is the emergency stop, so it must be known to work."""
    START_RELEASED = "start_released"
    SPEED_KNOWN = "speed_known"
    """Both sources of engine speed are fresh, good, and say the same."""
    ENGINE_STOPPED = "engine_stopped"
    """Engine speed has been zero for STOPPED_FOR_S."""
    SPEED_PROVED = "speed_proved"
    """Engine speed above PROVED_ABOVE was once seen from this very controller: zero is no dead wire."""
    MANIFOLD_AT_REST = "manifold_at_rest"
    """Manifold pressure equals the barometer, a further witness that nothing turns."""
    BATTERY = "battery"
    OUTPUTS_FREE = "outputs_free"
    """No other output is live, no release is unconfirmed, and nothing else talks to the controller."""
    SETTLED = "settled"
    """Every release so far was confirmed, or the controller was read afresh since."""
    FUEL_ROOM = "fuel_room"
    """This test would not bring a cylinder or the craft over its fuel ceiling."""
    PURGED = "purged"
    """No test has put fuel into a cylinder since the engine last ran."""
    SPARK_AGO = "spark_ago"
    """No spark test within VENT_S."""
    VENTED = "vented"
    """No fuel test, no leak and no crank with open plug holes within VENT_S."""
    PUMP_QUIET = "pump_quiet"
    """The fuel pump is heard to stand still; whenever it ran unasked a nose must come again."""
    NO_SMELL = "no_smell"
    """A person confirmed, after venting: hatch open, no smell of fuel."""
    NO_LEAK = "no_leak"
    """A person looked at the fuel lines and saw no leak."""
    HANDS_CLEAR = "hands_clear"
    """A person confirmed: hands, hair and clothes clear of everything that moves."""
    AFT_CLEAR = "aft_clear"
    """A person confirmed: nobody behind the craft, nobody in the water near it."""
    JET_CLEAR = "jet_clear"
    """A person confirmed: nobody near intake and jet or behind the craft, whose engine may start."""
    SPARK_SAFE = "spark_safe"
    """A person confirmed: plugs in a clamped tester, jet area clear, nobody with a pacemaker near."""
    NOT_UNDER_WAY = "not_under_way"
    """No source says that the engine turns faster than idle."""
    BATTERY_FOR_WRITING = "battery_for_writing"


STOPPED_FOR_S = 2.0
"""Seconds of zero engine speed; design rule, common practice for two seconds of no crank activity."""

PROVED_ABOVE = 150.0
"""rev/min; below any cranking speed of a small engine (200 to 450 rev/min, common practice, no source)."""

SPEED_AGREES_WITHIN = 60.0
"""rev/min between the two sources."""

MANIFOLD_WITHIN_KPA = 4.0
"""Manifold against barometer with the engine at rest: more means a failed sensor (common practice)."""

BATTERY_FLOOR_V = 11.8
"""For an output test with the engine off (common practice, no source)."""

BATTERY_WRITING_V = 12.2
"""For changing anything stored in a controller, at rest or on a charger."""

NO_SMELL_HOLDS_S = 600.0
"""A confirmed "no smell of fuel" is worth ten minutes, and void on key-off or engine run."""

HANDS_CLEAR_HOLDS_S = 30.0
"""A confirmed "hands clear" is worth half a minute, and void on any engine speed above zero."""

AFT_CLEAR_HOLDS_S = 30.0
"""As long as "hands clear" (our own figure): who swims has come near within half a minute."""

JET_CLEAR_HOLDS_S = 30.0
"""As long as "hands clear" (our own figure)."""

NO_LEAK_HOLDS_S = 600.0
"""As long as "no smell of fuel" (our own figure), and void as soon as a leak is seen."""

SPARK_SAFE_HOLDS_S = 30.0
"""As long as "hands clear" (our own figure)."""

VENT_S = 240.0
"""Of venting after a fuel test or a leak: no kind here is an ignition-protected blower, so nothing moves. The
figure is the one printed on labels for running a blower before a start; for this purpose it is our own."""

FUEL_PER_CYLINDER_CM3 = 3.0
FUEL_PER_VISIT_CM3 = 4.0
"""Ceilings until a purge: one cubic centimetre makes about a quarter litre of vapour."""

CRANKED_FOR_S = 5.0
"""Seconds of cranking without a gap, plugs out and coils unpowered, that count as a purge if confirmed."""

CRANKED_WITHIN_S = 120.0
"""A crank is confirmed as a purge within this time or not at all (our own figure)."""

CONFIRM_PURGE = "Confirm it, then vent and sniff again"
"""What to do about test fuel once such a crank was heard: a touch mends it."""

LARGEST_DUTY = 0.5
"""Share of a pulse's period that it may be on."""

PERMIT_S = 0.3
"""A permit not renewed by a finger's beat for this long is dead."""

LIFTED_S = 0.5
"""The finger must have been away for this long before another press counts."""

ALWAYS = frozenset(
    {
        Need.RELEASED,
        Need.ROLE,
        Need.BUS_ALIVE,
        Need.CONTROLLER_KNOWN,
        Need.ALONE,
        Need.LANYARD_IN,
        Need.LANYARD_PROVED,
        Need.START_RELEASED,
        Need.SPEED_KNOWN,
        Need.ENGINE_STOPPED,
        Need.SPEED_PROVED,
        Need.MANIFOLD_AT_REST,
        Need.BATTERY,
        Need.OUTPUTS_FREE,
        Need.VENTED,
        Need.NO_SMELL,
    }
)
"""The floor under every output. Vapour blocks every switch, not only spark."""


@dataclasses.dataclass(frozen=True)
class Rule:
    """Floor and ceiling of one kind of output.

    Attributes:
        needs: all of them, always.
        longest_s: seconds live in one press.
        burst_s: seconds one request may keep it on by itself; 0 = the request carries a count instead.
        pulses: most in one press; 0 = not pulsed.
        width_ms: widest pulse.
        rest_s: after a press before the next of the same output.
        sweep: a press is one sweep from end to end; the family must say how long that takes.
        latched: it holds something off while a person cranks: it stays without the finger once it was read
            back, is not dropped when speed rises, and ends only after STOPPED_FOR_S of zero speed.
        released: whether this version fires it.
    """

    needs: frozenset[Need]
    longest_s: float
    burst_s: float = 0.0
    pulses: int = 0
    width_ms: float = 0.0
    rest_s: float = 2.0
    sweep: bool = False
    latched: bool = False
    released: bool = False


SWEPT = ALWAYS | {Need.HANDS_CLEAR, Need.AFT_CLEAR}
"""What moves at the stern: it crushes fingers, and steers the jet at whoever is behind."""

_PULSED = Rule(ALWAYS, longest_s=10.0, width_ms=5.0, released=True)
_BURST = Rule(ALWAYS, longest_s=10.0, burst_s=0.5, released=True)
_LATCHED = Rule(ALWAYS | {Need.HANDS_CLEAR, Need.JET_CLEAR}, longest_s=120.0, latched=True, released=True)
"""The person cranks: whatever turns then, turns near hands, and the engine may start if the link breaks."""

RULES: Mapping[Kind, Rule] = {
    Kind.INJECTOR: dataclasses.replace(_PULSED, needs=ALWAYS | {Need.FUEL_ROOM, Need.SPARK_AGO}, pulses=20),
    Kind.COIL: dataclasses.replace(
        _PULSED, needs=ALWAYS | {Need.PURGED, Need.PUMP_QUIET, Need.SPARK_SAFE}, pulses=10, rest_s=10.0
    ),
    Kind.FUEL_PUMP: dataclasses.replace(_BURST, needs=ALWAYS | {Need.NO_LEAK}, longest_s=5.0),
    Kind.BILGE_PUMP: _BURST,
    Kind.THROTTLE_PLATE: dataclasses.replace(_BURST, needs=ALWAYS | {Need.HANDS_CLEAR}),
    Kind.FAN: dataclasses.replace(_BURST, needs=ALWAYS | {Need.HANDS_CLEAR}),
    Kind.HORN: _BURST,
    Kind.LAMP: _BURST,
    Kind.GAUGES: _BURST,
    Kind.REVERSE_GATE: dataclasses.replace(_BURST, needs=SWEPT, sweep=True),
    Kind.TRIM: dataclasses.replace(_BURST, needs=SWEPT, sweep=True),
    Kind.FUEL_INHIBIT: _LATCHED,
    Kind.SPARK_INHIBIT: _LATCHED,
}
"""By kind. "Fuel and spark off", which a throttle plate needs, is ENGINE_STOPPED and OUTPUTS_FREE of ALWAYS:
nothing else may be live in the same press."""

LETS_FUEL_IN = frozenset({Kind.INJECTOR, Kind.FUEL_PUMP, Kind.SPARK_INHIBIT})
"""Kinds after which venting begins: the pump too, it presses fuel against whatever leaks; and cranking with
the spark alone held off, which sprays fuel that nothing burns."""


@dataclasses.dataclass(frozen=True)
class Fact:
    """What is known of one need.

    Attributes:
        holds: True, False, or None when it is not known; unknown counts as missing.
        seen: for a person, what was seen ("Engine is turning, 840 rev/min").
        do: what to do about it if it does not hold ("Stop it, wait 2 s").
    """

    holds: bool | None
    seen: str
    do: str = ""


AT_REST = frozenset({Need.BUS_ALIVE, Need.START_RELEASED, Need.SPEED_KNOWN, Need.ENGINE_STOPPED})
"""Before a latched inhibit may be given back: nobody cranks, and the engine is known to stand still."""

READING = frozenset({Need.BUS_ALIVE, Need.ALONE, Need.OUTPUTS_FREE, Need.NOT_UNDER_WAY})
"""For asking a controller anything."""

WRITING = READING | {
    Need.ROLE,
    Need.CONTROLLER_KNOWN,
    Need.SPEED_KNOWN,
    Need.ENGINE_STOPPED,
    Need.SETTLED,
    Need.BATTERY_FOR_WRITING,
}
"""For changing anything stored in a controller."""

UNKNOWN = Fact(None, "Not known", "Wait for the craft")


class PermitDenied(BoathookError):
    """The interlock said no; ``str()`` is what was seen of everything that is missing.

    Attributes:
        needs: what is missing, in the order to mend it; never empty unless the permit itself is dead.
        dead: the finger's hold was not seen in time.
    """

    exit_code = 3

    def __init__(self, needs: tuple[Need, ...], facts: Mapping[Need, Fact], *, dead: bool) -> None:
        seen = [facts.get(need, UNKNOWN).seen for need in needs]
        super().__init__(". ".join(seen or ["The finger's hold was not seen in time"]) + ".")
        self.needs = needs
        self.dead = dead


def missing(kind: Kind, facts: Mapping[Need, Fact]) -> tuple[Need, ...]:
    """What stops an output of this kind now, in the order to mend it; unknown counts as missing."""
    return lacking(RULES[kind].needs, facts)


def lacking(needs: frozenset[Need], facts: Mapping[Need, Fact]) -> tuple[Need, ...]:
    """Which of these needs are not known to hold, in the order to mend them."""
    return tuple(need for need in Need if need in needs and facts.get(need, UNKNOWN).holds is not True)


@dataclasses.dataclass(frozen=True, eq=False)
class Permit:
    """Leave to move one output while one finger holds; worth something only by identity.

    How long it lives is known to its interlock alone: whoever holds it cannot make it live longer.

    Attributes:
        output: the output's key.
        kind: of that output.
        press: number of the press it was asked for.
    """

    output: str
    kind: Kind
    press: int


class Interlock:
    """Mints permits and keeps them honest; the gate owns the only one that counts.

    ``facts`` is asked with the output's key: "no other output is live" depends on which one asks.
    """

    def __init__(self, facts: Callable[[str], Mapping[Need, Fact]], clock: Callable[[], float]) -> None:
        self._facts = facts
        self._clock = clock
        self._live: Permit | None = None
        self._until: float  # of the live permit; read only while there is one

    def grant(self, output: str, kind: Kind, press: int, beat: float) -> Permit:
        """A permit for one press, if nothing is missing.

        Args:
            output: the output's key.
            kind: of the output.
            press: the press's number; a new permit always kills the old one.
            beat: time of the touch sample that asks (same clock).

        Raises:
            PermitDenied: something is missing, or the touch sample is too old, from the future or no number.
        """
        self.revoke()
        facts = self._facts(output)
        needs = missing(kind, facts)
        until = beat + PERMIT_S
        fresh = beat <= self._clock() < until
        if needs or not fresh:
            raise PermitDenied(needs, facts, dead=not fresh)
        self._until = until
        self._live = Permit(output, kind, press)
        return self._live

    def renew(self, permit: Permit, beat: float) -> None:
        """Carry a permit on from a newer touch sample; an older one or a future one changes nothing."""
        if self._lives(permit) and beat <= self._clock():
            self._until = max(self._until, beat + PERMIT_S)

    def check(self, permit: Permit) -> None:
        """Ask again, with the facts of this moment.

        Raises:
            PermitDenied: the permit is dead or something is missing; it is dead from then on.
        """
        facts = self._facts(permit.output)
        needs = missing(permit.kind, facts)
        dead = not self._lives(permit)
        if needs or dead:
            self.revoke()
            raise PermitDenied(needs, facts, dead=dead)

    def revoke(self) -> None:
        """End whatever permit lives; good facts later do not revive it."""
        self._live = None

    def _lives(self, permit: Permit) -> bool:
        return permit is self._live and self._clock() < self._until
