"""Writes a small file as a whole: whoever reads it, whatever happened, sees the old one or the new one."""

from __future__ import annotations

import contextlib
import os
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path


def write_whole(path: Path, data: bytes) -> str:
    """Put it in the place of what is there, once it is on the disk; makes the folder.

    Returns:
        Why that could not be done, in the system's words; empty if it was.
    """
    beside = path.with_name(path.name + ".new")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with beside.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    except OSError as error:
        with contextlib.suppress(OSError):
            beside.unlink(missing_ok=True)
        return error.strerror or str(error)
    return ""
