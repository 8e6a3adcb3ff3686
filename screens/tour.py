"""A tour of every screen: the real kiosk in a real window, touched from outside, beside a simulated craft.

Leaves numbered pictures and one line each in ``tour.txt``. On live pages the craft stands still for a moment,
and every value on the glass is compared with what the craft says it sends; a difference fails the tour.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.errors import BoathookError
from screens import panel as panels
from screens import tour_jobs, tour_more
from screens.tour_parts import Craft, Glass, compare, display

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator


class Tour:
    """Pictures as they are made.

    Attributes:
        compared: values read off live pages and found equal to what the craft sends.
        wrong: sentences about those that were not.
    """

    def __init__(self, folder: Path, glass: Glass) -> None:
        self._folder = folder
        self._glass = glass
        self._lines: list[str] = []
        self.compared = 0
        self.wrong: list[str] = []

    def picture(self, name: str, line: str) -> None:
        """Keep what is on the glass now, with one line about it."""
        number = len(self._lines) + 1
        file = f"{number:02d}-{name}.png"
        self._glass.grab(self._folder / file)
        self._lines.append(f"{file}  {line}")
        (self._folder / "tour.txt").write_text("\n".join(self._lines) + "\n", encoding="utf-8")
        print(self._lines[-1], flush=True)

    def live(self, name: str, line: str, craft: Craft) -> None:
        """The same for a page of live values, compared with the craft's own while it stands still."""
        with craft.held():
            seen, wrong = compare(self._glass, craft)
            self.picture(name, line)
        self.compared += seen
        self.wrong += [f"{name}: {sentence}" for sentence in wrong]


def run(folder: Path, panel: str, command: Callable[..., list[str]]) -> int:
    """Make the tour.

    Args:
        folder: where the pictures go; made if need be.
        panel: profile of screens/panels.toml.
        command: builds a command line of this program from its arguments.

    Returns:
        0 if every page was reached and every compared value was right, else 1.

    Raises:
        BoathookError: something the tour needs is not installed.
    """
    if shutil.which("xdotool") is None:
        raise BoathookError("The tour needs xdotool. Install the package xdotool, or run deploy/try.")
    profile = panels.find(panel)
    folder.mkdir(parents=True, exist_ok=True)
    with (
        tempfile.TemporaryDirectory(prefix="boathook-") as scratch,
        display(profile.width, profile.height) as name,
        _processes(Path(scratch), panel, command, name) as (start, log),
    ):
        glass = Glass(log, name)
        tour = Tour(folder, glass)
        _dock_and_ride(tour, glass, start, Path(scratch))
    for sentence in tour.wrong:
        print(sentence, file=sys.stderr)
    print(f"{tour.compared} values on the glass equal what the craft sends; {len(tour.wrong)} do not.")
    return 1 if tour.wrong or tour.compared == 0 else 0


@contextlib.contextmanager
def _processes(
    scratch: Path, panel: str, command: Callable[..., list[str]], display_name: str
) -> Iterator[tuple[Callable[[str], subprocess.Popen[bytes]], Path]]:
    """The two halves of the kiosk, and a way to start a craft; everything is ended at the end."""
    log = scratch / "events.jsonl"
    log.touch()
    environment = dict(os.environ, DISPLAY=display_name)
    started: list[subprocess.Popen[bytes]] = []

    def start(*arguments: Any) -> subprocess.Popen[bytes]:
        with (scratch / "output.txt").open("ab") as output:
            child = subprocess.Popen(
                command(*arguments), env=environment, stdout=output, stderr=subprocess.STDOUT
            )
        started.append(child)
        return child

    places = ("--run", scratch / "run", "--data", scratch / "data")
    try:
        start("bus", *places, "--interface", "slcan", "--channel", scratch / "craft")
        start("screen", *places, "--panel", panel, "--event-log", log)
        yield (
            (
                lambda scenario: start(
                    "simulate",
                    *("--scenario", scenario, "--channel", scratch / "craft"),
                    *("--control", scratch / "control"),
                )
            ),
            log,
        )
    except BoathookError as error:
        told = (scratch / "output.txt").read_text(errors="replace").strip()
        raise BoathookError(f"{error} The processes said: {told or 'nothing'}") from error
    finally:
        for child in reversed(started):
            child.terminate()
        for child in started:
            with contextlib.suppress(subprocess.TimeoutExpired):
                child.wait(5)
            if child.poll() is None:
                child.kill()
                child.wait()


def _dock_and_ride(
    tour: Tour, glass: Glass, start: Callable[[str], subprocess.Popen[bytes]], scratch: Path
) -> None:
    """From nothing plugged in to a lost craft, touching every page on the way."""
    glass.wait_for_screen("ride/no_adapter")
    tour.picture("no-adapter", "Nothing is plugged in: what is missing, and what to do.")
    process = start("plugged_in")
    craft = Craft(scratch / "control")
    glass.wait_for_screen("ride/silent")
    tour.picture("key-off", "The adapter is there, the bus is silent.")
    craft.ask(do="key", on=True)
    glass.wait_for_tile("EngineSpeed", "good")
    tour.live("dock", "The key is on: the values are there without a touch.", craft)
    craft.start_engine()
    craft.ask(do="throttle", percent=35)
    glass.wait_for_number("EngineSpeed", above=2500)
    tour.live("ride", "Under way.", craft)
    for number, page in enumerate(glass.pages(), start=2):
        tour.live(f"values-{number}", f"Values, {page}.", craft)
    tour_more.beside(tour.picture, glass, craft)
    tour_more.ride(tour.picture, glass, craft)
    glass.wait_for_number("EngineSpeed", above=2500)
    craft.ask(do="plant", signal="ExhaustTemperature", kind="value", value=84.0)
    craft.ask(do="plant", signal="CoolantTemperature", kind="value", value=104.0)
    craft.ask(do="plant", signal="OilPressure", kind="error")
    craft.ask(do="plant", signal="CraftSpeed", kind="not_available")
    glass.wait_for_tile("CoolantTemperature", "alarm")
    glass.wait_for_tile("OilPressure", "error")
    tour.live("limits", "A watch, an alarm, a sensor that says fault, a value that is not sent.", craft)
    craft.ask(do="mend")
    craft.stop_engine()
    jobs = (
        ("check", tour_jobs.check_before_hire),
        ("faults", tour_jobs.faults),
        ("injector", tour_jobs.injector),
    )
    for job, do in jobs:
        print(tour_jobs.check(job, do(tour.picture, glass, craft)), flush=True)
    tour_more.crank(tour.picture, glass, craft)
    tour_jobs.book(tour.picture, glass)
    tour_more.trailer(tour.picture, glass, craft)
    tour_more.alarm(tour.picture, glass, craft)
    glass.tap("Check")
    glass.wait_for_screen("check/faults")
    glass.tap("Connection")
    glass.wait_for_screen("check/connection")
    tour.picture("connection", "The way to the craft, for who wants to know.")
    glass.tap("Ride")
    process.terminate()
    process.wait()
    glass.wait_for_tile("EngineSpeed", "stale")
    time.sleep(1.0)  # so that the picture shows an age of a second or more
    tour.picture("lost", "The craft is heard no more: every value is old and looks it.")
