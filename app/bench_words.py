"""What stands over the outputs of a craft."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from app.link_words import shows_values
from app.operators import OPERATORS, Role

if TYPE_CHECKING:
    from collections.abc import Sequence

    from app.moment import Moment
    from app.operators import Operator
    from app.output_messages import OutputInfo


class BenchWords(msgspec.Struct, frozen=True):
    """One page.

    Attributes:
        title, note: two lines.
        who: on the key that leads to the people.
        offer: the outputs are to be offered.
    """

    title: str
    note: str
    who: str
    offer: bool


def bench_words(moment: Moment, outputs: Sequence[OutputInfo]) -> BenchWords:
    """Say it; outputs are offered only of a craft that is or was heard."""
    who = who_words(moment)
    if not shows_values(moment):
        return BenchWords(
            "No craft to test", "Plug a craft in; its outputs will stand here.", who, offer=False
        )
    if not outputs:
        return BenchWords(
            "Nothing to test here", "The family of this craft offers no outputs.", who, offer=False
        )
    return BenchWords(
        "Outputs", "Each moves only while a finger holds. Pull no live plug in vapour.", who, offer=True
    )


def who_words(moment: Moment) -> str:
    """Who is signed in, on a key of two lines."""
    operator = signed_in(moment)
    return "Sign in" if operator is None else f"{operator.name}\n{operator.role.value}"


def signed_in(moment: Moment) -> Operator | None:
    """The person the bus side knows to work; None = nobody, or not known."""
    name = moment.snapshot.operator if moment.live and moment.snapshot is not None else ""
    return next((operator for operator in OPERATORS if operator.name == name), None)


def technicians() -> list[Operator]:
    """Everybody who may fire an output."""
    return [operator for operator in OPERATORS if operator.role is Role.TECHNICIAN]
