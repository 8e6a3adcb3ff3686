"""Real bus traffic with expected values, and how its field names stand to our signals."""

import datetime as dt
from collections import defaultdict
from pathlib import Path

import pytest

from bus.family import SHIPPED, load_family
from bus.frame import EXTENDED, Frame
from bus.recording import candump_line

FAST = {127489, 127497}
STATUS_1 = [
    "CheckEngine",
    "OverTemperature",
    "LowOilPressure",
    "LowOilLevel",
    "LowFuelPressure",
    "LowSystemVoltage",
    "LowCoolantLevel",
    "WaterFlow",
    "WaterInFuel",
    "ChargeIndicator",
    "PreheatIndicator",
    "HighBoostPressure",
    "RevLimitExceeded",
    "EgrSystem",
    "ThrottlePositionSensor",
    "EmergencyStop",
]
STATUS_2 = [
    "WarningLevel1",
    "WarningLevel2",
    "PowerReduction",
    "MaintenanceNeeded",
    "EngineCommError",
    "SubThrottle",
    "NeutralStartProtect",
    "EngineShuttingDown",
]
TRANSMISSION = [
    "TransmissionCheck",
    "TransmissionOverTemperature",
    "TransmissionLowOilPressure",
    "TransmissionLowOilLevel",
    "SailDrive",
]
NAMES = {
    # Their words for a bit, where ours are not the same letters.
    "SubThrottle": "suborsecondarythrottle",
    "TransmissionCheck": "checktransmission",
    "TransmissionOverTemperature": "overtemperature",
    "TransmissionLowOilPressure": "lowoilpressure",
    "TransmissionLowOilLevel": "lowoillevel",
}

FIELDS = {
    127250: {
        "sid": "HeadingSid",
        "heading": "Heading",
        "deviation": "HeadingDeviation",
        "variation": "HeadingVariation",
        "reference": "HeadingReference",
    },
    127488: {
        "instance": "EngineInstance",
        "speed": "EngineSpeed",
        "boostPressure": "BoostPressure",
        "tiltTrim": "TiltTrim",
    },
    127489: {
        "instance": "DynamicEngineInstance",
        "oilPressure": "OilPressure",
        "oilTemperature": "OilTemperature",
        "temperature": "CoolantTemperature",
        "alternatorPotential": "AlternatorVoltage",
        "fuelRate": "FuelRate",
        "totalEngineHours": "EngineHours",
        "coolantPressure": "CoolantPressure",
        "fuelPressure": "FuelPressure",
        "discreteStatus1": STATUS_1,
        "discreteStatus2": STATUS_2,
        "engineLoad": "EngineLoad",
        "engineTorque": "EngineTorque",
    },
    127493: {
        "instance": "TransmissionInstance",
        "transmissionGear": "Gear",
        "oilPressure": "TransmissionOilPressure",
        "oilTemperature": "TransmissionOilTemperature",
        "discreteStatus1": TRANSMISSION,
    },
    127497: {
        "instance": "TripEngineInstance",
        "tripFuelUsed": "TripFuelUsed",
        "fuelRateAverage": "TripFuelRateAverage",
        "fuelRateEconomy": "TripFuelRateEconomy",
        "instantaneousFuelEconomy": "TripFuelRateNow",
    },
    127505: {
        "instance": "FluidInstance",
        "type": "FluidType",
        "level": {"Fuel": "FuelLevel", "": "OtherFluidLevel"},
        "capacity": {"Fuel": "FuelCapacity", "": "OtherFluidCapacity"},
    },
    127508: {
        "instance": "BatteryInstance",
        "voltage": "BatteryVoltage",
        "current": "BatteryCurrent",
        "temperature": "BatteryTemperature",
        "sid": "BatterySid",
    },
    128259: {
        "sid": "SpeedSid",
        "speedWaterReferenced": "SpeedThroughWater",
        "speedGroundReferenced": "SpeedGroundReferenced",
        "speedWaterReferencedType": "SpeedSensorType",
        "speedDirection": "SpeedDirection",
    },
    129026: {
        "sid": "CourseSid",
        "cogReference": "CourseReference",
        "cog": "CourseOverGround",
        "sog": "SpeedOverGround",
    },
    130312: {
        "sid": "TemperatureSid",
        "instance": "TemperatureInstance",
        "source": "TemperatureSource",
        "actualTemperature": {
            "Sea Temperature": "SeaTemperature",
            "Outside Temperature": "OutsideTemperature",
            "Engine Room Temperature": "EngineRoomTemperature",
            "Exhaust Gas Temperature": "ExhaustGasTemperature",
            "": "OtherTemperature",
        },
        "setTemperature": {
            "Sea Temperature": "SeaSetTemperature",
            "Outside Temperature": "OutsideSetTemperature",
            "Engine Room Temperature": "EngineRoomSetTemperature",
            "Exhaust Gas Temperature": "ExhaustGasSetTemperature",
            "": "OtherSetTemperature",
        },
    },
}
"""Parameter group to field to signal; to signals by what the page is; or to a signal for each bit."""

PAGE = {127505: "type", 130312: "source"}


@pytest.fixture(scope="session")
def nmea_data():
    """The folder of recorded traffic beside the repository (its SOURCE.txt names where it comes from)."""
    for parent in Path(__file__).resolve().parents:
        folder = parent / "shared" / "data" / "nmea2000"
        if folder.is_dir():
            return folder
    pytest.skip("the recorded NMEA 2000 traffic (shared/data/nmea2000) is not on this machine")


@pytest.fixture(scope="session")
def nmea():
    return load_family(SHIPPED / "nmea2000")


@pytest.fixture(scope="session")
def expected_readings():
    """The readings that a line of expected fields stands for: signal to number, text or None."""

    def letters(words):
        return "".join(words.lower().replace("communication", "comm").split())

    def expect(pgn, fields):
        readings = {}
        page = fields.get(PAGE.get(pgn, ""))
        for field, value in fields.items():
            signal = FIELDS[pgn][field]
            if isinstance(signal, list):
                words = value.split(", ") if isinstance(value, str) else value
                on = {letters(word) for word in words if word}
                spelt = {name: NAMES.get(name, name.lower()) for name in signal}
                assert on <= set(spelt.values()), f"a bit that we have no signal for: {on}"
                readings |= {name: "On" if spelt[name] in on else "Off" for name in signal}
            elif isinstance(signal, dict):
                if page is not None:
                    readings[signal.get(page) or signal[""]] = value
            else:
                readings[signal] = value
        return readings

    return expect


@pytest.fixture
def as_frames():
    """Turns reassembled messages into the CAN frames they were: single ones, and fast packets whose
    sequence counter rises from packet to packet of a sender."""
    sequences = defaultdict(int)

    def split(pgn, priority, source, payload, at=0.0):
        ident = EXTENDED | priority << 26 | pgn << 8 | source
        if pgn not in FAST:
            return [Frame(at, ident, payload)]
        sequence = sequences[source, pgn] % 8
        sequences[source, pgn] += 1
        parts = [bytes([len(payload)]) + payload[:6]]
        parts += [payload[start : start + 7] for start in range(6, len(payload), 7)]
        return [
            Frame(at, ident, bytes([sequence << 5 | number]) + part.ljust(7, b"\xff"))
            for number, part in enumerate(parts)
        ]

    return split


@pytest.fixture
def raw_lines(as_frames):
    """Frames of lines "timestamp,priority,pgn,source,destination,length,bytes"."""

    def parse(line):
        stamp, priority, pgn, source, _, length, *data = line.strip().split(",")
        payload = bytes.fromhex("".join(data))
        assert len(payload) == int(length)
        when = dt.datetime.fromisoformat(stamp) if "T" in stamp else None
        at = when.timestamp() if when is not None and when.year > 1970 else 0.0
        return as_frames(int(pgn), int(priority), int(source), payload, at)

    return parse


@pytest.fixture
def write_candump(tmp_path):
    def write(frames):
        path = tmp_path / "traffic.log"
        path.write_bytes(b"".join(candump_line(frame.at, "can0", frame) for frame in frames))
        return path

    return write
