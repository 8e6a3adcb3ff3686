"""Scenarios: files that say how a craft begins and what happens to it then."""

from __future__ import annotations

import dataclasses
import tomllib
from pathlib import Path
from typing import Any

from simulator.actions import understand
from simulator.errors import Misunderstood

FOLDER = Path(__file__).resolve().parent / "scenarios"

START: dict[str, Any] = {
    "key": True,
    "level": 100.0,
    "engine": "stopped",
    "throttle": 0.0,
    "soaked": 22.0,
    "afloat": True,
    "waves": 0.0,
    "air": 22.0,
    "water": 18.0,
    "battery": 0.9,
    "hours": 123.4,
    "service_at": 150.0,
    "fuel": 38.0,
}
"""How a craft begins if its scenario does not say: key on, key level in percent, engine "stopped" or
"running", lever in percent, temperature of engine, air and water in degC, charge of the battery (1 full),
engine hours, hours of the next service, litres in the tank."""


@dataclasses.dataclass(frozen=True)
class Step:
    """Something that happens ``at`` seconds after the beginning."""

    at: float
    request: dict[str, Any]


@dataclasses.dataclass(frozen=True)
class Scenario:
    """A beginning and what follows.

    Attributes:
        title: one line for a person.
        families: families it is made for; empty = every one.
        start: see START.
        steps: in the order of time.
        repeat: seconds after which the steps begin again; None = once.
        pace: how many times faster than real the slow things go (heat, hours, fuel).
        nodes: controllers on the bus that acknowledge; 1 = the sender is alone.
        listen_only: whether the adapter has a listen-only mode.
    """

    name: str
    title: str
    families: tuple[str, ...]
    start: dict[str, Any]
    steps: tuple[Step, ...]
    repeat: float | None
    pace: float
    nodes: int
    listen_only: bool


def names() -> list[str]:
    """Names of all scenarios."""
    return sorted(path.stem for path in FOLDER.glob("*.toml"))


def load(name: str) -> Scenario:
    """Read a scenario.

    Raises:
        Misunderstood: there is none of that name, or its file is not sound.
    """
    if name not in names():
        raise Misunderstood(f"There is no scenario {name!r}; there are {', '.join(names())}.")
    path = FOLDER / f"{name}.toml"
    try:
        return _read(name, tomllib.loads(path.read_text()))
    except (tomllib.TOMLDecodeError, Misunderstood, KeyError, TypeError, ValueError) as error:
        raise Misunderstood(f"The scenario {path} is not sound: {error}") from error


def _read(name: str, table: dict[str, Any]) -> Scenario:
    known = {"title", "families", "start", "step", "repeat", "pace", "nodes", "listen_only"}
    if extra := set(table) - known:
        raise Misunderstood(f"there is no setting {min(extra)!r}.")
    start = table.get("start", {})
    if extra := set(start) - set(START):
        raise Misunderstood(f"there is no start value {min(extra)!r}.")
    for key, value in start.items():
        usual = START[key]
        if (type(value) is int and isinstance(usual, float)) or isinstance(value, type(usual)):
            continue
        raise Misunderstood(f"the start value {key!r} cannot be {value!r}.")
    steps = []
    for number, step in enumerate(table.get("step", ()), start=1):
        request = {key: value for key, value in step.items() if key != "at"}
        try:
            understand(request)
            steps.append(Step(float(step["at"]), request))
        except (Misunderstood, KeyError) as error:
            raise Misunderstood(f"step {number}: {error}") from error
    if [step.at for step in steps] != sorted(step.at for step in steps):
        raise Misunderstood("the steps are not in the order of time.")
    repeat = table.get("repeat")
    if repeat is not None and (not steps or repeat <= steps[-1].at):
        raise Misunderstood("the steps would begin again before they have ended.")
    return Scenario(
        name=name,
        title=table["title"],
        families=tuple(table.get("families", ())),
        start={**START, **start},
        steps=tuple(steps),
        repeat=None if repeat is None else float(repeat),
        pace=float(table.get("pace", 1.0)),
        nodes=int(table.get("nodes", 2)),
        listen_only=bool(table.get("listen_only", True)),
    )
