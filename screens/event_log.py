"""Lines for who watches from outside: which page is on the glass with every text, and every touch."""

from __future__ import annotations

import json
import os
from typing import TYPE_CHECKING, Any

from app.errors import BoathookError

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from kivy.uix.widget import Widget


class EventLog:
    """Writes JSON lines, each flushed as it is written; without a path it writes nothing."""

    def __init__(self, path: Path | None, clock: Callable[[], float]) -> None:
        self._clock = clock
        try:
            self._file = None if path is None else path.open("a", encoding="utf-8")
        except OSError as error:
            message = f"The event log {path} cannot be written: {error.strerror}. Name another file."
            raise BoathookError(message) from error

    def screen(self, name: str, content: dict[str, Any]) -> None:
        """A page is on the glass; the process id says whom SIGUSR1 makes write the next such line."""
        self._write({"screen": name, "pid": os.getpid(), **content})

    def touch(self, x: float, y: float, key: str | None) -> None:
        """A touch ended at a place (pixels from the top left); ``key`` is the one that acted."""
        self._write({"touch": [round(x), round(y)], "key": key})

    def _write(self, line: dict[str, Any]) -> None:
        if self._file is not None:
            self._file.write(json.dumps({"t": self._clock(), **line}, ensure_ascii=False) + "\n")
            self._file.flush()


def box(widget: Widget, height: float) -> list[int]:
    """[x, y, width, height] of a widget in pixels from the top left of a window of this height."""
    return [round(widget.x), round(height - widget.top), round(widget.width), round(widget.height)]
