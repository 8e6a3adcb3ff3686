"""What a tour works with: the display, the glass seen and touched from outside, the simulated craft."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import signal
import socket
import subprocess
import time
from typing import TYPE_CHECKING, Any

from app.errors import BoathookError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

PATIENCE_S = 20.0
"""For anything a tour waits for."""


def wait_for(condition: Callable[[], Any], otherwise: str | Callable[[], str]) -> Any:
    """The first true result of ``condition``.

    Raises:
        BoathookError: it did not come in time; ``otherwise`` is the sentence, or makes it then.
    """
    until = time.monotonic() + PATIENCE_S
    while not (result := condition()):
        if time.monotonic() > until:
            raise BoathookError(otherwise if isinstance(otherwise, str) else otherwise())
        time.sleep(0.05)
    return result


@contextlib.contextmanager
def display(width: int, height: int) -> Iterator[str]:
    """A display of exactly this size: always one of our own, so that nothing else is in the pictures."""
    if shutil.which("Xvfb") is None:
        raise BoathookError("The tour needs Xvfb. Install the package xvfb, or run deploy/try.")
    read, write = os.pipe()
    server = subprocess.Popen(
        ["Xvfb", "-displayfd", str(write), "-screen", "0", f"{width}x{height}x24", "-nolisten", "tcp"],
        pass_fds=[write],
        stderr=subprocess.DEVNULL,
    )
    os.close(write)
    try:
        with os.fdopen(read) as answer:
            number = answer.readline().strip()
        if not number:
            raise BoathookError("Xvfb did not start. Is its package whole?")
        yield f":{number}"
    finally:
        server.terminate()
        server.wait()


class Glass:
    """The kiosk's window from outside: pictures, touches, and what its event log says is shown."""

    def __init__(self, log: Path, display_name: str) -> None:
        self._log = log
        self._read = 0
        self._said: list[dict[str, Any]] = []
        self._touched = 0
        self._acted: str | None = None
        self._environment = dict(os.environ, DISPLAY=display_name)

    def shown(self) -> dict[str, Any]:
        """The page on the glass as it is said now, with its keys and tiles."""
        lines = self._screens()
        if lines:
            before = len(lines)
            with contextlib.suppress(ProcessLookupError):  # it may just be started again
                os.kill(lines[-1]["pid"], signal.SIGUSR1)
            until = time.monotonic() + 1.0
            while len(self._screens()) <= before and time.monotonic() < until:
                time.sleep(0.02)
        return lines[-1] if lines else {"screen": "", "keys": [], "tiles": []}

    def touches(self) -> int:
        """How many touches have ended so far, by the event log."""
        self._screens()
        return self._touched

    def _screens(self) -> list[dict[str, Any]]:
        with self._log.open(encoding="utf-8") as file:
            file.seek(self._read)
            while (line := file.readline()).endswith("\n"):  # the last may still be under way
                self._read = file.tell()
                said = json.loads(line)
                if "touch" in said:
                    self._touched += 1
                    self._acted = said["key"]
                if "screen" in said:
                    self._said.append(said)
        return self._said

    def grab(self, path: Path) -> None:
        """A picture of the whole display."""
        from PIL import ImageGrab  # noqa: PLC0415 - only the tour makes pictures; the kiosk must start quickly

        ImageGrab.grab(xdisplay=self._environment["DISPLAY"]).save(path)

    def tap(self, text: str) -> None:
        """Touch the key with this text as a finger would; again where the page changed under the finger."""

        def acted() -> bool:
            before = self.touches()
            self.touch_at(*self.middle(text))
            wait_for(lambda: self.touches() > before, "The touch did not reach the glass.")
            return self._acted == text

        wait_for(acted, f"The key {text!r} did nothing.")

    def touch_at(self, x: int, y: int, seconds: float = 0.08) -> None:
        """A finger comes down there, stays, and lifts."""
        self.hand("mousemove", str(x), str(y), "mousedown", "1", "sleep", str(seconds), "mouseup", "1")

    def press(self, text: str) -> None:
        """A finger comes down on the key with this text and stays there."""
        x, y = self.middle(text)
        self.hand("mousemove", str(x), str(y), "mousedown", "1")

    def lift(self) -> None:
        """The finger lifts."""
        self.hand("mouseup", "1")

    def middle(self, text: str) -> tuple[int, int]:
        """Where the key with this text is, in pixels from the top left; waits until there is one."""

        def find() -> list[int] | None:
            shown = self.shown()
            keys = (
                shown["keys"] if shown.get("settled") else []
            )  # a touch too soon after a page came is dropped
            return next((key["box"] for key in keys if key["text"] == text), None)

        x, y, width, height = wait_for(
            find, lambda: f"There is no key {text!r} on the glass, which shows {self.shown()['words']}."
        )
        return x + width // 2, y + height // 2

    def hand(self, *moves: str) -> str:
        """What a hand does at the window, in the words of xdotool; returns when it is done, what it said."""
        done = subprocess.run(
            ["xdotool", *moves], env=self._environment, check=True, stdout=subprocess.PIPE, text=True
        )
        return done.stdout.strip()

    def wait_for_screen(self, name: str) -> None:
        """Until a page is on the glass whose name begins so."""
        wait_for(
            lambda: self.shown()["screen"].startswith(name),
            f"The page {name!r} did not come on the glass.",
        )

    def wait_for_text(self, text: str, otherwise: str) -> None:
        """Until these words stand anywhere on the page."""
        wait_for(
            lambda: text.lower() in json.dumps(self.shown(), ensure_ascii=False).lower(),
            lambda: f"{otherwise} The glass shows {self.shown()['words']}.",
        )

    def tile(self, signal_name: str) -> dict[str, Any]:
        """One tile of the page; empty if it is not there."""
        return next((tile for tile in self.shown()["tiles"] if tile["signal"] == signal_name), {})

    def wait_for_tile(self, signal_name: str, state: str) -> None:
        """Until a value is shown in this state."""
        wait_for(
            lambda: self.tile(signal_name).get("state") == state, f"{signal_name} was never shown as {state}."
        )

    def wait_for_number(self, signal_name: str, above: float) -> None:
        """Until the figure of a tile is above a number."""

        def reached() -> bool:
            words = self.tile(signal_name).get("text", "").split()
            return bool(words) and words[0].isdigit() and float(words[0]) > above

        wait_for(reached, f"{signal_name} did not rise above {above}.")

    def pages(self) -> Iterator[str]:
        """Turn the pages of values one by one until the first comes again; yields each page's name."""
        first = self.shown()["screen"]
        while True:
            before = self.shown()["screen"]
            self.tap(self._next_key())
            wait_for(lambda: self.shown()["screen"] != before, "The page key did nothing.")  # noqa: B023
            if self.shown()["screen"] == first:
                return
            yield self.shown()["screen"]

    def next_page(self) -> None:
        """Touch the key that turns the page."""
        self.tap(self._next_key())

    def first_page(self) -> None:
        """Back to the six big values."""
        self.tap("Ride")
        self.wait_for_screen("ride")

    def _next_key(self) -> str:
        keys = [key["text"] for key in self.shown()["keys"]]
        return next(text for text in reversed(keys) if text.startswith(("Page", "Next")))


class Craft:
    """The simulated craft's control channel."""

    def __init__(self, path: Path) -> None:
        self._path = path
        wait_for(path.exists, "The simulated craft did not start.")

    def ask(self, **request: Any) -> dict[str, Any]:
        """One request, one answer.

        Raises:
            BoathookError: the craft did not understand.
        """
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as connection:
            connection.connect(str(self._path))
            connection.sendall((json.dumps(request) + "\n").encode())
            with connection.makefile() as lines:
                answer = json.loads(lines.readline())
        if "error" in answer:
            raise BoathookError(f"The simulated craft says: {answer['error']}")
        return dict(answer)

    def start_engine(self) -> None:
        """As a person does: press the start switch until it runs."""
        self.ask(do="start", pressed=True)
        wait_for(
            lambda: self.ask(do="state")["values"].get("EngineState") == "Running",
            "The engine did not start.",
        )
        self.ask(do="start", pressed=False)

    def stop_engine(self) -> None:
        """By its stop switch, until it stands."""
        self.ask(do="throttle", percent=0)
        self.ask(do="stop", pressed=True)
        wait_for(lambda: self.ask(do="state")["values"].get("EngineSpeed") == 0.0, "The engine did not stop.")
        self.ask(do="stop", pressed=False)

    @contextlib.contextmanager
    def held(self) -> Iterator[None]:
        """The physics stand still while the frames go on, long enough for the glass to show them."""
        self.ask(do="hold", on=True)
        time.sleep(
            0.8
        )  # the slowest page of the display comes every 0.4 s, the glass writes 5 times a second
        try:
            yield
        finally:
            self.ask(do="hold", on=False)


def compare(glass: Glass, craft: Craft) -> tuple[int, list[str]]:
    """Hold every figure on the glass against what the craft sends.

    Returns:
        How many were equal, and a sentence for each that was not. A figure on the glass is rounded, so it may
        differ by half of its last digit.
    """
    seen, wrong = 0, []
    sent = craft.ask(do="state")["values"]
    for tile in glass.shown()["tiles"]:
        value = sent.get(tile["signal"])
        words = tile["text"].split()
        if tile["state"] not in ("good", "watch", "alarm") or value is None or not words:
            continue
        if isinstance(value, str):
            right = value.lower() == tile["text"].lower()
        else:
            digits = len(words[0].partition(".")[2])
            right = abs(float(words[0]) - value) <= 0.5 * 10**-digits + 1e-9
        if right:
            seen += 1
        else:
            wrong.append(f"{tile['signal']} shows {tile['text']!r}, the craft sends {value!r}.")
    return seen, wrong
