"""The invented engine tern on SAE J1939: its frames by hand, and as the tool's own decoder reads them."""

import itertools

import pytest

from bus.dm import DM1, DM2, decode
from bus.family import SHIPPED, load_families, load_family
from bus.frame import EXTENDED, Frame
from bus.recognise import Recogniser
from bus.transport import Broadcasts
from simulator.craft import Craft
from simulator.errors import Misunderstood
from simulator.tern import Spn, identifier
from simulator.tern_faults import code, frames, message

TERN = load_family(SHIPPED / "tern")


def heard(craft, seconds):
    """Every reading by signal, newest last."""
    decoder, found = TERN.decoder(), {}
    for at, ident, data in craft.advance(seconds):
        for reading in decoder.feed(Frame(at, ident, data)):
            found.setdefault(reading.signal, []).append(reading)
    assert decoder.bad_frames == 0
    return found


def told(craft, seconds):
    """Every DM1 and DM2 as (time, group, message), single or broadcast, by the receiving side."""
    broadcasts, found = Broadcasts({DM1, DM2}), []
    for at, ident, data in craft.advance(seconds):
        group = ident >> 8 & 0x3FFFF
        if ident >= EXTENDED and group in (DM1, DM2):
            found.append((at, group, decode(data)))
        elif ident >= EXTENDED and (whole := broadcasts.feed(ident, at, data)):
            found.append((at, whole.group, decode(whole.data)))
    assert broadcasts.unused == 0
    return found


@pytest.fixture
def craft():
    return Craft("tern", "idle")


def test_the_tool_reads_what_the_engine_is(craft):
    found = heard(craft, 5.0)
    engine = craft.engine
    newest = {name: readings[-1].value for name, readings in found.items()}
    assert newest["EngineSpeed"] == pytest.approx(engine.speed, rel=0.05)
    assert newest["CoolantTemperature"] == pytest.approx(engine.heat.coolant, abs=1.0)
    assert newest["OilTemperature"] == pytest.approx(engine.heat.oil, abs=0.2)
    assert newest["OilPressure"] == pytest.approx(engine.oil.pressure, abs=6)
    assert newest["FuelDeliveryPressure"] == pytest.approx(engine.rail.pressure, abs=6)
    assert newest["BatteryVoltage"] == pytest.approx(engine.battery.volts, abs=0.1)
    assert newest["AirInletPressure"] == pytest.approx(engine.baro, abs=1)
    assert newest["EngineHours"] == pytest.approx(engine.hours, abs=0.05)
    assert newest["ControllerSerial"] == craft.bench.serial
    assert newest["BoostPressure"] is None
    assert all(reading.source == 0 for readings in found.values() for reading in readings)


def test_every_value_said_is_the_value_read(craft):
    newest = {name: readings[-1] for name, readings in heard(craft, 5.0).items()}
    said = craft.broadcast.values()
    assert len(said) == 5 + 3 + 2 + 1 + 2 + 3 + 2 + 2 + 1
    for name, value in said.items():
        word = newest[name].quality.value if newest[name].value is None else newest[name].value
        assert word == (pytest.approx(value) if isinstance(value, float) else value), name


def test_each_group_keeps_its_cycle(craft):
    times = {}
    for at, ident, _ in craft.advance(10.0):
        times.setdefault(ident, []).append(at)
    for each in TERN.messages:
        sent = times[each.ident & ~0xFF]
        assert {round(later - earlier, 6) for earlier, later in itertools.pairwise(sent)} == {each.cycle}


def test_it_is_recognised_as_a_tern_within_the_time_a_craft_is_named_after(craft):
    families, _ = load_families()
    recogniser = Recogniser(families)
    for at, ident, data in craft.advance(0.3):
        recogniser.feed(Frame(at, ident, data))
    assert recogniser.family.name == "tern"


def test_without_its_own_words_it_is_any_engine_by_the_standard(craft):
    craft.act({"do": "plant", "signal": "TernIdentity", "kind": "missing"})
    families, _ = load_families()
    recogniser = Recogniser(families)
    for at, ident, data in craft.advance(3.0):
        recogniser.feed(Frame(at, ident, data))
    assert recogniser.family.name == "j1939"


@pytest.mark.parametrize(
    ("kind", "quality", "data"), [("error", "error", "00FE"), ("not_available", "not_available", "FFFF")]
)
def test_a_sensor_at_fault_says_so_by_the_codes_of_the_standard(craft, kind, quality, data):
    craft.act({"do": "plant", "signal": "OilTemperature", "kind": kind})
    sent = {frame[2:4].hex().upper() for _, ident, frame in craft.advance(1.0) if ident == identifier(65262)}
    assert sent == {data}
    reading = heard(craft, 2.0)["OilTemperature"][-1]
    assert (reading.value, reading.quality) == (None, quality)


def test_silence_and_key_off_are_silent(craft):
    craft.act({"do": "silence", "seconds": 2.0})
    assert craft.advance(1.9) == []
    craft.advance(1.0)
    craft.act({"do": "key", "on": False})
    craft.advance(2.0)
    assert craft.advance(3.0) == []


def test_a_sound_engine_says_once_a_second_that_there_is_no_fault(craft):
    active = [each for _, group, each in told(craft, 10.0) if group == DM1]
    assert len(active) == 10
    assert all(each.troubles == () and each.words() == "" for each in active)


def test_one_fault_comes_in_one_frame_with_its_lamp(craft):
    craft.act({"do": "plant", "signal": "CoolantTemperature", "kind": "error"})
    last = [each for _, group, each in told(craft, 5.0) if group == DM1][-1]
    assert [(each.spn, each.fmi, each.times) for each in last.troubles] == [(110, 3, 1)]
    assert last.words() == "malfunction"


def test_several_faults_come_as_a_broadcast_and_turn_previously_active(craft):
    for signal in ("CoolantTemperature", "OilPressure", "IntakeTemperature"):
        craft.act({"do": "plant", "signal": signal, "kind": "error"})
    craft.advance(0.3)  # so that no broadcast is cut in two below
    last = [each for _, group, each in told(craft, 5.0) if group == DM1][-1]
    wanted = {(110, 3, 1), (100, 3, 1), (105, 3, 1)}
    assert {(each.spn, each.fmi, each.times) for each in last.troubles} == wanted
    craft.act({"do": "mend"})
    after = told(craft, 10.0)
    assert [each for _, group, each in after if group == DM1][-1].troubles == ()
    previous = [each for _, group, each in after if group == DM2][-1]
    assert {(each.spn, each.fmi, each.times) for each in previous.troubles} == wanted


def test_frames_of_a_broadcast_keep_the_distance_the_standard_wants(craft):
    for signal in ("CoolantTemperature", "OilPressure", "IntakeTemperature"):
        craft.act({"do": "plant", "signal": signal, "kind": "error"})
    craft.advance(3.3)
    times = [at for at, ident, _ in craft.advance(1.0) if ident >> 16 & 0xFF in (0xEC, 0xEB)]
    assert len(times) == 3
    gaps = [later - earlier for earlier, later in itertools.pairwise(times)]
    assert all(0.05 <= round(gap, 6) <= 0.2 for gap in gaps)


def test_bytes_are_those_of_the_worked_examples():
    # shared/reference/standards.md 5.4 and 5.5, made by the PyPI package can-j1939.
    codes = [code(110, 0, 1), code(100, 1, 3), code(190, 8, 2)]
    assert [each.hex(" ").upper() for each in codes] == ["6E 00 00 01", "64 00 01 03", "BE 00 08 02"]
    assert code(500248, 7, 2) == bytes.fromhex("18A2E702")
    assert code(520192, 31, 126) == bytes.fromhex("00F0FF7E")
    assert [data.hex(" ").upper() for _, data in frames(DM1, message(0x04, codes))] == [
        "20 0E 00 02 FF CA FE 00",
        "01 04 FF 6E 00 00 01 64",
        "02 00 01 03 BE 00 08 02",
    ]
    assert message(0, []) == bytes.fromhex("00FF00000000FFFF")


def test_nobody_answers_a_request():
    craft = Craft("tern", "idle")
    before = craft.diagnosis.said()
    craft.hear(0x18EAFF44 | EXTENDED, bytes.fromhex("D3FE00"), extended=True)
    craft.advance(1.0)
    assert craft.diagnosis.controllers == {}
    assert craft.diagnosis.said() == before
    with pytest.raises(Misunderstood):
        craft.act({"do": "fault", "code": "P0117", "on": True, "hard": True})


def test_a_field_keeps_healthy_values_below_the_reserved_codes():
    field = Spn("Any", 0, 16, scale=0.125)
    assert field.raw(1e9) == 0xFAFF
    assert field.meaning(0xFE12) == "error"
    assert field.meaning(0xFF00) == "not_available"
    assert field.meaning(0) == 0.0
