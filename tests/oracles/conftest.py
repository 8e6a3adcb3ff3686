"""Real bus traffic with expected values, and how its field names stand to our signals."""

import pytest

from bus.family import SHIPPED, load_family

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
