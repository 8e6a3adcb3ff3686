"""What a page may set in motion; the glass hands it in."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from app.alarms import Alarm
    from app.bench import Bench
    from app.keeper import BookKeeper
    from app.messages import FromScreen
    from app.operators import Operator
    from app.riding import Riding
    from app.settings import Settings, SettingsFile
    from app.trailer import Trailer


@dataclasses.dataclass(frozen=True)
class Actions:
    """Callbacks, all of the one thread that draws.

    Attributes:
        turn: turn the pages of the Ride lane by so many.
        set_rate: tell the bit rate a person named (bit/s, None = look for it).
        open: open a page of the lane that is open, by the name screens.pages makes it by.
        ask: send a request to the bus side.
        sign_in: somebody works with the tool now; None = nobody.
        bench: the chosen output.
        clock: seconds on CLOCK_MONOTONIC.
        settings: what a person chose for this handheld.
        wear: keep other settings and show them at once.
        riding: ride mode, as it is.
        mark: mark the moment a finger came down (seconds on CLOCK_MONOTONIC).
        seen: somebody saw this alarm.
        trailer: seconds run out of the water.
        adapters: every adapter that is plugged in, in its own words.
        keeper: of the craft book; None where none is kept.
    """

    turn: Callable[[int], None]
    set_rate: Callable[[int | None], None]
    open: Callable[[str], None]
    ask: Callable[[FromScreen], None]
    sign_in: Callable[[Operator | None], None]
    bench: Bench
    clock: Callable[[], float]
    settings: SettingsFile
    wear: Callable[[Settings], None]
    riding: Riding
    mark: Callable[[float], None]
    seen: Callable[[Alarm], None]
    trailer: Trailer
    adapters: Callable[[], list[str]]
    keeper: BookKeeper | None = None
