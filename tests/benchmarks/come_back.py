"""How soon a killed process of the kiosk is back: seconds from SIGKILL, under the tool's own supervisor.

    .venv/bin/python tests/benchmarks/come_back.py [--events N]

The bus process: until it runs again, until the wall answers, until the craft is named with its serial. The
hand that stands for the screen (no window): until it has heard the bus process. The goal is 3 s. The machine
may be shared: quote the load average.
"""

import argparse
import os
import signal
import statistics
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parents[1] / "safety"))

from test_kills import Kills, Trial

LONG_LIFE_S = 3.5
"""One that lives shorter is started again after a pause."""


def bus(kills):
    """Seconds until each of the three."""
    whole, pid = kills.whole, kills.pid("bus")
    at = time.monotonic()
    os.kill(pid, signal.SIGKILL)
    steps = []
    for step in (
        lambda: kills.pid("bus") not in (None, pid),
        lambda: whole.view.connected and whole.view.snapshot.at > at,
        lambda: kills.named() is not None,
    ):
        assert whole.until(step, 30.0)
        steps.append(time.monotonic() - at)
    return steps


def hand(kills):
    trial = Trial("horn", 0.0, "hand", None, 0.0, at=time.monotonic())
    pid = kills.pid("hand")
    os.kill(pid, signal.SIGKILL)
    kills.come_back(trial, pid)
    return [trial.back_s]


def main():
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--events", type=int, default=10)
    events = parser.parse_args().events
    print(f"before: load average {os.getloadavg()}")
    with tempfile.TemporaryDirectory() as folder:
        kills = Kills(Path(folder))
        try:
            assert kills.whole.until(lambda: kills.named() is not None)
            for name, kill in (("bus", bus), ("hand", hand)):
                rows = []
                for _ in range(events):
                    kills.whole.pause(LONG_LIFE_S)
                    rows.append(kill(kills))
                for column in zip(*rows, strict=True):
                    print(f"{name}: median {statistics.median(column):.2f}, longest {max(column):.2f} s")
        finally:
            kills.whole.close()
    print(f"after: load average {os.getloadavg()}")


if __name__ == "__main__":
    main()
