"""What can be done to a simulated craft, by hand over the control socket or by the steps of a scenario.

One table for both: a request is a mapping with "do" and the arguments of that deed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from simulator import diagnosis_deeds
from simulator.deed import Argument, Deed
from simulator.errors import Misunderstood

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from simulator.craft import Craft


def _soak(craft: Craft, value: float) -> None:
    heat = craft.engine.heat
    heat.coolant = heat.metal = heat.oil = value


PARTS: Mapping[str, tuple[Callable[[Craft, float], None], float, float]] = {
    "oil": (lambda craft, value: setattr(craft.engine.oil, "health", value), 0.0, 1.0),
    "rail": (lambda craft, value: setattr(craft.engine.rail, "leak", value), 0.0, 1.0),
    "stator": (lambda craft, value: setattr(craft.engine.battery, "charging", value), 0.0, 1.0),
    "battery": (lambda craft, value: setattr(craft.engine.battery, "charge", value), 0.0, 1.0),
    "mixture": (lambda craft, value: setattr(craft.engine.governor, "lean", value), -0.4, 0.4),
    "knock": (lambda craft, value: setattr(craft.engine.governor, "rattle", value), 0.0, 15.0),
    "raw_water": (lambda craft, value: setattr(craft.engine.heat, "raw_water", value), 0.0, 1.0),
    "charger": (lambda craft, value: setattr(craft.engine, "belt", value), 0.0, 1.0),
    "gate": (lambda craft, value: craft.bench.stern.free.update(gate=value), 0.0, 1.0),
    "trim": (lambda craft, value: craft.bench.stern.free.update(trim=value), 0.0, 1.0),
    "coolant": (_soak, -30.0, 130.0),
}
"""Part to what sets its condition and the ends of it: health of the oil pump (1 sound), share of the rail's
pressure leaking each second, current of the stator (1 sound), charge of the battery, share of lean mixture,
degrees of knock, flow of cooling water (1 clear), share of its boost that the charger gives, how freely gate
and trim move (0 stuck), temperature of the engine in degC."""


def _part(craft: Craft, part: str, value: float) -> None:
    if part not in PARTS:
        raise Misunderstood(f"There is no part {part!r}; there are {', '.join(PARTS)}.")
    change, low, high = PARTS[part]
    if not low <= value <= high:
        raise Misunderstood(f"The condition of {part} is between {low:g} and {high:g}.")
    change(craft, value)


def _water(craft: Craft, afloat: bool, waves: float) -> None:  # noqa: FBT001 (an argument of a request)
    craft.engine.afloat = afloat
    craft.engine.waves = waves


def _set_serial(craft: Craft, value: float) -> None:
    """The plug is in another craft of this family: what was sprayed into cylinders is in the one before."""
    if craft.bench.serial != int(value):
        craft.bench.serial = int(value)
        craft.diagnosis.outputs.film.clear()


ON, SECONDS = Argument(bool), Argument(float, 0.0, 3600.0)

DEEDS: Mapping[str, Deed] = {
    "key": Deed(
        lambda craft, on, level: craft.turn_key(on=on, level=level),
        {"on": ON, "level": Argument(float, 0.0, 100.0, default=None)},
    ),
    "throttle": Deed(
        lambda craft, percent, over: craft.engine.driver.throttle(percent, over),
        {"percent": Argument(float, 0.0, 100.0), "over": Argument(float, 0.0, 600.0, default=0.0)},
    ),
    "start": Deed(lambda craft, pressed: setattr(craft.engine.driver, "start", pressed), {"pressed": ON}),
    "stop": Deed(lambda craft, pressed: setattr(craft.engine.driver, "stop", pressed), {"pressed": ON}),
    "lanyard": Deed(
        lambda craft, pulled: setattr(craft.engine.driver, "lanyard_pulled", pulled), {"pulled": ON}
    ),
    "reverse": Deed(lambda craft, on: setattr(craft.engine.driver, "reverse", on), {"on": ON}),
    "steer": Deed(
        lambda craft, degrees: setattr(craft.engine.driver, "steering", degrees),
        {"degrees": Argument(float, -30.0, 30.0)},
    ),
    "trim": Deed(
        lambda craft, towards: setattr(craft.engine.driver, "trim", towards),
        {"towards": Argument(float, -1.0, 1.0)},
    ),
    "water": Deed(_water, {"afloat": ON, "waves": Argument(float, 0.0, 1.0, default=0.0)}),
    "part": Deed(_part, {"part": Argument(str), "value": Argument(float)}),
    "serial": Deed(_set_serial, {"value": Argument(float, 0.0, 4_294_967_293.0)}),
    "plant": Deed(
        lambda craft, signal, kind, value: craft.plant(signal, kind, value),
        {"signal": Argument(str), "kind": Argument(str), "value": Argument(object, default=None)},
    ),
    "mend": Deed(
        lambda craft, signal: craft.broadcast.plants.mend(signal), {"signal": Argument(str, default=None)}
    ),
    "silence": Deed(lambda craft, seconds: craft.silence(seconds), {"seconds": SECONDS}),
    "crowd": Deed(lambda craft, on: craft.be_crowded(on=on), {"on": ON}),
    "hold": Deed(lambda craft, on: setattr(craft, "held", on), {"on": ON}),
    "pull_adapter": Deed(lambda craft, seconds: craft.pull_adapter(seconds), {"seconds": SECONDS}),
    **diagnosis_deeds.DEEDS,
}


def understand(request: Mapping[str, Any]) -> tuple[Deed, dict[str, Any]]:
    """The deed and its arguments.

    Raises:
        Misunderstood: there is no such deed, or an argument is wrong; the sentence says which.
    """
    name = request.get("do")
    if not isinstance(name, str) or name not in DEEDS:
        raise Misunderstood(f"There is no deed {name!r}.")
    deed = DEEDS[name]
    extra = set(request) - set(deed.arguments) - {"do"}
    if extra:
        raise Misunderstood(f"'{name}' has no argument '{min(extra)}'.")
    return deed, {key: argument.read(key, request) for key, argument in deed.arguments.items()}
