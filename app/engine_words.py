"""What the engine does, in words for the strip."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.messages import LinkState
from app.show import age_words

if TYPE_CHECKING:
    from app.moment import Moment

RUNNING_ABOVE = 500.0
"""rev/min. Only where the controller does not say itself whether it runs: a starter turns an engine at some
150 to 300 rev/min, a personal watercraft idles above 1000 (common practice, no source)."""

_LINK = {
    LinkState.NO_ADAPTER: "No adapter",
    LinkState.NEED_RATE: "Bit rate needed",
    LinkState.SILENT: "Bus silent",
    LinkState.LISTENING: "Listening",
    LinkState.UNKNOWN_CRAFT: "Unknown craft",
    LinkState.FOUND: "Craft found",
}

_STATES = {
    "running": "Engine running",
    "cranking": "Engine cranking",
    "stopping": "Engine stopping",
    "stopped": "Engine stopped, key on",
}
"""Texts of a controller's own state signal, in lower case, and our words for them."""


def engine_words(moment: Moment) -> str:
    """Say what the engine does, or why that is not known. Never "stopped" unless its speed is known zero."""
    if moment.heard:
        return _engine(moment.text("engine_state"), moment.number("engine_speed"))
    return link_state_words(moment)


def link_state_words(moment: Moment) -> str:
    """The way to the craft in two or three words."""
    link = moment.link
    if link is None:
        return "Starting" if not moment.connected else "Listening"
    if not moment.live:
        assert moment.snapshot is not None
        return f"No live data {age_words(moment.now - moment.snapshot.at)}"
    if link.state is LinkState.LOST:
        heard = link.since if link.heard_at is None else link.heard_at
        return f"Craft lost {age_words(moment.now - heard)} ago"
    return _LINK[link.state]


def _engine(state: str | None, speed: float | None) -> str:
    said = None if state is None else _STATES.get(state.lower(), f"Engine: {state.lower()}")
    if speed is None:
        running = said == _STATES["running"]
        return "Engine running, speed unknown" if running else "Engine speed unknown"
    if said == _STATES["stopped"] and speed > 0:
        return "Engine turning"
    if said == _STATES["running"] and speed == 0:
        return "Engine state unclear"
    if said is not None:
        return said
    if speed == 0:
        return "Engine stopped, key on"
    return "Engine running" if speed > RUNNING_ABOVE else "Engine turning"
