"""Limits of one craft, set by a person with a reason in place of the family's; a bad file stops nothing.

Values are in the unit of the family's DBC, whatever the glass shows.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from app.small_file import write_whole

if TYPE_CHECKING:
    from pathlib import Path

    from app.messages import Limit, SignalInfo

FILE = "limits.json"

REASONS = {
    "Engine modified": "Engine\nmodified",
    "Other parts fitted": "Other parts\nfitted",
    "The maker says so": "The maker\nsays so",
}
"""Why a limit is another one, and the key for it."""

_UNREAD = f"The file {FILE} in the data folder cannot be read: limits set for single crafts are not used."


class Own(msgspec.Struct, frozen=True):
    """A limit that somebody set for one craft.

    Attributes:
        value: in the unit of the DBC.
        reason: one of REASONS.
        by: who was signed in.
    """

    value: float
    reason: str
    by: str = ""


def key_of(signal: str, limit: Limit) -> str:
    """What a limit is kept by: its signal, how severe it is and on which side."""
    return f"{signal} {limit.severity}_{limit.side}"


class CraftLimits:
    """Reads the file once, writes it whenever a limit is set or taken back.

    Attributes:
        notice: one sentence for the person, empty if all is well.
        version: rises with every change.
    """

    def __init__(self, folder: Path | None = None) -> None:
        """Read what is kept in a folder; None keeps nothing beyond this process."""
        self.notice = ""
        self.version = 0
        self._path = None if folder is None else folder / FILE
        self._kept: dict[str, dict[str, Own]] = {}
        if self._path is None:
            return
        try:
            self._kept = msgspec.json.decode(self._path.read_bytes(), type=dict[str, dict[str, Own]])
        except FileNotFoundError:
            return
        except (OSError, msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
            self.notice = _UNREAD

    def of(self, craft: str) -> dict[str, Own]:
        """What was set for a craft (family and serial in words), by ``key_of``."""
        return self._kept.get(craft, {})

    def put(self, craft: str, key: str, own: Own | None) -> None:
        """Set a limit of a craft, or take it back, and write the file."""
        limits = dict(self._kept.get(craft, {}))
        if own is None:
            limits.pop(key, None)
        else:
            limits[key] = own
        self._kept = {**self._kept, craft: limits}
        self.version += 1
        if self._path is not None:
            why = write_whole(self._path, msgspec.json.format(msgspec.json.encode(self._kept)) + b"\n")
            self.notice = f"It could not be saved ({why}): it holds until the handheld is off." if why else ""


def with_own(info: SignalInfo, limits: list[Limit], own: dict[str, Own]) -> list[Limit]:
    """The limits that hold, out of what the family says of the signal.

    Args:
        info: the signal as the family has it.
        limits: those of them that apply to this craft.
        own: what was set for the craft.
    """
    held = []
    for limit in info.limits:
        mine = own.get(key_of(info.name, limit))
        if mine is not None:
            source = f"set for this craft: {mine.reason.lower()}"
            changed = {"value": mine.value, "source": source, "generic": False, "own": True}
            held.append(msgspec.structs.replace(limit, **changed))
        elif limit in limits:
            held.append(limit)
    return held
