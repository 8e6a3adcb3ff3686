"""What people chose to see, kept for each family in a small file; a bad file never stops the glass."""

from __future__ import annotations

import contextlib
import os
from typing import TYPE_CHECKING, Annotated

import msgspec

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
    """

    def __init__(self, folder: Path | None = None) -> None:
        """Read what is kept in a folder; None keeps nothing beyond this process."""
        self.notice = ""
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
        """The new file takes the place of the old one in one step: whoever reads sees one of them whole."""
        if self._path is None:
            return
        fresh = self._path.with_suffix(".new")
        try:
            self._path.parent.mkdir(parents=True, exist_ok=True)
            with fresh.open("wb") as file:
                file.write(msgspec.json.format(msgspec.json.encode(self._kept)) + b"\n")
                file.flush()
                os.fsync(file.fileno())
            fresh.replace(self._path)
        except OSError as error:
            self.notice = _UNSAVED.format(error.strerror or error)
            with contextlib.suppress(OSError):
                fresh.unlink(missing_ok=True)
            return
        self.notice = ""
