"""What can be done to the controllers of a simulated craft; part of the one table of deeds."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.deed import Argument, Deed
from simulator.errors import Misunderstood
from simulator.tern_asked import ANSWERS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from simulator.craft import Craft


def _fault(craft: Craft, *, code: str, on: bool, hard: bool, trips: float, module: str | None) -> None:
    diagnosis = craft.diagnosis
    key = module or next(
        (name for name, one in diagnosis.controllers.items() if code in one.memory.supported), "engine"
    )
    memory = diagnosis.controller(key).memory
    if on:
        memory.order(code, hard=hard, trips=int(trips))
    else:
        memory.mend(code)


def _trusting(craft: Craft, *, on: bool) -> None:
    craft.diagnosis.outputs.trusting = on


def _pending(
    craft: Craft, *, service: str, times: float, every_ms: float, forever: bool, module: str
) -> None:
    wishes = craft.diagnosis.controller(module).wishes
    wishes.pending(service, int(times), every_ms / 1000.0, forever=forever)


def _answer(
    craft: Craft,
    *,
    service: str,
    kind: str,
    nrc: str,
    count: float,
    seconds: float,
    done: bool | None,
    module: str,
) -> None:
    wishes = craft.diagnosis.controller(module).wishes
    wishes.answer(service, kind, nrc=nrc, count=int(count), seconds=seconds, done=done)


def _silent(craft: Craft, *, module: str, on: bool) -> None:
    craft.diagnosis.controller(module).wishes.silent = on


def _deaf_to_release(craft: Craft, *, on: bool, module: str) -> None:
    """Releases (2F .. .. 00) are neither carried out nor answered; the default session still ends all."""
    craft.diagnosis.controller(module).wishes.deaf_to_release = on


def _inhibit_not_held(craft: Craft, *, on: bool) -> None:
    """Inhibits asked for from now on get a yes, hold nothing off and are read back as 00."""
    craft.diagnosis.outputs.holds_nothing = on


def _inhibit_drops(craft: Craft) -> None:
    """The controller lets go at this moment of what it holds off; read back as 00 from then on."""
    if not craft.diagnosis.outputs.drop():
        raise Misunderstood("No inhibit is held, so none can be dropped.")


def _mute_status(craft: Craft, *, on: bool, module: str) -> None:
    craft.diagnosis.controller(module).wishes.mute_status = on


def _busy_status(craft: Craft, *, on: bool, module: str) -> None:
    craft.diagnosis.controller(module).wishes.busy_status = on


def _acknowledges(craft: Craft, *, answer: str) -> None:
    """How requests to clear are answered from now on, on a craft that tells its faults by SAE J1939."""
    voice = craft.broadcast.voice
    known = (*ANSWERS, "silent", "other")
    if voice is None:
        raise Misunderstood("This craft tells no faults by SAE J1939.")
    if answer not in known:
        raise Misunderstood(f"There is no answer {answer!r}; there are {', '.join(known)}.")
    voice.asked.answer = answer


def _wear(craft: Craft, output: str, value: float) -> None:
    outputs = craft.diagnosis.outputs
    known = [one.key for one in outputs.table.values()]
    if output not in known:
        raise Misunderstood(f"There is no output {output!r}; there are {', '.join(known)}.")
    outputs.health[output] = value


def _hull(craft: Craft, value: str) -> None:
    if not (value.isascii() and value.isprintable() and 1 <= len(value) <= 20):
        raise Misunderstood("A hull number here is 1 to 20 printable letters and digits.")
    craft.diagnosis.hull = value


ON = Argument(bool)
MODULE = Argument(str, default="engine")

DEEDS: Mapping[str, Deed] = {
    "fault": Deed(
        _fault,
        {
            "code": Argument(str),
            "on": ON,
            "hard": Argument(bool, default=True),
            "trips": Argument(float, 1.0, 200.0, default=2.0),
            "module": Argument(str, default=None),
        },
    ),
    "trusting": Deed(_trusting, {"on": ON}),
    "pending": Deed(
        _pending,
        {
            "service": Argument(str),
            "times": Argument(float, 0.0, 1000.0, default=5.0),
            "every_ms": Argument(float, 5.0, 10_000.0, default=200.0),
            "forever": Argument(bool, default=False),
            "module": MODULE,
        },
    ),
    "answer": Deed(
        _answer,
        {
            "service": Argument(str),
            "kind": Argument(str),
            "nrc": Argument(str, default="22"),
            "count": Argument(float, 1.0, 1000.0, default=1.0),
            "seconds": Argument(float, 0.0, 60.0, default=3.0),
            "done": Argument(bool, default=None),
            "module": MODULE,
        },
    ),
    "uds_silent": Deed(_silent, {"module": MODULE, "on": ON}),
    "deaf_to_release": Deed(_deaf_to_release, {"on": ON, "module": MODULE}),
    "inhibit_not_held": Deed(_inhibit_not_held, {"on": ON}),
    "inhibit_drops": Deed(_inhibit_drops, {}),
    "mute_status": Deed(_mute_status, {"on": ON, "module": MODULE}),
    "busy_status": Deed(_busy_status, {"on": ON, "module": MODULE}),
    "acknowledges": Deed(_acknowledges, {"answer": Argument(str)}),
    "second_tester": Deed(
        lambda craft, seconds: craft.diagnosis.second_tester(seconds),
        {"seconds": Argument(float, 0.0, 600.0)},
    ),
    "spin": Deed(
        lambda craft, rev, seconds, broadcast: craft.diagnosis.spin(rev, seconds, broadcast=broadcast),
        {
            "rev": Argument(float, 0.0, 9000.0),
            "seconds": Argument(float, 0.0, 600.0, default=1.0),
            "broadcast": Argument(bool, default=True),
        },
    ),
    "wear": Deed(_wear, {"output": Argument(str), "value": Argument(float, 0.0, 2.0)}),
    "hull": Deed(_hull, {"value": Argument(str)}),
}
