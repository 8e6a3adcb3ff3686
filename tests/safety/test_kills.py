"""Either process stopped or killed at any moment of a test that runs: the output ends within its bound, what
is finite stays finite, and journal and book tell what happened.

Both processes run under the tool's own supervisor; a hand at the wall (wall_hand.py) stands for the screen.
The simulated craft is the witness. The moments come from a seed that is printed.
"""

import dataclasses
import itertools
import json
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from processes import children_of, parent_of
from whole_tool import Whole

HERE = Path(__file__).parent
QUICK, MANY = 5, 200
TRIES, HOLD_S = 4, 6.0

SUPERVISOR = "import json, sys; from app.supervise import supervise; "
SUPERVISOR += "sys.exit(supervise(json.loads(sys.argv[1]), ends_all='hand'))"

BURST_S = 0.5
"""Design rule 4: a burst ends by itself."""
PERMIT_S = 0.3
"""Design rule 2: dead without a beat for so long."""
MARGIN_S = 2.0
"""The machine, and the simulated craft with it, may be slow."""
SHORT_S = 0.4
"""A shorter pause may pass unnoticed: then the finger still ends it."""
BACK_S, BACK_AT_ALL_S = 3.0, 15.0
"""Goal for a process to be back, told as a figure; and the bound here, as the machine does other things."""

STARTS = {
    "horn": "2fd12203",
    "fan": "2fd12103",
    "injector_1": "2fd10103",
    "injector_3": "2fd10303",
    "coil_1": "2fd11103",
}
"""What a start begins with (tests/safety/lists)."""
COUNTS = {"injector_1": (20, 0.2, 0.51), "injector_3": (20, 0.2, 0.51), "coil_1": (10, 0.25, 0.0)}
"""Pulses, seconds from one to the next, and cm³: 20 of 5 ms at 300 cm³/min are 0.5, and the rail may be a
little above its target."""


@dataclasses.dataclass
class Trial:
    """What is done, and when (CLOCK_MONOTONIC) it was.

    Attributes:
        output, hold_s: what the hand presses, and for how long.
        part: "bus" or "hand".
        pause_s: until SIGCONT; None = it is killed.
        after_s: from the order to the hand until then.
    """

    output: str
    hold_s: float
    part: str
    pause_s: float | None
    after_s: float
    craft: str = ""
    ordered: float = 0.0
    at: float = 0.0
    back_s: float | None = None

    @classmethod
    def any(cls, chance):
        output, hold_s = chance.choice(list(STARTS)), chance.uniform(0.5, 2.5)
        pauses = (None, None, chance.uniform(0.02, 0.3), chance.uniform(0.4, 2.0), chance.uniform(2.0, 7.0))
        return cls(
            output,
            hold_s,
            chance.choice(("bus", "hand")),
            chance.choices(pauses, (3, 3, 2, 3, 1))[0],
            chance.uniform(0.0, hold_s + 0.2),
        )

    @property
    def unnoticed(self):
        return self.pause_s is not None and self.pause_s < SHORT_S

    @property
    def latest_end(self):
        """By when the output must have ended at the craft, whatever its count says."""
        if self.unnoticed:
            return max(self.ordered + self.hold_s, self.at + self.pause_s) + BURST_S + MARGIN_S
        return self.at + (PERMIT_S if self.part == "hand" else 0.0) + BURST_S + MARGIN_S

    @property
    def latest_start(self):
        """After that no start may come any more."""
        if self.unnoticed:
            return self.ordered + self.hold_s + MARGIN_S
        return self.at + (PERMIT_S if self.part == "hand" else 0.0) + MARGIN_S / 2


class Kills:
    """The tool under its supervisor, and what is done to it."""

    def __init__(self, folder):
        self.whole = Whole(folder, with_bus=False)
        self.orders = folder / "orders"
        data = folder / "data"
        commands = {
            "bus": [sys.executable, "-m", "app", "bus", *self.whole.places, *self.whole.adapter],
            "hand": [
                sys.executable,
                str(HERE / "wall_hand.py"),
                str(folder / "run"),
                str(data),
                str(self.orders),
            ],
        }
        self.commands = {part: list(map(str, words)) for part, words in commands.items()}
        self.supervisor = self.whole.start("-c", SUPERVISOR, json.dumps(self.commands))
        self.serials = itertools.count(810_001)
        self.numbers = itertools.count(1)
        self.data = data

    def pid(self, part):
        begins = self.commands[part]
        children = children_of(self.supervisor.pid).items()
        return next((pid for pid, words in children if words[: len(begins)] == begins), None)

    def press(self, trial):
        """The hand begins to do what the trial says, on a craft without a past; returns whom it is about."""
        whole, serial = self.whole, next(self.serials)
        trial.craft = f"auk {serial}"
        whole.another_craft(serial)
        assert whole.until(lambda: self.named() == str(serial)), "the craft says its serial"
        whole.make_ready(trial.output)
        new = self.orders.with_suffix(".order")
        order = {"number": next(self.numbers), "output": trial.output, "seconds": trial.hold_s}
        new.write_text(json.dumps(order))
        pid = self.pid(trial.part)
        trial.ordered = time.monotonic()
        new.replace(self.orders)
        return pid

    def run(self, trial):
        whole, pid = self.whole, self.press(trial)
        whole.pause(trial.after_s)
        trial.at = time.monotonic()
        os.kill(pid, signal.SIGKILL if trial.pause_s is None else signal.SIGSTOP)
        if trial.pause_s is None:
            self.come_back(trial, pid)
        else:
            time.sleep(trial.pause_s)  # whoever is stopped answers nobody
            os.kill(pid, signal.SIGCONT)
        if trial.unnoticed:
            whole.pause(max(0.0, trial.ordered + trial.hold_s - time.monotonic()))
        whole.pause(SHORT_S)  # whatever the hand still wants has reached the bus process
        assert whole.until(lambda: not self.busy() and not self.untold(trial.craft), 20.0), whole.state

    def named(self):
        """Serial of the craft that the bus process hears now."""
        snapshot = self.whole.view.snapshot
        hears = snapshot is not None and self.whole.view.connected and snapshot.link.state == "found"
        return snapshot.craft.serial if hears and snapshot.craft is not None else None

    def busy(self):
        """The craft is not heard, or a press is said to be under way, or something is live at the craft."""
        state = self.whole.state
        under_way = state is not None and state.phase in ("starting", "live", "releasing")
        return self.named() is None or under_way or bool(self.whole.live())

    def untold(self, craft):
        """A press of this craft was charged, and the journal does not tell of its end."""
        kinds = [entry["kind"] for entry in self.journal(craft)]
        return kinds.count("output_start") > kinds.count("output_end")

    def come_back(self, trial, old):
        """Until the next one serves: a bus process that hears the craft, a hand that hears that process."""

        def serves():
            if self.pid(trial.part) in (None, old):
                return False
            if trial.part == "bus":
                return self.named() is not None
            heard = self.orders.with_suffix(".heard")
            return json.loads(heard.read_text())["pid"] == self.pid("hand")

        assert self.whole.until(serves, BACK_AT_ALL_S), f"the {trial.part} process is not back"
        trial.back_s = time.monotonic() - trial.at

    def journal(self, craft):
        lines = (self.data / "journal.jsonl").read_text().splitlines()
        return [entry for entry in map(json.loads, lines) if entry["body"].get("craft") == craft]

    def book(self, *words):
        done = subprocess.run(
            [sys.executable, "-m", "app", "book", *words, "--json", "--data", str(self.data)],
            capture_output=True,
            text=True,
            check=True,
        )
        return json.loads(done.stdout)


def check(kills, trial):
    """What must hold after every trial; returns whether the output was live when it happened."""
    whole = kills.whole
    runs = [run for run in whole.history(trial.ordered) if run["output"] == trial.output]
    starts = whole.ledger.requests(trial.ordered, bytes.fromhex(STARTS[trial.output]))
    assert all(at <= trial.latest_start for at in starts), "a start came after the end of the press"
    assert all(run["stop"] <= trial.latest_end or run["output"] in COUNTS for run in runs), runs
    if trial.output in COUNTS:
        count, every_s, cm3 = COUNTS[trial.output]
        assert len(starts) <= 1, "a finite request was made twice in one press"
        assert sum(run["pulses"] for run in runs) <= count
        assert sum(run["cm3"] for run in runs) <= cm3
        assert all(run["stop"] - run["start"] <= count * every_s + MARGIN_S for run in runs)
        released = trial.part == "hand"  # the bus process lives, and releases
        assert not released or all(run["stop"] <= trial.latest_end for run in runs), runs
    kinds = [entry["kind"] for entry in kills.journal(trial.craft)]
    if starts:
        assert "output_start" in kinds, "it was not charged before it was fired"
        ends = [entry["body"] for entry in kills.journal(trial.craft) if entry["kind"] == "output_end"]
        assert ends[-1]["fired"] is True
    assert whole.ledger.violations() == []
    return any(run["start"] <= trial.at <= run["stop"] for run in runs)


def live_press(kills, output):
    """A press under way of which the craft says that it is live; again where this machine stood still."""
    for _ in range(TRIES):
        trial = Trial(output, HOLD_S, "bus", None, 0.0)
        kills.press(trial)
        if kills.whole.until(lambda: kills.whole.live() == [output], HOLD_S / 2):
            return trial
        kills.whole.pause(HOLD_S)
    pytest.fail(f"{output} did not become live: {kills.whole.state}")


def in_book(kills, craft):
    return {one["entry"]["kind"] for one in kills.book("list", "--craft", craft)["entries"]}


def many(kills, count, seed):
    chance, live, back = random.Random(seed), 0, []
    for number in range(count):
        trial = Trial.any(chance)
        print(f"seed {seed}, {number}: {trial.output}, {trial.part}, pause {trial.pause_s}")
        kills.run(trial)
        live += check(kills, trial)
        back += [(trial.back_s, trial.part)] * (trial.back_s is not None)
        fired = kills.journal(trial.craft)
        if any(entry["kind"] == "output_end" and entry["body"]["fired"] for entry in fired):
            told = {"output_start", "output_end"}
            assert kills.whole.until(lambda: told <= in_book(kills, trial.craft), 20.0), trial  # noqa: B023
    for part in ("bus", "hand"):
        took = sorted(seconds for seconds, which in back if which == part)
        print(f"{part}: back after {[round(seconds, 2) for seconds in took]} s (goal {BACK_S:g} s)")
    print(f"{live} of {count} while the output was live")
    assert live >= count / 4, "too few were live to have shown anything"
    assert kills.book("verify")["sound"] is True


@pytest.fixture
def kills(tmp_path):
    made = Kills(tmp_path)
    yield made
    made.whole.close()


@pytest.mark.timeout(900)
def test_whichever_process_is_stopped_or_killed_the_output_ends_within_its_bound_and_is_told_of(kills):
    many(kills, QUICK, random.SystemRandom().randrange(10**6))


@pytest.mark.timeout(300)
@pytest.mark.parametrize("output", ["fan", "injector_1"])
def test_who_kills_what_starts_both_processes_ends_them_too_and_what_is_live_is_released(kills, output):
    trial = live_press(kills, output)
    parts = [kills.pid("bus"), kills.pid("hand")]
    trial.at = time.monotonic()
    kills.supervisor.kill()
    assert kills.whole.until(lambda: not any(map(parent_of, parts)), 10.0), (
        "a process goes on without the other"
    )
    assert kills.whole.live() == []
    [run] = [one for one in kills.whole.history(trial.ordered) if one["output"] == output]
    assert run["stop"] <= trial.at + PERMIT_S + MARGIN_S
    assert kills.whole.ledger.violations() == []
    assert "output_end" in [entry["kind"] for entry in kills.journal(trial.craft)]


@pytest.mark.slow
@pytest.mark.timeout(4 * 3600)
def test_the_same_many_times(kills):
    many(kills, MANY, random.SystemRandom().randrange(10**6))
