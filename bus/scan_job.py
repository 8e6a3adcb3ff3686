"""Reading identity and faults of every module, one question after the other.

A module that does not answer is not read; it never counts as one without faults. What was read before a break
stays.
"""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Protocol, TypeVar

import msgspec

from app.diagnosis import IdentityLine, ModuleState
from app.errors import ControllerError, ControllerNonsense, ControllerRefused, Refused
from app.faults import fault, in_order
from bus.requests import clear_request, extended_request, faults_request, identity_request, snapshot_request
from bus.uds_answers import identity_value, kept, records, stored

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from app.diagnosis import Fault
    from bus.exchange import AllowedRequest
    from bus.journal import Ticket
    from bus.uds_form import Module, Uds

Value = TypeVar("Value")


class Ask(Protocol):
    """Puts one request to a module and waits for its answer."""

    def __call__(self, module: Module, request: AllowedRequest, intent: Ticket | None = None) -> bytes:
        """The positive answer.

        Raises:
            Refused: the gate does not let it out.
            ControllerError: no sensible answer came.
        """


class Named(Protocol):
    """A controller as a person knows it."""

    @property
    def key(self) -> str:
        """For the tool."""

    @property
    def label(self) -> str:
        """For a person."""


class Source(Protocol):
    """The controllers of one craft that hold faults."""

    @property
    def modules(self) -> Sequence[Named]:
        """All of them."""

    def whole(self, *, identity: bool = True) -> Found:
        """Everything that every module tells.

        Args:
            identity: False leaves out what does not change.
        """

    def codes(self, key: str) -> list[Fault]:
        """The stored faults of one module, without what was kept of their moments.

        Raises:
            Refused, ControllerError: they could not be read.
        """

    def clear(self, key: str, ticket: Ticket) -> None:
        """Clear one module; it says that it has.

        Raises:
            Refused: nothing was sent.
            ControllerRefused: the module says no, to all of it.
            ControllerError: what it holds now is not known.
        """


class Progress(Protocol):
    """Tells a person how far it is."""

    def expect(self, steps: int) -> None:
        """So many more steps are to come."""

    def step(self, words: str) -> None:
        """The next one begins."""


@dataclasses.dataclass
class Found:
    """What was read.

    Attributes:
        identity, modules, faults: see app.diagnosis.Report.
        trouble: why it was broken off; empty if it was not.
        needs: what the gate misses, if that was why.
    """

    identity: list[IdentityLine] = dataclasses.field(default_factory=list)
    modules: list[ModuleState] = dataclasses.field(default_factory=list)
    faults: list[Fault] = dataclasses.field(default_factory=list)
    trouble: str = ""
    needs: tuple[str, ...] = ()

    def has_read(self, keys: set[str]) -> bool:
        """Whether every one of these modules was read to the end."""
        return keys <= {module.key for module in self.modules if module.read}


class Reader:
    """Asks the modules of one craft by ISO 14229-1; see Source."""

    def __init__(self, uds: Uds, ask: Ask, progress: Progress) -> None:
        self._uds = uds
        self._ask = ask
        self._progress = progress
        self.modules = uds.modules

    def whole(self, *, identity: bool = True) -> Found:
        """See Source."""
        found = Found()
        for module in self._uds.modules:
            items = sum(item.module == module.key for item in self._uds.identity) if identity else 0
            self._progress.expect(items + 1)
        for module in self._uds.modules:
            words = found.trouble
            if not found.trouble:
                try:
                    words = self._module(module, found, identity=identity)
                except Refused as refused:
                    words = found.trouble = str(refused)
                    found.needs = refused.needs
            found.modules.append(ModuleState(module.key, module.label, not words, words))
        found.faults = in_order(found.faults)
        return found

    def codes(self, key: str) -> list[Fault]:
        """See Source."""
        module = self._module_of(key)
        answer = self._ask(module, faults_request(self._uds, module))
        numbers = _sense(module, lambda: stored(answer))
        words = self._uds.words[module.key]
        return [fault(module.key, number, status, words) for number, status in numbers.items()]

    def clear(self, key: str, ticket: Ticket) -> None:
        """See Source."""
        module = self._module_of(key)
        self._ask(module, clear_request(self._uds, module), ticket)

    def _module_of(self, key: str) -> Module:
        return next(module for module in self.modules if module.key == key)

    def _module(self, module: Module, found: Found, *, identity: bool) -> str:
        """Read one module; returns why it could not be read to the end, empty if it could."""
        if identity:
            self._identity(module, found)
        self._progress.step(f"{module.label}: reading its faults")
        try:
            faults = self.codes(module.key)
        except ControllerError as error:
            return str(error)
        known = [one for one in faults if one.number in self._uds.words[module.key]]
        self._progress.expect(len(known))
        words = ""
        for one in faults:
            if one in known and not words:
                self._progress.step(f"{module.label}: {one.code} {one.text}")
                try:
                    found.faults.append(self._with_details(module, one))
                    continue
                except ControllerError as error:
                    words = f"{error} Its faults are listed, but not all that it kept of them."
                except Refused:
                    found.faults += faults[faults.index(one) :]
                    raise
            found.faults.append(one)
        return words

    def _identity(self, module: Module, found: Found) -> None:
        """What the module tells about itself; a value it does not give stays empty."""
        silent = False
        for item in self._uds.identity:
            if item.module != module.key:
                continue
            self._progress.step(f"{module.label}: reading {item.label.lower()}")
            value = ""
            if not silent:
                try:
                    answer = self._ask(module, identity_request(self._uds, module, item.did))
                    value = identity_value(answer, item)
                except (ControllerRefused, ControllerNonsense):
                    pass
                except ControllerError:
                    silent = True  # asking for the rest would only take time; the faults are still asked for
            unit = item.unit if value else ""
            foreign = bool(value and item.known) and value not in item.known
            found.identity.append(
                IdentityLine(module.key, item.label, value, unit, item.band, item.counter, foreign)
            )

    def _with_details(self, module: Module, one: Fault) -> Fault:
        """The fault with its snapshot and its counters, as far as the module gives them."""
        moment = self._unless_refused(
            module,
            snapshot_request(self._uds, module, one.number),
            lambda answer: kept(answer, self._uds.snapshot),
        )
        counters = self._unless_refused(
            module,
            extended_request(self._uds, module, one.number),
            lambda answer: records(answer, self._uds.extended),
        )
        if moment is not None:
            one = msgspec.structs.replace(one, snapshot=moment.lines, hours=moment.hours)
        if counters is not None:
            one = msgspec.structs.replace(one, count=counters[0], age=counters[1])
        return one

    def _unless_refused(
        self, module: Module, request: AllowedRequest, parse: Callable[[bytes], Value]
    ) -> Value | None:
        """None where the controller has no such thing."""
        try:
            answer = self._ask(module, request)
        except ControllerRefused:
            return None
        return _sense(module, lambda: parse(answer))


def _sense(module: Module, parse: Callable[[], Value]) -> Value:
    """Whose nonsense it is belongs into the sentence."""
    try:
        return parse()
    except ControllerNonsense as error:
        raise ControllerNonsense(f"{module.label}: {error}") from error
