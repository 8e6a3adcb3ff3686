"""Runs the window. Kivy is imported only here, after the panel has been prepared."""

from __future__ import annotations

import signal
import sys
import time
import traceback
from typing import TYPE_CHECKING, Any

from app.errors import BoathookError
from screens import panel as panels
from screens.event_log import EventLog

if TYPE_CHECKING:
    from collections.abc import Callable, Collection
    from pathlib import Path

    from app.choices import Choices
    from app.keeper import BookKeeper
    from app.ports import CraftLink
    from app.settings import SettingsFile

WAKE_S = (0.1, 0.5, 1.5)
"""The first swap of the first client on a bare panel stays black until the next one, so a few are forced."""


def run(
    link: CraftLink,
    *,
    panel: str = "7-800x480",
    event_log: Path | None = None,
    fullscreen: bool = False,
    keeper: BookKeeper | None = None,
    choices: Choices | None = None,
    settings: SettingsFile | None = None,
    adapters: Callable[[], list[str]] = list,
    stop_keys: Collection[int] = (),
) -> int:
    """Open the window and stay until it is closed.

    Args:
        link: the way to the craft; closed at the end.
        panel: name of a profile in panels.toml.
        event_log: JSON lines of pages and touches are appended here.
        fullscreen: fill the display, hide the pointer.
        keeper: of the craft book; started once the first picture is made, stopped at the end.
        choices: what people chose to see; None keeps none.
        settings: what a person chose for this handheld; None keeps none.
        adapters: every adapter that is plugged in, in its own words.
        stop_keys: numbers of the keys that end whatever is armed or held, see app.stop_key.

    Returns:
        0 when the window was closed or SIGTERM came, 1 when something could not be drawn: then the process
        ends at once, so that it is started again instead of showing a frozen picture.

    Raises:
        BoathookError: unknown panel, no display, or the event log cannot be written.
    """
    profile = panels.find(panel)
    log = EventLog(event_log, time.monotonic)
    ending: list[int] = []
    asked: list[int] = []
    signal.signal(signal.SIGTERM, lambda number, _frame: ending.append(number))
    signal.signal(signal.SIGINT, lambda number, _frame: ending.append(number))
    signal.signal(signal.SIGUSR1, lambda number, _frame: asked.append(number))
    panels.prepare(profile, fullscreen=fullscreen)
    try:
        _loop(
            link,
            profile,
            log,
            ending,
            asked,
            keeper=keeper,
            choices=choices,
            settings=settings,
            adapters=adapters,
            stop_keys=stop_keys,
        )
    except BoathookError:
        raise
    except Exception as error:  # noqa: BLE001 - whatever it is, a wrong picture must not stay on the glass
        print(
            f"The picture could not be drawn ({error!r}). The screen process ends so that it is started "
            "again; the recording goes on.",
            file=sys.stderr,
        )
        traceback.print_exc()
        return 1
    finally:
        link.close()
        if keeper is not None:
            keeper.stop()
    return 0


def _loop(
    link: CraftLink,
    profile: panels.Panel,
    log: EventLog,
    ending: list[int],
    asked: list[int],
    *,
    keeper: BookKeeper | None,
    choices: Choices | None,
    settings: SettingsFile | None,
    adapters: Callable[[], list[str]],
    stop_keys: Collection[int],
) -> None:
    from kivy.base import runTouchApp, stopTouchApp  # noqa: PLC0415 - Kivy reads its environment once
    from kivy.clock import Clock  # noqa: PLC0415
    from kivy.core.window import Window  # noqa: PLC0415

    if Window is None:
        raise BoathookError(
            "No display could be opened. In a desktop DISPLAY must be set; straight on a panel this user "
            "must be in the groups video, render and input."
        )
    from screens import theme, window  # noqa: PLC0415

    theme.use(profile)
    from screens.glass import TICKS_PER_S, Glass  # noqa: PLC0415

    Window.clearcolor = theme.paints.paper
    theme.paints.bind(paper=lambda _paints, paper: setattr(Window, "clearcolor", paper))
    Window.set_title("Boathook")
    glass = Glass(
        link,
        log,
        time.monotonic,
        keeper=keeper,
        choices=choices,
        settings=settings,
        adapters=adapters,
        listed=window.listed,
    )

    def tick(dt: float) -> Any:
        if ending:
            stopTouchApp()
            return
        if asked:
            asked.clear()
            glass.say()
        glass.tick(dt)

    tick(0.0)
    if keeper is not None:
        keeper.start()
    Clock.schedule_interval(glass.sample, 0)
    Clock.schedule_interval(tick, 1 / TICKS_PER_S)
    window.watch(Window, glass, stop_keys)
    for seconds in WAKE_S:
        Clock.schedule_once(lambda _dt: Window.canvas.ask_update(), seconds)
    runTouchApp(glass)
