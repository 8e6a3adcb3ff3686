"""The panel: how many pixels a millimetre has, set before Kivy is loaded.

Kivy takes the density of a panel from the environment when it is first imported, assumes 96 dots per inch
under X11 (a 20 mm key would measure 14.4 mm on a 7 inch panel of 800 × 480) and reads a file in the home
directory. Nothing in this module may import Kivy outside ``prepare``.
"""

from __future__ import annotations

import math
import os
import sys
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from app.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Mapping

FRAMES_PER_S = 40
"""Upper bound of Kivy's loop: touches are looked at every 25 ms, and 20 snapshots a second fit evenly."""


@dataclass(frozen=True)
class Panel:
    """One panel profile.

    Attributes:
        name: as named on the command line.
        width, height: pixels.
        diagonal: inches.
        text: how much larger letters are than on a 7 inch panel.
    """

    name: str
    width: int
    height: int
    diagonal: float
    text: float

    @property
    def dpi(self) -> float:
        """Pixels per inch."""
        return math.hypot(self.width, self.height) / self.diagonal


def panels() -> dict[str, Panel]:
    """Every profile by name."""
    table = tomllib.loads(Path(__file__).with_name("panels.toml").read_text("utf-8"))
    return {name: Panel(name, **values) for name, values in table.items()}


def find(name: str) -> Panel:
    """One profile.

    Raises:
        UsageError: there is none of this name.
    """
    known = panels()
    if name not in known:
        raise UsageError(f"No panel profile is called {name}. Choose one of: {', '.join(known)}.")
    return known[name]


USUAL = "7-800x480"
"""The smallest: all of it can be seen on every other."""


def usual(chosen: str) -> str:
    """The profile that a person chose, or USUAL where there is none of that name."""
    return chosen if chosen in panels() else USUAL


def prepare(panel: Panel, *, fullscreen: bool) -> None:
    """Set everything that Kivy reads once. Call it before anything imports Kivy."""
    assert "kivy" not in sys.modules, "the panel must be prepared before Kivy is imported"
    os.environ.update(
        KIVY_DPI=f"{panel.dpi:.4f}",
        KIVY_METRICS_DENSITY="1",
        KIVY_METRICS_FONTSCALE="1",
        KIVY_NO_ARGS="1",
        KIVY_NO_CONFIG="1",
        KIVY_NO_ENV_CONFIG="1",
        KIVY_NO_FILELOG="1",
        KIVY_LOG_MODE="PYTHON",
    )
    from kivy.config import Config  # noqa: PLC0415 - the environment above must stand first

    for name in Config.options("input"):
        Config.remove_option("input", name)
    Config.set("input", *touch_source(os.environ))
    graphics = {
        "width": panel.width,
        "height": panel.height,
        "resizable": 0,
        "fullscreen": "auto" if fullscreen else 0,
        "show_cursor": 0 if fullscreen else 1,
        "maxfps": FRAMES_PER_S,
        "multisamples": 4,
    }
    for name, value in graphics.items():
        Config.set("graphics", name, value)
    Config.set("kivy", "exit_on_escape", 0)


def touch_source(environment: Mapping[str, str]) -> tuple[str, str]:
    """The one input Kivy may listen to, as name and provider.

    In a window touches come as a mouse; straight on the panel (KMSDRM) Kivy 2.3.1 ignores SDL's fingers and
    only its mtdev provider works. Two sources at once would give every touch twice.
    """
    driver = environment.get("SDL_VIDEODRIVER", "").lower() or (
        "x11" if environment.get("DISPLAY") else "kmsdrm"
    )
    if driver == "kmsdrm":
        return "mtdev_%(name)s", "probesysfs,provider=mtdev"
    return "mouse", "mouse,disable_multitouch"
