"""Frames of the family nmea2000, read by the PyPI package nmea2000 2026.10.3, and published bytes."""

import pytest
from nmea2000.decoder import NMEA2000Decoder

from simulator.craft import Craft
from simulator.nmea2000 import fast_packet, identifier, messages


def decoded(craft, seconds):
    """Every whole message as the package reads it, with what the simulator says it last sent."""
    decoder = NMEA2000Decoder()
    for _ in range(round(seconds / 0.005)):
        for at, ident, data in craft.advance(0.005):
            if ident == 0x7F0:
                continue
            line = f"({at:.6f}) vcan0 {ident & 0x1FFFFFFF:08X}#{data.hex().upper()}"
            message = decoder.decode(line)
            if message is not None:
                fields = {field.id: field.value for field in message.fields}
                yield message.PGN, message.source, fields, craft.broadcast.values()


SIGNALS = {
    127488: {"instance": "EngineInstance", "speed": "EngineSpeed", "tiltTrim": "TiltTrim"},
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
        "engineLoad": "EngineLoad",
        "engineTorque": "EngineTorque",
    },
}


def test_the_package_reads_every_field_as_the_simulator_meant_it():
    counted = {127488: 0, 127489: 0}
    for group, source, fields, said in decoded(Craft("nmea2000", "ride"), 30.0):
        assert source == 16
        counted[group] += 1
        for field, signal in SIGNALS[group].items():
            if said[signal] == "not_available":
                assert fields[field] is None
            elif isinstance(said[signal], str):
                assert fields[field] == said[signal]
            else:
                assert fields[field] == pytest.approx(said[signal])
    assert counted == {127488: 300, 127489: 60}


def test_status_bits_are_where_the_package_looks_for_them():
    craft = Craft("nmea2000", "idle")
    craft.act({"do": "lanyard", "pulled": True})
    craft.engine.heat.coolant = craft.engine.heat.metal = 115.0
    craft.advance(2.0)
    texts = [fields for group, _, fields, _ in decoded(craft, 1.0) if group == 127489][-1]
    assert "Over Temperature" in texts["discreteStatus1"]
    assert "Emergency Stop" in texts["discreteStatus1"]
    assert "Power Reduction" in texts["discreteStatus2"]


def test_reserved_codes_come_out_as_no_value():
    craft = Craft("nmea2000", "idle")
    craft.act({"do": "plant", "signal": "EngineSpeed", "kind": "error"})
    craft.act({"do": "plant", "signal": "EngineLoad", "kind": "not_available"})
    frames = craft.advance(1.0)
    speeds = {data[1:3] for _, ident, data in frames if ident == identifier(127488)}
    assert speeds == {b"\xfe\xff"}
    loads = [fields["engineLoad"] for group, _, fields, _ in decoded(craft, 2.0) if group == 127489]
    assert loads
    assert set(loads) == {None}


def test_identifiers_are_those_of_real_traffic():
    # 127489 with priority 2: identifier 09F20101 from source 1 in the open CANboat samples.
    assert identifier(127489) & 0x1FFFFF00 == 0x09F20100
    assert identifier(127488) & 0x1FFFFFFF == 0x09F20010


def test_a_fast_packet_is_cut_as_in_the_worked_example():
    # Real frames from the open CANboat samples: 26 bytes, sequence 3.
    data = bytes.fromhex("002F06FFFFE3736505FF7F72106200")  # shortened: only the cutting is looked at here
    frames = fast_packet(data.ljust(26, b"\0"), 3)
    assert [frame[0] for frame in frames] == [0x60, 0x61, 0x62, 0x63]
    assert frames[0] == bytes.fromhex("601A002F06FFFFE3")
    assert frames[1] == bytes.fromhex("61736505FF7F7210")
    assert all(len(frame) == 8 for frame in frames)


def test_published_bytes_of_127488_are_packed_again():
    # CANboat database: 00 7A 0C FF FF 7F FF FF is 798.5 rev/min, boost and trim not available.
    rapid = messages()[0]
    fields = {field.name: field for field in rapid.fields}
    raws = {name: field.codes["not_available"] for name, field in fields.items()}
    raws |= {"EngineInstance": 0, "EngineSpeed": fields["EngineSpeed"].raw(798.5)}
    assert rapid.pack(raws) == bytes.fromhex("007A0CFFFF7FFFFF")
