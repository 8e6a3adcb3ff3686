"""Steps of a procedure as rows of a page: a tick where one is done, a black block where one is to be done."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from app.output_words import Line

if TYPE_CHECKING:
    from collections.abc import Sequence


class Step(NamedTuple):
    """One thing to do.

    Attributes:
        strong: what to do; a short sentence without its number.
        plain: how long, or how it is known to be done; may be empty.
    """

    strong: str
    plain: str = ""


def step_lines(steps: Sequence[Step], now: int) -> list[Line]:
    """Rows of these, numbered from 1.

    Args:
        steps: in their order.
        now: the one to be done now, from 0; as many as there are = all are done.

    Raises:
        ValueError: there is no such step.
    """
    if not 0 <= now <= len(steps):
        raise ValueError(f"Of {len(steps)} steps none is number {now}.")
    return [
        Line(
            f"{number + 1}. {step.strong}",
            step.plain,
            "tick" if number < now else "now" if number == now else "",
        )
        for number, step in enumerate(steps)
    ]
