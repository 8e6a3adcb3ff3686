"""What a signal can be to the tool itself, what it is needed for, and the words that the tool compares.

Which sensor it is, the label says; a role is how the tool finds it whatever the family calls it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping


class Role(NamedTuple):
    """One role.

    Attributes:
        what: for a person who writes a family.
        outputs: without it no output can ever be fired.
        text: the signal's values are texts (VAL_).
        words: texts that it must have, letter by letter.
    """

    what: str
    outputs: bool = False
    text: bool = False
    words: tuple[str, ...] = ()


IN_PLACE, PULLED = "In place", "Pulled"
RELEASED, PRESSED = "Released", "Pressed"
STANDS, PUMPS = "Off", "On"

ROLES: Mapping[str, Role] = {
    "engine_speed": Role("engine speed in rev/min, as the engine controller says it", outputs=True),
    "engine_speed_second": Role("the same from a second, independent source", outputs=True),
    "engine_state": Role("what the engine does, in words of the controller", text=True),
    "battery": Role("battery voltage in V", outputs=True),
    "key_level": Role("percent of top speed that the key allows; 0 = no valid key"),
    "limited_power": Role("why power is limited", text=True, words=("Not limited",)),
    "lanyard": Role("the lanyard", outputs=True, text=True, words=(IN_PLACE, PULLED)),
    "start_switch": Role("the start switch", outputs=True, text=True, words=(RELEASED, PRESSED)),
    "manifold_pressure": Role("pressure in the manifold, absolute, kPa; with the barometer"),
    "barometric_pressure": Role("pressure of the air, kPa; with the manifold"),
    "fuel_pump": Role("relay of the fuel pump", text=True, words=(STANDS, PUMPS)),
    "craft_speed": Role("speed over the water"),
    "serial": Role("serial of the engine controller: it tells two craft of one family apart", outputs=True),
    "hours": Role("engine hours"),
    "alive": Role("a counter that is another one in every frame of the engine controller"),
}

SPEEDS = ("engine_speed", "engine_speed_second")
"""Roles of what tells the engine speed."""

SPEED_AGE_S = 0.25
"""A speed that is older counts no more, whatever its message's period (design, safety rules)."""
