"""One thing that can be done to a simulated craft, and the arguments it takes."""

from __future__ import annotations

import dataclasses
import math
from typing import TYPE_CHECKING, Any

from simulator.errors import Misunderstood

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping


@dataclasses.dataclass(frozen=True)
class Argument:
    """One argument of a deed.

    Attributes:
        kind: bool, float, str or object (number or text).
        low, high: ends of a number.
        default: taken when it is absent; ... = it must be there.
    """

    kind: type
    low: float = -math.inf
    high: float = math.inf
    default: Any = ...

    def read(self, name: str, given: Mapping[str, Any]) -> Any:
        """The argument out of a request.

        Raises:
            Misunderstood: it is absent, of another kind, or out of range.
        """
        if name not in given:
            if self.default is ...:
                raise Misunderstood(f"'{given['do']}' needs '{name}'.")
            return self.default
        value = given[name]
        number = isinstance(value, int | float) and not isinstance(value, bool)
        fits = {
            bool: isinstance(value, bool),
            float: number and math.isfinite(value),
            str: isinstance(value, str),
            object: isinstance(value, str) or (number and math.isfinite(value)),
        }[self.kind]
        if not fits:
            words = {bool: "true or false", float: "a number", str: "a text", object: "a number or a text"}
            raise Misunderstood(f"'{name}' of '{given['do']}' must be {words[self.kind]}, not {value!r}.")
        if self.kind is float and not self.low <= value <= self.high:
            raise Misunderstood(
                f"'{name}' of '{given['do']}' must be between {self.low:g} and {self.high:g}."
            )
        return value


@dataclasses.dataclass(frozen=True)
class Deed:
    """One thing that can be done."""

    run: Callable[..., None]
    arguments: Mapping[str, Argument]
