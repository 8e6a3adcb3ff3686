"""Single messages of NMEA 2000 with published values, quoted as facts.

Source: github.com/canboat/canboat (Apache-2.0), commit 01d0dc3d: the samples of its database and of
analyzer/tests/pgn-test, and lines of its sample logs. None = not available; "error" = the sender says so.
"""

import pytest

VECTORS = [
    (127488, "00 7A 0C FF FF 7F FF FF", {"EngineSpeed": 798.5, "BoostPressure": None, "TiltTrim": None}),
    (127488, "00 92 0C FF FF 7F FF FF", {"EngineSpeed": 804.5}),
    (127488, "00 47 0C FF FF 7F FF FF", {"EngineSpeed": 785.75}),
    # From a real log: a speed sensor at fault must not show 16383.5.
    (127488, "00 FE FF D8 13 7F FF FF", {"EngineSpeed": "error", "BoostPressure": 508_000}),
    (
        127489,
        "00 2F 06 FF FF E3 73 65 05 FF 7F 72 10 00 00 FF FF FF FF FF 06 00 00 00 7F 7F",
        {
            "OilPressure": 158_300,
            "OilTemperature": None,
            "CoolantTemperature": 296.67,
            "AlternatorVoltage": 13.81,
            "FuelRate": None,
            "EngineHours": 4210,
            "OverTemperature": "On",
            "LowOilPressure": "On",
            "CheckEngine": "Off",
            "EngineLoad": None,
        },
    ),
    (
        127489,
        "00 2F 06 10 20 E3 73 65 05 65 04 72 10 00 00 10 20 30 40 FF 06 00 FF 00 30 18",
        {
            "OilTemperature": 820.8,
            "FuelRate": 112.5,
            "CoolantPressure": 820_800,
            "FuelPressure": 16_432_000,
            "EngineLoad": 48,
            "EngineTorque": 24,
            "WarningLevel1": "On",
            "EngineShuttingDown": "On",
        },
    ),
    (
        127489,
        "00 28 00 FF FF BB 71 57 03 00 00 E0 B0 05 00 FF FF FF FF FF 20 00 00 00 7E FF",
        {
            "OilPressure": 4000,
            "CoolantTemperature": 291.15,
            "AlternatorVoltage": 8.55,
            "EngineHours": 372_960,
            "LowSystemVoltage": "On",
            "LowOilPressure": "Off",
            "EngineLoad": "error",
            "EngineTorque": -1,
        },
    ),
    (
        127508,
        "00 33 0A ED FF 02 71 FF",
        {"BatteryVoltage": 26.11, "BatteryCurrent": -1.9, "BatteryTemperature": 289.30, "BatterySid": None},
    ),
    (127505, "00 40 5F FF FF FF FF FF", {"FluidType": "Fuel", "FuelLevel": 97.536, "FuelCapacity": None}),
    (
        127505,
        "50 FF 7F BE 11 00 00 FF",
        {"FluidType": "Black water", "OtherFluidLevel": None, "OtherFluidCapacity": 454.2},
    ),
    (127250, "00 B2 7A FF 7F FF 7F FD", {"Heading": 3.1410, "HeadingReference": "Magnetic"}),
    (
        129026,
        "FF FC 34 3E 01 00 FF FF",
        {"CourseOverGround": 1.5924, "CourseReference": "True", "SpeedOverGround": 0.01},
    ),
    (128259, "5F 05 00 FF FF 00 FF FF", {"SpeedThroughWater": 0.05, "SpeedSensorType": "Paddle wheel"}),
    (130312, "FF 00 01 C5 72 FF FF FF", {"OutsideTemperature": 293.81, "OutsideSetTemperature": None}),
]


@pytest.mark.parametrize(
    ("pgn", "data", "wanted"), VECTORS, ids=[f"{pgn} {data[:11]}" for pgn, data, _ in VECTORS]
)
def test_a_published_message_gives_its_published_values(pgn, data, wanted, nmea, as_frames):
    decoder = nmea.decoder()
    frames = as_frames(pgn, 2, 16, bytes.fromhex(data))
    readings = {reading.signal: reading for frame in frames for reading in decoder.feed(frame)}
    for signal, value in wanted.items():
        reading = readings[signal]
        if value in (None, "error"):
            assert (reading.value, reading.quality) == (None, value or "not_available"), signal
        else:
            assert (reading.value, reading.quality) == (value, "good"), signal


FAULTS = [
    # Senders that get the code of a signed field wrong, and one that counts 40 years; all from sample logs.
    (127489, 9, "FF FF", "FuelRate", -0.1),
    (127489, 24, "FF", "EngineLoad", -1),
    (127489, 11, "4C FF FF 4B", "EngineHours", 0x4BFFFF4C),
    (127488, 0, "0B", "EngineInstance", 11),
    (127488, 1, "FD FF", "EngineSpeed", 16383.25),
]


@pytest.mark.parametrize("fault", FAULTS, ids=[fault[3] for fault in FAULTS])
def test_a_number_that_only_a_faulty_sender_can_mean_is_shown_and_never_judged(fault, nmea, as_frames):
    pgn, place, data, signal, number = fault
    payload = bytearray(26 if pgn == 127489 else 8)
    wrong = bytes.fromhex(data)
    payload[place : place + len(wrong)] = wrong
    decoder = nmea.decoder()
    frames = as_frames(pgn, 2, 16, bytes(payload))
    readings = {reading.signal: reading for frame in frames for reading in decoder.feed(frame)}
    assert (readings[signal].value, readings[signal].quality) == (number, "out_of_range")


def test_the_frames_of_the_worked_example_are_those_of_the_renderer(as_frames):
    # The split of this message with sequence 3, printed by the PyPI package nmea2000 2026.10.3.
    payload = bytes.fromhex("002F06FFFFE3736505FF7F72100000FFFFFFFFFF060000007F7F")
    for _ in range(3):
        as_frames(127489, 2, 1, payload)
    assert [frame.data.hex().upper() for frame in as_frames(127489, 2, 1, payload)] == [
        "601A002F06FFFFE3",
        "61736505FF7F7210",
        "620000FFFFFFFFFF",
        "63060000007F7FFF",
    ]
    assert {frame.ident for frame in as_frames(127489, 2, 1, payload)} == {0x8000_0000 | 0x09F20101}
