"""What people chose to see, kept for each family in a small file; a bad file never stops the glass."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import msgspec

from app.craft_limits import CraftLimits
from app.small_file import write_whole

if TYPE_CHECKING:
    from pathlib import Path

FILE = "choices.json"

SIX = 6
"""Big values: the arc and five tiles."""

FOUR = 4
"""Lines of the chart."""

_UNREAD = (
    f"The file {FILE} in the data folder cannot be read. What the family itself shows is shown. "
    "Choose again: that writes it anew."
)
_UNSAVED = "Your choice could not be saved ({}). It holds until this handheld is switched off."

Names = Annotated[tuple[str, ...], msgspec.Meta(max_length=SIX)]


class _Kept(msgspec.Struct):
    """The file: family to names."""

    six: dict[str, Names] = {}
    chart: dict[str, Names] = {}


class Choices:
    """Reads the file once, writes it whenever something is chosen.

    Attributes:
        notice: one sentence for the person, empty if all is well.
        limits: those set for single crafts, kept in a file of their own.
    """

    def __init__(self, folder: Path | None = None) -> None:
        """Read what is kept in a folder; None keeps nothing beyond this process."""
        self.notice = ""
        self.limits = CraftLimits(folder)
        self._path = None if folder is None else folder / FILE
        self._kept = _Kept()
        if self._path is None:
            return
        try:
            self._kept = msgspec.json.decode(self._path.read_bytes(), type=_Kept)
        except FileNotFoundError:
            return
        except (OSError, msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
            self.notice = _UNREAD

    def six(self, family: str) -> tuple[str, ...] | None:
        """The big values chosen for a family; None = those of the family itself."""
        return self._kept.six.get(family)

    def chart(self, family: str) -> tuple[str, ...] | None:
        """The lines chosen for a family; None = nobody chose."""
        return self._kept.chart.get(family)

    def keep(self, kind: str, family: str, names: tuple[str, ...] | None) -> None:
        """Remember a choice and write it.

        Args:
            kind: "six" or "chart".
            family: whose signals they are.
            names: in their order; None = take the choice back.
        """
        table = self._kept.six if kind == "six" else self._kept.chart
        if names is None:
            table.pop(family, None)
        else:
            table[family] = names
        self._write()

    def _write(self) -> None:
        if self._path is None:
            return
        text = msgspec.json.format(msgspec.json.encode(self._kept)) + b"\n"
        why = write_whole(self._path, text)
        self.notice = _UNSAVED.format(why) if why else ""
