"""How each value that the craft does not send is worked out, for who asks."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.derived import BY_NAME
from app.output_words import Line
from app.show import unit_words

if TYPE_CHECKING:
    from app.moment import Moment

NONE = Line("Nothing is.", "Every value on this glass is as the craft sends it.")


def about_lines(moment: Moment) -> list[Line]:
    """A row for each derived value of this craft: its label and unit, formula, source."""
    infos = [] if moment.catalogue is None else [i for i in moment.catalogue.signals if i.name in BY_NAME]
    lines = []
    for info in infos:
        row = BY_NAME[info.name]
        source = row.source[0].upper() + row.source[1:]
        lines.append(Line(f"{info.label}, {unit_words(info.unit)}:", f"{row.formula}. {source}."))
    return lines or [NONE]
