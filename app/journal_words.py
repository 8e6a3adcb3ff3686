"""What a line of the bus side's journal says to a person. Bodies are the book's: {"what", "journal"}."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import msgspec

from app.diagnosis import Fault
from app.entry import Kind

if TYPE_CHECKING:
    from collections.abc import Callable

_CONFIRMED = {
    "no_smell": "hatch open, no smell of fuel",
    "hands_clear": "hands clear",
    "jet_clear": "nobody near intake and jet or behind the craft",
    "spark_safe": "every plug in a clamped tester, jet area clear",
    "leak_seen": "a fuel leak",
}
"""What a person confirms by touch, see app.output_messages.Confirm."""

_WHY = {"scan": "for a reading", "clear": "for clearing", "unlock": "for a reading that unlocks the outputs"}
"""What a controller was asked for, as the bus side says it."""

_FRAMES = (
    ("session", "to open a session"),
    ("start", "to start"),
    ("read_back", "to read back"),
    ("release", "to release"),
    ("default_session", "to close the session"),
    ("other", "of another kind"),
)
"""Frames of a press, in the order they leave."""


def plain(name: str) -> str:
    """A key as words."""
    return name.replace("_", " ")


def count_words(faults: list[Fault]) -> str:
    """How many faults, and which codes."""
    if not faults:
        return "no faults"
    codes = ", ".join(fault.code for fault in faults)
    return f"{how_many(len(faults), 'fault')} ({codes})"


def how_many(number: int, thing: str) -> str:
    """So many of a thing."""
    return f"{number} {thing}{'' if number == 1 else 's'}"


def saved_faults(body: dict[str, Any]) -> list[Fault]:
    """The faults that were saved before a clearing.

    Raises:
        KeyError, msgspec.ValidationError: the line does not hold them.
    """
    return msgspec.convert(body["what"]["faults"], list[Fault])


def _output(what: dict[str, Any]) -> str:
    """An output by its label, or by the family's key where the journal gives no label."""
    return str(what.get("label") or plain(what["output"]).capitalize())


def _output_end(body: dict[str, Any]) -> str:
    what = body["what"]
    if what["fired"] is False:
        state = "did not fire"
    else:
        state = "fired, confirmed stopped" if what["confirmed"] is True else "NOT CONFIRMED STOPPED"
    return f"{_output(what)}: {state}. {what.get('cause', '')}".rstrip()


def _output_start(body: dict[str, Any]) -> str:
    what = body["what"]
    fuel = what.get("fuel_cm3")
    where = f"cylinder {what['cylinder']}" if what.get("cylinder") else "all cylinders"
    charged = f", {fuel:.3g} cm³ of fuel charged to {where}" if fuel else ""
    return f"{_output(what)}: about to fire{charged}"


def _inhibit_held(body: dict[str, Any]) -> str:
    return f"{_output(body['what'])}: read back as held, a person may crank"


def _inhibit_ending(body: dict[str, Any]) -> str:
    what = body["what"]
    words = f"{_output(what)}: to be given back once the engine stands still. {what['cause']}"
    return f"{words} {what['doubt']}" if what.get("doubt") else words


def _refused(body: dict[str, Any]) -> str:
    what = body["what"]
    return f"{_output(what)} refused: {what['cause']}"


def _confirm(body: dict[str, Any]) -> str:
    what = body["what"]["what"]
    return f"A person confirmed: {_CONFIRMED.get(what, plain(what))}"


def _clear_intent(body: dict[str, Any]) -> str:
    return f"About to clear; saved before it: {count_words(saved_faults(body))}"


def _clear_end(body: dict[str, Any]) -> str:
    """An acknowledgement alone is not "cleared": what was read after it stands in the clearing's entry."""
    what = body["what"]
    cleared, unsure = ", ".join(map(plain, what["cleared"])), ", ".join(map(plain, what["unsure"]))
    said = f"{cleared} confirmed it" if cleared else "no controller confirmed one"
    if unsure:
        said += f", {unsure} did not"
    if what["known"] is not True:
        said += ". What is stored now is NOT known: read again"
    return f"End of a clearing: {said}"


def _asked(body: dict[str, Any]) -> str:
    what = body["what"]
    result = what["result"]
    if result == "answered":
        came = f"answered with {how_many(what['bytes'], 'byte')}"
    elif result == "refused":
        name = f" ({what['name']})" if what["name"] else ""
        came = f"refused with code {what['code']}{name}"
    else:
        came = f"{result}. {what['words']}".rstrip(". ")
    frames = "" if what["frames"] else "; nothing left the tool"
    why = f" ({_WHY.get(what['why'], what['why'])})" if what["why"] else ""
    return f"{what['asked']}{why}: {came}{frames}"


def _sent(body: dict[str, Any]) -> str:
    what = body["what"]
    kinds = [f"{what[name]} {words}" for name, words in _FRAMES if what.get(name)]
    answer = f"last answer {spaced(what['last_answer'])}" if what["last_answer"] else "no answer came"
    return f"{_output(what)}: {how_many(what['frames'], 'frame')} sent, {', '.join(kinds)}; {answer}"


def _blocked(body: dict[str, Any]) -> str:
    what = body["what"]
    more = what["more"]
    if "frame" not in what:
        return f"Held back as well: {how_many(more, 'frame')}"
    rest = f", and {more} more before it" if more else ""
    return f"A frame to {what['to']} was held back: {what['why']}{rest}"


def spaced(digits: str) -> str:
    """Hexadecimal digits as bytes."""
    return " ".join(digits[at : at + 2] for at in range(0, len(digits), 2)).upper()


HEADLINES: dict[str, Callable[[dict[str, Any]], str]] = {
    Kind.OUTPUT_START: _output_start,
    Kind.OUTPUT_END: _output_end,
    Kind.INHIBIT_HELD: _inhibit_held,
    Kind.INHIBIT_ENDING: _inhibit_ending,
    Kind.REFUSED: _refused,
    Kind.CONFIRM: _confirm,
    Kind.PROVED: lambda _: "Engine speed seen above 150 rev/min: its reading is proved",
    Kind.PURGE: lambda _: "The engine ran long enough: fuel from tests is burnt",
    Kind.LEAK: lambda _: "A fuel leak was seen: venting begins again",
    Kind.VENTED: lambda body: f"Vented long enough after {body['what']['what']}",
    Kind.LOCKED: lambda body: f"Outputs locked: {body['what']['words']}",
    Kind.SETTLED: lambda _: "The controller was read again and answers: outputs are no longer locked",
    Kind.CLEAR_INTENT: _clear_intent,
    Kind.CLEAR_END: _clear_end,
    Kind.ASKED: _asked,
    Kind.SENT: _sent,
    Kind.BLOCKED: _blocked,
}


def details(kind: str, what: dict[str, Any]) -> list[str]:
    """Lines about what a line of the journal holds, one for each value."""
    lines = []
    for name, value in what.items():
        if value == "" or name in _LEFT_OUT.get(kind, set()):
            continue
        lines.append(f"{_NAMES.get(name) or plain(name).capitalize()}: {_value(name, value)}")
    return lines


_LEFT_OUT: dict[str, set[str]] = {Kind.CLEAR_INTENT: {"faults", "identity", "labels"}}
"""Said in lines of their own, or elsewhere."""

_NAMES = {
    "to": "To identifier",
    "took_s": "Took, seconds",
    "bytes": "Bytes of the answer",
    "frames": "Frames sent",
    "more": "Held back before it without a line",
}

_BYTES = {"request", "release", "status", "held", "frame", "last_answer"}
"""Values that are bytes as hexadecimal digits."""


def _value(name: str, value: object) -> str:
    if isinstance(value, list):
        return ", ".join(plain(str(item)) for item in value) or "none"
    if value is None:
        return "not known"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if name in _BYTES and isinstance(value, str):
        return spaced(value)
    return _WHY.get(str(value), str(value)) if name == "why" else str(value)
