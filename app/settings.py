"""What a person chose for this handheld: kept in one small file, read at every start.

The file is ours alone and small, so it is written anew as a whole: beside the old one first, then in its
place. One that cannot be read changes nothing: the usual settings are worn and a sentence says so.
"""

from __future__ import annotations

import contextlib
import enum
import os
from typing import TYPE_CHECKING

import msgspec

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


class Settings(msgspec.Struct, frozen=True, forbid_unknown_fields=False):
    """Every choice with what stands until somebody chooses.

    Attributes:
        skin: see Skin.
        temperature, speed, pressure: units on the glass; files and recordings keep their own.
        panel: name of a profile of screens/panels.toml; empty = the one the command line names.
    """

    skin: Skin = Skin.DAY
    temperature: Temperature = Temperature.CELSIUS
    speed: Speed = Speed.KMH
    pressure: Pressure = Pressure.KPA
    panel: str = ""


class SettingsFile:
    """Reads and keeps them.

    Args:
        path: of the file; it need not be there.

    Attributes:
        trouble: why the file was not read or not written, in words; empty if it was.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self.trouble = ""
        self.now = self._read()

    def _read(self) -> Settings:
        try:
            return msgspec.json.decode(self._path.read_bytes(), type=Settings)
        except FileNotFoundError:
            pass
        except (OSError, msgspec.MsgspecError, UnicodeDecodeError) as error:
            self.trouble = f"The settings could not be read ({_why(error)}). The usual ones are worn."
        return Settings()

    def keep(self, settings: Settings) -> None:
        """Wear these from now on, also after the next start; ``trouble`` says if they were not written."""
        self.now = settings
        beside = self._path.with_name(self._path.name + ".new")
        try:
            self._path.parent.mkdir(parents=True, exist_ok=True)
            with beside.open("wb") as file:
                file.write(msgspec.json.format(msgspec.json.encode(settings)) + b"\n")
                file.flush()
                os.fsync(file.fileno())
            beside.replace(self._path)
            self.trouble = ""
        except OSError as error:
            self.trouble = f"The settings could not be kept ({_why(error)}). They hold until the tool is off."
            with contextlib.suppress(OSError):
                beside.unlink(missing_ok=True)


def _why(error: Exception) -> str:
    return str(getattr(error, "strerror", None) or error)


def next_of(choice: enum.StrEnum) -> enum.StrEnum:
    """The choice behind this one; behind the last comes the first."""
    every = list(type(choice))
    return every[(every.index(choice) + 1) % len(every)]
