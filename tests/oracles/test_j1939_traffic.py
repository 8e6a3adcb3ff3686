"""A real engine's traffic on SAE J1939, value for value against the expected output of its own repository.

Data: github.com/canboat/canboat, commit 01d0dc3d, analyzer/tests/j1939-pgn-test.in, (C) 2009-2026 Kees
Verruijt, Apache License 2.0. What that output gets wrong stands in shared/reference/standards.md 5.3: it
prints torque bytes raw, without the offset and without "not available".
"""

import collections
import re

import pytest

from app.reading import Quality
from bus.dm import decode
from bus.family import SHIPPED, load_families, load_family
from bus.recognise import Recogniser
from bus.recording import RecordingReader

J1939 = load_family(SHIPPED / "j1939")
LINE = re.compile(r"\S+ \d +\d+ +\d+ +(\d+) [^:]*:  (.*)")
TORQUE = (
    "Driver's Demand Engine - Percent Torque",
    "Actual Engine - Percent Torque",
    "Engine Demand - Percent Torque",
)
"""Printed as -1 % where the byte is FF."""

SIGNALS = {
    61444: {
        "Engine Torque Mode": "TorqueMode",
        TORQUE[0]: "DriverDemandTorque",
        TORQUE[1]: "ActualTorque",
        "Engine RPM": "EngineSpeed",
        "Engine Starter Mode": "StarterMode",
        TORQUE[2]: "EngineDemandTorque",
    },
    65270: {
        "Particulate Trap Inlet Pressure": "TrapInletPressure",
        "Boost Pressure": "BoostPressure",
        "Intake Manifold Temp": "IntakeTemperature",
        "Air Inlet Pressure": "AirInletPressure",
        "Air Filter Differential Pressure": "AirFilterPressure",
        "Exhaust Gas Temperature": "ExhaustGasTemperature",
        "Coolant Filter Differential Pressure": "CoolantFilterPressure",
    },
    65266: {"Fuel Rate": "FuelRate", "Throttle Position": "ThrottlePosition"},
    65262: {
        "Engine Coolant Temp": "CoolantTemperature",
        "Engine Fuel Temp 1": "FuelTemperature",
        "Engine Oil Temp 1": "OilTemperature",
        "Engine Turbocharger Oil Temp": "TurboOilTemperature",
        "Engine Intercooler Temp": "IntercoolerTemperature",
        "Engine Intercooler Thermostat Opening": "ThermostatOpening",
    },
    65271: {"Battery Voltage": "BatteryVoltage"},
}
LEFT_OUT = {
    "Actual Engine - Percent Torque High Resolution",
    "Source Address of Controlling Device for Engine Control",
    "Instantaneous Fuel Economy",
    "Average Fuel Economy",
}
"""Fields of our groups that the family has no signal for."""

ROUNDED = {"rpm": 0.0501, "bar": 0.0005, "V": 0.005, "%": 0.05, "C": 0.5}
"""Half of the last printed digit; a little more where the last half is rounded to even."""


@pytest.fixture
def traffic(nmea_data):
    """Each frame with its expected fields: number of the group, field to printed text."""
    lines = (nmea_data / "j1939-engine.expected.txt").read_text().splitlines()
    frames = list(RecordingReader(nmea_data / "j1939-engine.candump"))
    assert len(frames) == len(lines) == 842
    pairs = []
    for frame, line in zip(frames, lines, strict=True):
        group, fields = LINE.fullmatch(line).groups()
        pairs.append((frame, int(group), dict(field.split(" = ") for field in fields.split("; "))))
    return pairs


def test_every_printed_value_of_the_engine_is_the_one_decoded(traffic, capsys):
    decoder = J1939.decoder()
    counted = collections.Counter()
    for frame, group, fields in traffic:
        readings = {reading.signal: reading for reading in decoder.feed(frame)}
        signals = SIGNALS.get(group, {})
        assert bool(readings) == bool(signals)
        assert fields.keys() - signals.keys() <= LEFT_OUT or not signals
        for field, signal in signals.items():
            printed, reading = fields[field], readings[signal]
            if field in TORQUE:
                assert printed == "-1 %"
                assert (reading.value, reading.quality) == (None, Quality.NOT_AVAILABLE)
                counted["wrongly printed"] += 1
            elif printed == "Unknown":
                assert (reading.value, reading.quality) == (None, Quality.NOT_AVAILABLE)
                counted["not available"] += 1
            else:
                number, unit = printed.split()
                expected = float(number) * (100 if unit == "bar" else 1)
                assert reading.value == pytest.approx(
                    expected, abs=ROUNDED[unit] * (100 if unit == "bar" else 1)
                )
                assert reading.quality is Quality.GOOD
                counted["numbers"] += 1
    with capsys.disabled():
        print(f" [{dict(counted)}] ", end="")
    assert decoder.bad_frames == 0
    # Lines of the file x fields: 61444, 65266, 65270, 65262, 65271.
    assert counted["numbers"] == 495 + 99 + 20 * 2 + 10 + 10 == 654
    assert counted["not available"] == 495 * 2 + 99 + 20 * 5 + 10 * 5 == 1239
    assert counted["wrongly printed"] == 495 * 3 == 1485


def test_its_dm1_says_that_there_is_no_fault_and_no_lamp(traffic):
    told = [decode(frame.data) for frame, group, _ in traffic if group == 65226]
    assert len(told) == 10
    assert all(message.troubles == () and message.words() == "" for message in told)
    assert all(lamp.lit is False for message in told for lamp in message.lamps)


def test_it_is_recognised_as_an_engine_by_the_standard_and_nothing_else(traffic):
    families, errors = load_families()
    assert errors == []
    recogniser = Recogniser(families)
    for frame, _, _ in traffic:
        recogniser.feed(frame)
        assert recogniser.family is None or recogniser.family.name == "j1939"
    assert recogniser.family.name == "j1939"
