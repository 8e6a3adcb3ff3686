"""Recordings of real boats through the kiosk: what stands on the glass at their end is their last value.

Source of the recordings and expected values: the CANboat repository, commit 01d0dc3d (Apache-2.0); see the
SOURCE.txt beside the data. That watch --from decodes them to the expected values, one by one, is checked in
tests/oracles; here the same values must come through the gate, the hub and the wall.
"""

import json
import subprocess
import sys
from collections import defaultdict

import pytest

from app.units import TURNED

pytestmark = pytest.mark.glass


def last_values(path):
    """The newest value of every signal by watch --from, which the oracles hold against the expected files."""
    done = subprocess.run(
        [sys.executable, "-m", "app", "watch", "--from", path, "--json"],
        capture_output=True,
        text=True,
        check=True,
    )
    return {line["signal"]: line for line in map(json.loads, done.stdout.splitlines())}


def test_a_recording_played_in_the_kiosk_shows_its_values_and_says_replay(kiosk, nmea_data):
    path = nmea_data / "fast-127489.candump"
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


def test_half_a_minute_of_a_boat_comes_through_replay_value_for_value(
    kiosk, nmea_data, raw_lines, write_candump
):
    lines = (nmea_data / "log-a-engine.raw").read_text().splitlines()
    path = write_candump([frame for line in lines for frame in raw_lines(line)])
    decoded = subprocess.run(
        [sys.executable, "-m", "app", "watch", "--from", path, "--json"],
        capture_output=True,
        text=True,
        check=True,
    )
    wanted = defaultdict(set)
    last = {}
    for line in map(json.loads, decoded.stdout.splitlines()):
        wanted[line["signal"], line["source"]].add((line["value"], line["unit"], line["quality"]))
        last[line["signal"], line["source"]] = line["value"]
    kiosk.start("replay", path, "--speed", "4", "--event-log", kiosk.log, *kiosk.places)
    kiosk.glass.wait_for_tile("EngineSpeed", "good")
    live = kiosk.run("watch", "--json", "--seconds", "9", *kiosk.places)
    compared, final = 0, {}
    for line in map(json.loads, live.stdout.splitlines()):
        key = line["signal"], line["source"]
        final[key] = line["value"]
        if line["quality"] != "stale":
            assert (line["value"], line["unit"], line["quality"]) in wanted[key], line
            compared += 1
    print(f"{compared} live values of {len(final)} signals compared")
    assert compared > 500
    assert len(final) > 40
    assert final["EngineSpeed", 16] == last["EngineSpeed", 16]
