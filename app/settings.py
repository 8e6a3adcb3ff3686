"""What a person chose for this handheld: kept in one small file, read at every start.

A file that cannot be read changes nothing: the usual settings are worn and a sentence says so.
"""

from __future__ import annotations

import enum
from typing import TYPE_CHECKING

import msgspec

from app.small_file import write_whole

if TYPE_CHECKING:
    from pathlib import Path


class Skin(enum.StrEnum):
    """Which colours the glass wears."""

    DAY = "day"
    NIGHT = "night"


class Temperature(enum.StrEnum):
    """Unit of temperatures, as the glass names it."""

    CELSIUS = "°C"
    FAHRENHEIT = "°F"


class Speed(enum.StrEnum):
    """Unit of the craft's speed."""

    KMH = "km/h"
    MPH = "mph"
    KNOTS = "knots"


class Pressure(enum.StrEnum):
    """Unit of pressures."""

    KPA = "kPa"
    PSI = "psi"
    BAR = "bar"


class Place(enum.StrEnum):
    """Where this handheld is used; on the handlebar the glass goes into ride mode by itself."""

    HAND = "in the hand"
    HANDLEBAR = "on the handlebar"


class Settings(msgspec.Struct, frozen=True, forbid_unknown_fields=False):
    """Every choice with what stands until somebody chooses.

    Attributes:
        skin: see Skin.
        temperature, speed, pressure: units on the glass; files and recordings keep their own.
        place: see Place.
        adapter: in its own words, for example "slcan on /dev/ttyACM0"; empty = whatever is plugged in.
        panel: name of a profile of screens/panels.toml; empty = the one the command line names.
    """

    skin: Skin = Skin.DAY
    temperature: Temperature = Temperature.CELSIUS
    speed: Speed = Speed.KMH
    pressure: Pressure = Pressure.KPA
    place: Place = Place.HAND
    panel: str = ""
    adapter: str = ""


class SettingsFile:
    """Reads and keeps them.

    Args:
        path: of the file; it need not be there. None keeps nothing beyond this process.

    Attributes:
        trouble: why the file was not read or not written, in words; empty if it was.
    """

    def __init__(self, path: Path | None) -> None:
        self._path = path
        self.trouble = ""
        self.now = self._read()

    def _read(self) -> Settings:
        if self._path is None:
            return Settings()
        try:
            return msgspec.json.decode(self._path.read_bytes(), type=Settings)
        except FileNotFoundError:
            pass
        except (OSError, msgspec.MsgspecError, UnicodeDecodeError) as error:
            self.trouble = f"The settings could not be read ({error}). The usual ones are worn."
        return Settings()

    def keep(self, settings: Settings) -> None:
        """Wear these from now on, also after the next start; ``trouble`` says if they were not written."""
        self.now = settings
        if self._path is None:
            return
        text = msgspec.json.format(msgspec.json.encode(settings)) + b"\n"
        why = write_whole(self._path, text)
        self.trouble = (
            f"The settings could not be kept ({why}). They hold until the tool is off." if why else ""
        )


def next_of(choice: enum.StrEnum) -> enum.StrEnum:
    """The choice behind this one; behind the last comes the first."""
    every = list(type(choice))
    return every[(every.index(choice) + 1) % len(every)]
