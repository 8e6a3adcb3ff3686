"""Real boats' traffic through watch --from, every value against independent decodes of the same bytes.

Data: github.com/canboat/canboat, commit 01d0dc3d, (C) 2009-2026 Kees Verruijt, Apache License 2.0; the
expected values of log-a are by the PyPI package nmea2000 2026.10.3, the others the repository's own.
"""

import datetime as dt
import io
import json
from pathlib import Path

import pytest

from bus.family import load_families
from bus.watch_file import run


@pytest.fixture
def watch(write_candump):
    """Decode frames, or a file, through the command; gives its lines."""

    def call(frames):
        path = frames if isinstance(frames, Path) else write_candump(frames)
        families, errors = load_families()
        assert errors == []
        out = io.StringIO()
        assert run(path, families, None, as_json=True, out=out) == 0
        return [json.loads(line) for line in out.getvalue().splitlines()]

    return call


def test_half_a_minute_of_a_boat_under_way_is_decoded_to_the_last_value(
    nmea_data, raw_lines, watch, expected_readings, capsys
):
    raw = (nmea_data / "log-a-engine.raw").read_text().splitlines()
    lines = (nmea_data / "log-a-engine.expected.jsonl").read_text().splitlines()
    expected = [json.loads(line) for line in lines]
    assert len(raw) == len(expected) == 2816
    found = iter(watch(frame for line in raw for frame in raw_lines(line)))
    compared = missing = 0
    for line in expected:
        wanted = expected_readings(line["pgn"], line["fields"])
        readings = [next(found) for _ in wanted]
        when = dt.datetime.fromisoformat(line["t"]).timestamp()
        assert {(reading["t"], reading["source"]) for reading in readings} == {(when, line["src"])}
        assert {reading["signal"]: reading["value"] for reading in readings} == wanted
        for reading in readings:
            assert reading["quality"] == ("not_available" if reading["value"] is None else "good")
        compared += len(wanted)
        missing += sum(value is None for value in wanted.values())
    assert next(found, None) is None
    with capsys.disabled():
        print(f" [{compared} values compared, {missing} of them not available] ", end="")
    # Lines in the file × signals of the group: 127250, 127488, 127489, 127505, 128259, 129026, 130312.
    assert compared == 941 * 5 + 314 * 4 + 62 * 35 + 12 * 4 + 562 * 5 + 564 * 4 + 361 * 5 == 15_050
    assert missing == sum(value is None for line in expected for value in line["fields"].values()) == 5_929


def test_a_recording_of_fast_packets_gives_five_messages_and_tells_of_the_rest(nmea_data, watch, capsys):
    lines = watch(nmea_data / "fast-127489.candump")
    assert len(lines) == 5 * 35
    values = {}
    for line in lines:
        values.setdefault(line["t"], {})[line["signal"]] = line["value"]
    # By hand from the bytes, layout of PGN 127489: oil 06B7 and 077F …, hours 00095F10 and 0009C93C.
    assert [(when, each["OilPressure"], each["EngineHours"]) for when, each in values.items()] == [
        (0.355, 0x06B7 * 100, 0x00095F10),
        (0.454, 0x077F * 100, 0x0009C93C),
        (0.862, 0x06B7 * 100, 0x00095F10),
        (0.954, 0x077F * 100, 0x0009C93C),
        (1.407, 0x0640 * 100, 0x00095F10),
    ]
    first = values[0.355]
    assert (first["CoolantTemperature"], first["FuelRate"], first["EngineLoad"]) == (343.15, 3.8, None)
    assert "3 frames of known messages could not be decoded" in capsys.readouterr().err


def test_the_two_published_messages_of_127489_are_decoded_as_published(nmea_data, raw_lines, nmea):
    messages = (nmea_data / "repo-test-127489.in").read_text().splitlines()
    lines = (nmea_data / "repo-test-127489.json.txt").read_text().splitlines()
    published = [json.loads(line) for line in lines]
    bits = {"Over Temperature": "OverTemperature", "Low Oil Pressure": "LowOilPressure"}
    compared = 0
    for message, wanted in zip(messages, published, strict=True):
        decoder = nmea.decoder()
        readings = {each.signal: each for frame in raw_lines(message) for each in decoder.feed(frame)}
        values = {name: each.value for name, each in readings.items()}
        fields = wanted["fields"]
        # Published in bar, degrees Celsius, h:mm:ss and rounded; ours in Pa, K and s.
        assert values["OilPressure"] == pytest.approx(fields["Oil pressure"] * 1e5)
        assert values["CoolantTemperature"] - 273.15 == pytest.approx(fields["Temperature"], abs=0.005)
        assert values["AlternatorVoltage"] == fields["Alternator Potential"]
        hours, minutes, seconds = map(int, fields["Total Engine hours"].split(":"))
        assert values["EngineHours"] == hours * 3600 + minutes * 60 + seconds
        assert values["DynamicEngineInstance"] == fields["Instance"]
        oil = values["OilTemperature"]
        assert (oil is None) == ("Oil temperature" not in fields)
        if oil is not None:
            # 820.8 K are 547.65 °C; published with one decimal.
            assert oil - 273.15 == pytest.approx(fields["Oil temperature"], abs=0.0501)
        for ours, theirs, factor in (
            ("FuelRate", "Fuel Rate", 1),
            ("CoolantPressure", "Coolant Pressure", 1e5),
            ("FuelPressure", "Fuel Pressure", 1e5),
            ("EngineLoad", "Engine Load", 1),
            ("EngineTorque", "Engine Torque", 1),
        ):
            value = fields.get(theirs)
            assert values[ours] == (None if value is None else pytest.approx(value * factor))
        on = {name for name, value in values.items() if value == "On"}
        second = len(fields.get("Discrete Status 2", []))
        assert {bits[word] for word in fields["Discrete Status 1"]} <= on
        assert len(on) == len(fields["Discrete Status 1"]) + second
        assert second in (0, 8)
        compared += len(values)
    assert compared == 2 * 35


def test_every_published_sample_of_our_groups_is_decoded_as_published(
    nmea_data, raw_lines, nmea, expected_readings, capsys
):
    samples = json.loads((nmea_data / "repo-db-expects.json").read_text())
    known = [sample for sample in samples if sample["pgn"] != 127506]  # state of charge: none of our groups
    assert (len(samples), len(known)) == (26, 22)
    compared = 0
    for sample in known:
        decoder = nmea.decoder()
        readings = {each.signal: each for frame in raw_lines(sample["raw"]) for each in decoder.feed(frame)}
        wanted = expected_readings(sample["pgn"], sample["expects"])
        for name, value in wanted.items():
            reading = readings[name]
            if (name, value) == ("EngineSpeed", 785.8):
                value = 785.75  # published with one decimal: 0C47 = 3143 quarters  # noqa: PLW2901
            assert reading.value == value, (sample["raw"], name)
            assert (reading.value is None) == (reading.quality == "not_available")
            compared += 1
    with capsys.disabled():
        print(f" [{compared} values compared] ", end="")
    # 3 samples of each group but one of 127489, which says nothing of fuel and torque; one temperature of an
    # unnamed source has no page.
    assert compared == 3 * (5 + 4 + 4 + 5 + 5 + 4 + 5) - 2 + 31 == 125
