"""What earlier presses left behind, as the journal tells it: fuel, venting, releases still owed, locks.

The journal is the only memory: everything here is worked out from what was told to it, by this process or an
earlier one, so that a restart forgets nothing that speaks against firing.
"""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Any

from app.interlock import LETS_FUEL_IN, VENT_S, Kind
from bus.fuel import FuelBook
from bus.output_run import CONTROLLED
from bus.outputs import READ_BACK, OutputData, OutputPlan

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from app.interlock import Need
    from app.output_messages import Press
    from bus.journal import Journal, Ticket
    from bus.output_run import OutputRun

FUEL, SPARK = "fuel", "spark"
"""What venting clocks are kept for."""

CRANKED = "cranked"
"""How a purge was done, where not by running the engine."""

HELD, ENDING = "inhibit_held", "inhibit_ending"
"""Kinds of journal entries about an inhibit under way."""

LATE = 0
"""Number of no press: stands for a start that was carried out after its press was over."""


@dataclasses.dataclass
class Owed:
    """A start that no confirmed release followed.

    Attributes:
        craft, press, kind: of the press that left it; craft is empty where it is not known.
        words: why it locks everything, for a person.
        plan: what to send; None where the journal does not tell.
        due: the release is to be sent when the craft is heard next; False once that was done in vain.
        blind: it was sent to a craft that does not say its serial.
        heard: its controller said a moment ago that it is live: whoever it is, the release goes to it.
    """

    craft: str
    press: int
    kind: str
    words: str
    plan: OutputPlan | None
    due: bool = True
    blind: bool = False
    heard: bool = False


class OutputPast:
    """Running account of all crafts.

    Attributes:
        fuel: see FuelBook.
    """

    def __init__(self, journal: Journal, clock: Callable[[], float]) -> None:
        self._journal = journal
        self._started = clock()
        self._read = 0
        self._open: dict[tuple[str, str, int], Owed] = {}
        self._mine: Owed | None = None
        self._followed: set[str] = set()
        self._locks: dict[str, str] = {}
        self._clocks: dict[tuple[str, str], float] = {}
        self.fuel = FuelBook()
        self.catch_up()
        self.all_due()

    def catch_up(self) -> None:
        """Take what was told to the journal since, by whomever."""
        told = self._journal.told
        while self._read < len(told):
            entry = told[self._read]
            earlier = self._read < self._journal.at_start
            self._read += 1
            self.fuel.take(entry)
            self._take(entry["kind"], entry["body"], self._started if earlier else entry["mono"])

    def tell(self, kind: str, /, **body: Any) -> Ticket:
        """Put an entry into the journal and count it at once."""
        ticket = self._journal.put(kind, **body)
        self.catch_up()
        return ticket

    def tell_start(self, craft: str, press: int, plan: OutputPlan, operator: str) -> Ticket:
        """Charge a press; with all it takes to release the output without the family's data."""
        data = plan.data
        ticket = self.tell(
            "output_start",
            **_told_of(plan),
            press=press,
            craft=craft,
            operator=operator,
            cylinder=data.cylinder,
            fuel_cm3=plan.fuel_cm3,
        )
        self._mine = self._open[craft, data.key, press]
        self._followed.clear()
        return ticket

    def tell_late(self, craft: str, plan: OutputPlan) -> None:
        """An output went live that no press under way asked for: its release is owed, everything locked.

        Its fuel was charged with its press.
        """
        key = (craft, plan.data.key, LATE)
        if key in self._open and self._open[key].heard:
            return
        words = f"{plan.data.label} went live after its test was over"
        self.tell("locked", **_told_of(plan), press=LATE, craft=craft, words=words)
        self._open[key].heard = True

    def follow(self, craft: str, run: OutputRun) -> None:
        """Tell once when an inhibit was read back, and once when it is to be given back, and why."""
        key, followed = run.plan.data.key, self._followed
        if run.latched and HELD not in followed:
            followed.add(HELD)
            self.tell(HELD, output=key, press=run.press, craft=craft)
        if run.ending and ENDING not in followed:
            followed.add(ENDING)
            self.tell(ENDING, output=key, press=run.press, craft=craft, cause=run.ending, doubt=run.doubt)

    def tell_end(self, craft: str, run: OutputRun) -> None:
        """A press is over; what was fired and not confirmed is owed from now on."""
        self._mine = None
        self._followed.clear()
        self.tell(
            "output_end",
            output=run.plan.data.key,
            press=run.press,
            craft=craft,
            fired=run.fired,
            confirmed=run.confirmed,
            cause=run.cause,
        )

    def tell_unfired(self, craft: str, output: str, press: int, cause: str) -> None:
        """A press ended before anything was sent; its charge stays."""
        self._mine = None
        self.tell(
            "output_end", output=output, press=press, craft=craft, fired=False, confirmed=False, cause=cause
        )

    def tell_refused(
        self, press: Press, operator: str, craft: str | None, needs: Iterable[Need], cause: str
    ) -> None:
        """A press was refused; nothing was sent."""
        self.tell(
            "refused",
            output=press.output,
            press=press.press,
            operator=operator,
            craft=craft,
            needs=list(needs),
            cause=cause,
        )

    def owed(self) -> list[Owed]:
        """Releases that no press under way will send: what was just heard first, then the oldest."""
        owed = [owed for owed in self._open.values() if owed is not self._mine]
        return sorted(owed, key=lambda one: not one.heard)

    def due(self, craft: str | None) -> bool:
        """Whether a release is to be sent to this craft first; None = its serial is not known."""
        return any(
            owed.due and owed.plan is not None
            for owed in self.owed()
            if owed.craft in ("", craft) or (craft is None and not owed.blind)
        )

    def all_due(self) -> None:
        """The way to the craft was gone: what is owed is to be sent when it is back."""
        for owed in self.owed():
            owed.due = True

    def locked(self, craft: str | None) -> str:
        """Why nothing may be fired on this craft, in words, empty if nothing is in the way.

        Of a craft that is not known, whatever locks any craft.
        """
        for owed in self.owed():
            if craft is None or owed.craft in ("", craft):
                return owed.words
        if craft is None:
            return next(iter(self._locks.values()), "")
        return self._locks.get(craft) or self._locks.get("", "")

    def since(self, what: str, craft: str, now: float) -> float | None:
        """Seconds since fuel or spark was last let go on this craft; None = long enough ago.

        0 while it may still be so.
        """
        for owed in self.owed():
            if owed.craft in ("", craft) and _of(owed.kind) == what:
                return 0.0
        ages = [now - self._clocks[key, what] for key in ("", craft) if (key, what) in self._clocks]
        return min(ages, default=None)

    def run_out(self, now: float) -> list[tuple[str, str]]:
        """Venting clocks (craft, what) that have run out; tell ``vented`` of each."""
        return [key for key, at in self._clocks.items() if now - at >= VENT_S]

    def _take(self, kind: str, body: dict[str, Any], at: float) -> None:
        """Count one entry; ``at`` is when it counts from: an earlier process's times mean nothing now."""
        craft = str(body.get("craft") or "")
        match kind:
            case "output_start":
                self._owe(_owed_of(craft, body), body)
            case "output_end":
                self._end(craft, body, at)
            case "leak" | "purge":
                self._to_vent(kind, body, at)
            case "vented":
                self._clocks.pop((craft, str(body.get("what"))), None)
            case "locked":
                self._locks[craft] = str(body.get("words"))
                if "release" in body:
                    self._owe(_owed_of(craft, body), body)
            case "settled":
                self._locks.pop(craft, None)
                self._locks.pop("", None)
                for key, owed in list(self._open.items()):
                    if owed.craft in ("", craft) and owed is not self._mine:
                        self._count(owed, at)
                        del self._open[key]

    def _to_vent(self, kind: str, body: dict[str, Any], at: float) -> None:
        """What has leaked, or left the cylinders by the plug holes, is in the hull."""
        if kind == "leak" or body.get("how") == CRANKED:
            self._clocks[str(body.get("craft") or ""), FUEL] = at

    def _owe(self, owed: Owed, body: dict[str, Any]) -> None:
        self._open[owed.craft, str(body.get("output")), owed.press] = owed

    def _end(self, craft: str, body: dict[str, Any], at: float) -> None:
        key = (craft, str(body.get("output")), _press_of(body))
        owed = self._open.get(key)
        if owed is None:
            return
        if body.get("fired") is not False:
            self._count(owed, at)
        if body.get("confirmed") is True or body.get("fired") is False:
            del self._open[key]
        else:
            owed.due = False

    def _count(self, owed: Owed, at: float) -> None:
        """Venting begins when the output has ended."""
        what = _of(owed.kind)
        if what:
            self._clocks[owed.craft, what] = at


def _of(kind: str) -> str:
    if kind in LETS_FUEL_IN:
        return FUEL
    return SPARK if kind == Kind.COIL else ""


def _owed_of(craft: str, body: dict[str, Any]) -> Owed:
    label = str(body.get("label") or body.get("output"))
    words = str(body.get("words") or f"{label} was not confirmed stopped")
    return Owed(craft, _press_of(body), str(body.get("kind")), words, _plan_of(body))


def _press_of(body: dict[str, Any]) -> int:
    press = body.get("press")
    return press if isinstance(press, int) else LATE


def _told_of(plan: OutputPlan) -> dict[str, Any]:
    """All it takes to release an output without the family's data."""
    return {
        "output": plan.data.key,
        "label": plan.data.label,
        "kind": plan.data.kind,
        "request": plan.start.hex(),
        "release": plan.release.hex(),
        "to": plan.request,
        "answers": plan.response,
        "padding": plan.padding,
    } | ({"status": plan.status.hex(), "held": plan.held.hex()} if plan.latched else {})


def late_start(plans: Iterable[OutputPlan], ident: int, answer: bytes) -> OutputPlan | None:
    """Which of these outputs a controller says it has just made live; None = none of them."""
    for plan in plans:
        if ident == plan.response and answer[:4] == CONTROLLED + plan.start[1:4]:
            return plan
    return None


def _plan_of(body: dict[str, Any]) -> OutputPlan | None:
    """The release as it was sent then; None where the entry does not tell a sound one."""
    try:
        start, release = bytes.fromhex(body["request"]), bytes.fromhex(body["release"])
        status, held = bytes.fromhex(body.get("status", "")), bytes.fromhex(body.get("held", ""))
        data = OutputData(
            body["output"], body["label"], Kind(body["kind"]), "", int.from_bytes(start[1:3], "big"), ()
        )
        plan = OutputPlan(
            data,
            int(body["to"]),
            int(body["answers"]),
            int(body["padding"]),
            start,
            release,
            longest_s=0.0,
            fuel_cm3=0.0,
            status=status,
            held=held,
        )
    except (KeyError, TypeError, ValueError):
        return None
    read_back = (len(status), status[:1], len(held)) == (3, READ_BACK, 4) if plan.latched else not status
    own = release == b"\x2f" + start[1:3] + b"\x00" and 4 <= len(start) <= 7
    return plan if own and read_back else None
