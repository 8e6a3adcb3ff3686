"""Recordings of real boats through the kiosk: what stands on the glass at their end is their last value.

Source of the recordings and expected values: the CANboat repository, commit 01d0dc3d (Apache-2.0); see the
SOURCE.txt beside the data. They are read from a folder beside the checkout and skipped where it is absent.
"""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from app.units import TURNED

pytestmark = pytest.mark.glass

DATA = next(
    (
        parent / "shared" / "data" / "nmea2000"
        for parent in Path(__file__).resolve().parents
        if (parent / "shared" / "data" / "nmea2000").is_dir()
    ),
    None,
)
needs_data = pytest.mark.skipif(DATA is None, reason="the recordings of boats are not beside this checkout")


def last_values(path):
    """The newest value of every signal by watch --from, which the oracles hold against the expected files."""
    done = subprocess.run(
        [sys.executable, "-m", "app", "watch", "--from", path, "--json"],
        capture_output=True,
        text=True,
        check=True,
    )
    return {line["signal"]: line for line in map(json.loads, done.stdout.splitlines())}


@needs_data
def test_a_recording_played_in_the_kiosk_shows_its_values_and_says_replay(kiosk):
    path = DATA / "fast-127489.candump"
    wanted = last_values(path)
    kiosk.start("replay", path, "--event-log", kiosk.log, *kiosk.places)
    kiosk.glass.wait_for_tile("CoolantTemperature", "stale")  # the recording has ended
    kiosk.glass.wait_for_text("REPLAY", "the glass does not say REPLAY")
    shown = {tile["signal"]: tile for tile in kiosk.glass.shown()["tiles"]}
    for _ in kiosk.glass.pages():
        shown |= {tile["signal"]: tile for tile in kiosk.glass.shown()["tiles"]}
    compared = []
    for signal, tile in shown.items():
        line = wanted.get(signal)
        if line is None or not tile["note"].startswith("was "):
            continue
        words = tile["note"].removeprefix("was ")
        if isinstance(line["value"], str):
            assert words == line["value"]
        else:
            turned = TURNED.get(line["unit"])
            value = line["value"] if turned is None else line["value"] * turned.factor + turned.offset
            figure = words.split()[0]
            assert abs(float(figure) - value) <= 0.5 * 10 ** -len(figure.partition(".")[2]) + 1e-9, signal
        compared.append(signal)
    print(f"{len(compared)} last values compared: {compared}")
    assert {"CoolantTemperature", "OilPressure", "FuelRate", "EngineHours"} <= set(compared)
    not_sent = [signal for signal, tile in shown.items() if wanted.get(signal, {}).get("value", 0) is None]
    assert not_sent
    assert not any(shown[signal]["note"].startswith("was ") for signal in not_sent)
