"""Paints, letters and measures of the glass. A coloured ground always comes with a drawn shape and a word."""

from __future__ import annotations

import math
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from kivy.core.text import Label as CoreLabel
from kivy.core.text import LabelBase
from kivy.event import EventDispatcher
from kivy.graphics.texture import Texture
from kivy.metrics import mm as exact_mm
from kivy.properties import ColorProperty

from app.show import Look
from screens.colours import DAY

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from screens.panel import Panel


class Paints(EventDispatcher):
    """The colours now worn; layouts bind to them, so that they follow a change."""

    paper = ColorProperty(DAY["paper"])
    ink = ColorProperty(DAY["ink"])
    watch = ColorProperty(DAY["watch"])
    watch_ink = ColorProperty(DAY["watch_ink"])
    alarm = ColorProperty(DAY["alarm"])
    alarm_ink = ColorProperty(DAY["alarm_ink"])
    hatch = ColorProperty(DAY["hatch"])

    def wear(self, table: Mapping[str, str]) -> None:
        """Change every colour; paper comes last, so that who waits for it finds the others changed."""
        for name in sorted(table, key=lambda name: name == "paper"):
            setattr(self, name, table[name])


paints = Paints()


class Skin(NamedTuple):
    """How a look is drawn: names of two paints, a shape ("" = none), and whether the ground is hatched."""

    ground: str
    ink: str
    shape: str
    hatched: bool


SKINS = {
    Look.GOOD: Skin("paper", "ink", "", hatched=False),
    Look.WATCH: Skin("watch", "watch_ink", "triangle", hatched=False),
    Look.ALARM: Skin("alarm", "alarm_ink", "square", hatched=False),
    Look.STALE: Skin("paper", "ink", "", hatched=True),
    Look.NOT_AVAILABLE: Skin("paper", "ink", "", hatched=False),
    Look.ERROR: Skin("paper", "ink", "cross", hatched=False),
    Look.OUT_OF_RANGE: Skin("paper", "ink", "", hatched=True),
    Look.WAITING: Skin("paper", "ink", "", hatched=False),
    Look.FROZEN: Skin("paper", "ink", "bars", hatched=True),
}


def ground_and_ink(look: Look) -> tuple[list[float], list[float]]:
    """The colours of a look as they are now worn."""
    skin = SKINS[look]
    return getattr(paints, skin.ground), getattr(paints, skin.ink)


LINE = 1.3
"""Height of a line of plain text as a share of the em (measured: letters 1.22, spacing 1.06)."""

B612 = Path("/usr/share/fonts/opentype/b612")


class Face(NamedTuple):
    """A typeface: its name for Kivy and its heights as shares of the em."""

    name: str
    cap: float
    descent: float


def _face() -> Face:
    """B612 where it is installed, else the letters that Kivy brings. Heights measured with Pillow."""
    regular, bold = B612 / "B612-Regular.otf", B612 / "B612-Bold.otf"
    if regular.is_file() and bold.is_file():
        LabelBase.register("B612", str(regular), fn_bold=str(bold))
        return Face("B612", cap=0.76, descent=0.25)
    return Face("Roboto", cap=0.711, descent=0.22)


face = _face()

TYPE = {
    "strip": (3.4, 3.0, 2.6),
    "label": (4.5, 4.0, 3.5),
    "figure": (10.6, 9.4, 8.2, 7.0, 5.8),
    "words": (5.8, 5.0, 4.3, 3.6),
    "unit": (4.3,),
    "note": (3.8, 3.4, 3.0),
    "arc": (16.6, 15.0, 13.2, 11.4, 9.6),
    "key": (4.9, 4.2, 3.6),
    "title": (7.0, 6.0, 5.0),
    "hold": (5.8, 5.0),
    "stop": (10.6, 9.4, 8.2, 7.0),
    "text": (4.5, 4.0, 3.6),
    "ride": (22.0, 19.0, 17.2),
    "ride_label": (9.0, 8.0, 6.8, 5.6),
    "ride_unit": (6.0,),
    "ride_words": (11.0, 9.6, 8.2, 7.0),
    "ride_note": (8.0, 6.6, 5.4),
    "ride_key": (17.2, 14.0, 11.0, 9.0),
    "say": (5.6, 5.0, 4.5, 4.0, 3.6),
}
"""Em in millimetres on a 7 inch panel: a fixed set, the wanted size first, smaller ones for short room."""

_scale = 1.0


def use(panel: Panel) -> None:
    """Set the size of letters; before any layout is loaded."""
    global _scale  # noqa: PLW0603 - one panel for the life of the process
    _scale = panel.text
    ems.cache_clear()


def mm(length: float) -> int:
    """Whole pixels that are at least this many millimetres."""
    return math.ceil(exact_mm(length) - 1e-6)


@lru_cache(maxsize=64)
def ems(name: str) -> tuple[int, ...]:
    """Font sizes of a kind of text, in pixels, the wanted one first."""
    return tuple(max(6, round(exact_mm(size * _scale))) for size in TYPE[name])


def em(name: str) -> int:
    """The wanted font size of a kind of text, in pixels."""
    return ems(name)[0]


def smm(length: float) -> int:
    """Whole pixels of a length that goes with the letters: millimetres, larger where letters are larger."""
    return math.ceil(exact_mm(length * _scale) - 1e-6)


@lru_cache(maxsize=4096)
def width_of(text: str, size: int, bold: bool) -> int:  # noqa: FBT001
    """Pixels that a line of text takes."""
    return CoreLabel(font_size=size, font_name=face.name, bold=bold).get_extents(text)[0]


def fit(text: str, room: float, sizes: Sequence[int], *, bold: bool) -> tuple[int, str]:
    """The largest of some sizes at which text has room.

    Returns:
        The size and the text; the text is shortened, and says so by an ellipsis, only if it has no room at
        the smallest size.
    """
    for size in sizes:
        if width_of(text, size, bold) <= room:
            return size, text
    size, short = sizes[-1], text
    while short and width_of(short + "…", size, bold) > room:
        short = short[:-1]
    return size, short.rstrip() + "…" if short else ""


def wrap(text: str, room: float, size: int, *, bold: bool) -> tuple[str, ...]:
    """Break a text at its spaces (not at no-break spaces) into lines that have room."""
    lines: list[str] = []
    for word in text.split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_of(longer, size, bold) <= room:
            lines[-1] = longer
        else:
            lines.append(word)
    return tuple(lines)


@lru_cache(maxsize=1)
def hatching() -> Texture:
    """Slanted bars, white on nothing, to be repeated and coloured; 3.4 mm apart."""
    side = smm(3.4)
    bar = side * 0.28
    texture = Texture.create(size=(side, side), colorfmt="rgba")
    texture.wrap = "repeat"
    pixels = bytearray()
    for y in range(side):
        for x in range(side):
            away = min((x - y) % side, (y - x) % side) / math.sqrt(2)
            cover = min(1.0, max(0.0, bar / 2 - away + 0.5))
            pixels += bytes((255, 255, 255, round(255 * cover)))
    texture.blit_buffer(bytes(pixels), colorfmt="rgba", bufferfmt="ubyte")
    return texture


def hatch_coords(width: float, height: float) -> list[float]:
    """Texture coordinates that keep the bars at their size on a ground of this size."""
    side = hatching().width
    u, v = width / side, height / side
    return [0, 0, u, 0, u, v, 0, v]
