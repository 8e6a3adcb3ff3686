"""What stands on the keys of the settings."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.settings import Place, Pressure, Skin, Speed, Temperature

if TYPE_CHECKING:
    import enum
    from collections.abc import Mapping

NOTE = "A touch goes on to the next. Panel and adapter: from the next start on."

KINDS: Mapping[type[enum.StrEnum], str] = {
    Skin: "Colours",
    Temperature: "Heat",
    Speed: "Craft speed",
    Pressure: "Pressure",
    Place: "Used",
}


def choice_words(choice: enum.StrEnum) -> str:
    """Two lines: what is chosen, and what stands."""
    return f"{KINDS[type(choice)]}:\n{choice.value}"


def panel_words(name: str) -> str:
    """The same of the panel; empty = the one the tool was started with."""
    return f"Panel:\n{name or 'as started'}"


SHORT = 14
"""Letters of an adapter's name that have room on its key; its end tells it from others."""


def adapter_words(words: str) -> str:
    """The same of the adapter, by the end of its name; empty = whatever is plugged in."""
    name = words.rpartition("/")[2].rpartition(" ")[2] or "any plugged in"
    return f"Adapter:\n{name if len(name) <= SHORT else '…' + name[-SHORT + 1 :]}"
