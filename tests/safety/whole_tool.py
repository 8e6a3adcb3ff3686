"""The bus process as it is started, beside a simulated craft on a pseudo-terminal; no window.

Requests are made over the wall, as the screen makes them. The craft's ledger is the witness: it has the time
(CLOCK_MONOTONIC) of every frame that came and of every output that began or ended.
"""

import contextlib
import json
import os
import subprocess
import sys
import time

from processes import end_all

from app.messages import LinkState
from app.output_messages import Beat, Confirm, Consider, Lift, Press, ReadFaults, SignIn
from bus.client import WallClient
from bus.facts import PROMISES
from simulator.control import Control

TICK_S = 0.05
"""Between two looks of a screen at the wall, and between two beats of a finger."""

AWAY_S = 0.6
"""A finger must have been away for half a second before it counts as another press."""

LOOK_S = 0.002
PATIENCE_S = 60.0


class Ledger:
    """Follows the file in which the craft writes down what came."""

    def __init__(self, path):
        self._path = path
        self._read = 0
        self.entries = []

    def look(self):
        """Whole lines only."""
        with contextlib.suppress(FileNotFoundError), self._path.open("rb") as file:
            file.seek(self._read)
            while (line := file.readline()).endswith(b"\n"):
                self._read = file.tell()
                self.entries.append(json.loads(line))
        return self.entries

    def requests(self, since, pdu):
        """Times since then at which frames that begin a request with these bytes came to the craft."""
        return [
            entry["t"]
            for entry in self.look()
            if entry["what"] == "frame"
            and entry["t"] >= since
            and bytes.fromhex(entry["data"])[1:].startswith(pdu)
        ]

    def violations(self):
        return [entry for entry in self.look() if "violation" in entry]


class Whole:
    """Craft and bus process, and a technician who touches what the needs ask for.

    Attributes:
        craft: its control socket.
        ledger: see Ledger.
        client: of the wall; None of it holds a press unless ``press`` was called.
    """

    def __init__(self, folder, *, with_bus=True):
        self.folder = folder
        self.channel = folder / "craft"
        self.places = ["--run", str(folder / "run"), "--data", str(folder / "data")]
        self.adapter = ["--interface", "slcan", "--channel", str(self.channel)]
        self.started = []
        (folder / "run").mkdir(mode=0o700)
        self.start("-m", "app", "simulate", "--channel", self.channel, "--control", folder / "control",
                   "--ledger", folder / "ledger")  # fmt: skip
        self.craft = Control(folder / "control", wait_s=30.0)
        self.ledger = Ledger(folder / "ledger")
        if with_bus:
            self.start("-m", "app", "bus", *self.places, *self.adapter)
        self.client = WallClient(folder / "run" / "wall")
        self.view = self.client.poll()
        self.pressed = None
        self._tick_at = self._beat_at = 0.0

    def start(self, *words, **environment):
        with (self.folder / "output.txt").open("ab") as output:
            child = subprocess.Popen(
                [sys.executable, *map(str, words)],
                env=os.environ | environment,
                stdout=output,
                stderr=output,
            )
        self.started.append(child)
        return child

    def close(self):
        self.client.close()
        end_all(self.started)
        self.craft.close()

    def deed(self, **request):
        answer = self.craft.ask(**request)
        assert "error" not in answer, answer
        return answer

    def look(self):
        """What a screen does 20 times a second."""
        now = time.monotonic()
        if now - self._tick_at >= TICK_S:
            self._tick_at = now
            self.view = self.client.poll()
        if self.pressed is not None and now - self._beat_at >= TICK_S:
            self._beat_at = now
            self.client.ask(Beat(self.pressed, now))
        return self.view

    def until(self, condition, seconds=PATIENCE_S):
        """Whether it came to that."""
        end = time.monotonic() + seconds
        while not condition():
            if time.monotonic() > end:
                return False
            self.look()
            time.sleep(LOOK_S)
        return True

    def pause(self, seconds):
        end = time.monotonic() + seconds
        self.until(lambda: time.monotonic() >= end, seconds + 1.0)

    @property
    def state(self):
        """What the bus process says of the output that is looked at, None if nothing."""
        snapshot = self.view.snapshot
        if not self.view.connected or snapshot is None or snapshot.link.state is not LinkState.FOUND:
            return None
        return snapshot.output

    def live(self):
        return [one["output"] for one in self.deed(do="outputs")["live"]]

    def history(self, since):
        """Runs of outputs at the craft that began since then."""
        said = self.deed(do="outputs")
        return [one for one in said["history"] if one["start"] >= since]

    def another_craft(self, serial):
        """What was fired on one craft keeps it venting for minutes; one of another serial has no past."""
        self.deed(do="serial", value=serial)
        self.deed(do="part", part="battery", value=0.9)

    def make_ready(self, output):
        """Mend whatever this output lacks, as a person would, until nothing is missing."""
        self.client.ask(SignIn("Mara", "technician"))
        self.client.ask(Consider(output))
        mended = {}
        asked = [time.monotonic()]

        def ready():
            state, now = self.state, time.monotonic()
            if state is not None and state.phase == "not_confirmed" and now - mended.get("", 0.0) > 4.0:
                mended[""] = now
                self.client.ask(ReadFaults())  # stays on the glass, whatever is looked at, until that is done
            if now - asked[0] > 0.5 and (state is None or state.output != output):
                asked[0] = now
                self.client.ask(SignIn("Mara", "technician"))  # another bus process knows nobody
                self.client.ask(Consider(output))
            if state is None or state.output != output:
                return False
            for need in (need for need in state.needs if need.holds is not True):
                if now - mended.get(need.need, 0.0) > MEND_AGAIN_S.get(need.need, 0.3):
                    mended[need.need] = now
                    self._mend(need, now)
            return state.ready

        assert self.until(ready), f"{output} did not get ready: {self.state}"

    def _mend(self, need, now):
        match need.need:
            case "outputs_free" if "read again" in need.do:  # it is locked
                self.client.ask(ReadFaults())
            case "lanyard_proved":
                self.deed(do="lanyard", pulled=True)
                self.pause(0.4)
                self.deed(do="lanyard", pulled=False)
            case "speed_proved":
                self.deed(do="spin", rev=900.0, seconds=1.0)
            case "role":
                self.client.ask(SignIn("Mara", "technician"))
            case _ if need.need in PROMISES:
                self.client.ask(Confirm(need.need, now))

    def press(self, output, seconds=3.0):
        """A finger that was away comes down; whether the bus process says then that the output is live."""
        self.pause(max(0.0, self._beat_at + AWAY_S - time.monotonic()))
        now = time.monotonic()
        self.pressed = int(now * 1000)
        self.client.ask(Press(output, self.pressed, now))
        self.until(lambda: self._phase() in ("live", "refused", "ended", "not_confirmed"), seconds)
        return self._phase() == "live"

    def _phase(self):
        state = self.state
        return state.phase if state is not None and state.press == self.pressed else None

    def lift(self, cause="The finger was lifted."):
        if self.pressed is not None:
            self._beat_at = time.monotonic()
            self.client.ask(Lift(self.pressed, cause))
        self.pressed = None


MEND_AGAIN_S = {"lanyard_proved": 2.0, "speed_proved": 3.0, "outputs_free": 4.0}
