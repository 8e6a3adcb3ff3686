"""The simulated skua: charged air, the parts at the stern, and controllers of 29-bit identifiers."""

import pytest

from simulator.codec import EXTENDED
from simulator.craft import Craft
from simulator.kinds import FOUR

ENGINE, GATE, DISPLAY = (EXTENDED | ident for ident in (0x18DA10F1, 0x18DA2AF1, 0x18DA60F1))
ANSWERS = {
    EXTENDED | answer: name
    for answer, name in ((0x18DAF110, "engine"), (0x18DAF12A, "gate"), (0x18DAF160, "display"))
}


def ask(craft, ident, pdu):
    """One request; every answer by the name of its controller."""
    pdu = bytes.fromhex(pdu)
    craft.hear(ident & ~EXTENDED, bytes([len(pdu)]) + pdu.ljust(7, b"\xaa"), extended=bool(ident & EXTENDED))
    frames = craft.advance(0.05)
    return [(ANSWERS[at], data[1 : 1 + data[0]].hex()) for _, at, data in frames if at in ANSWERS]


@pytest.fixture
def craft():
    made = Craft("skua", "dock")
    made.advance(3.0)
    return made


def values(craft, *names):
    said = craft.broadcast.values()
    return [said[name] for name in names]


def at_full_throttle(seconds=12.0, **parts):
    craft = Craft("skua", "idle")
    for part, value in parts.items():
        craft.act({"do": "part", "part": part, "value": value})
    craft.act({"do": "throttle", "percent": 100.0})
    craft.advance(seconds)
    return craft


def test_a_charger_driven_by_the_crank_rises_with_the_square_of_the_speed():
    # Trade reference 1.10, common practice: boost of a mechanically driven charger goes with rpm^2.
    craft = Craft("skua", "idle")
    craft.act({"do": "throttle", "percent": 100.0, "over": 8.0})
    found = []
    for _ in range(12):
        craft.advance(1.0)
        found.append(values(craft, "EngineSpeed", "BoostPressure"))
    fast = [(speed, boost) for speed, boost in found if speed > 3000]
    assert len(fast) > 4
    for speed, boost in fast:
        assert boost == pytest.approx(FOUR.boost_kpa * (speed / 7600.0) ** 2, abs=3.0)
    [manifold, baro] = values(craft, "ManifoldPressure", "BarometricPressure")
    assert manifold > baro + 40.0


def test_the_intercooler_cools_and_with_blocked_water_it_does_not():
    cooled = values(at_full_throttle(), "ChargerOutletTemperature", "IntakeAirTemperature")
    hot = values(at_full_throttle(6.0, raw_water=0.0), "ChargerOutletTemperature", "IntakeAirTemperature")
    assert cooled[0] > 80.0
    assert cooled[1] < 60.0
    assert hot[1] == pytest.approx(hot[0], abs=0.5)


def test_a_slipping_charger_is_told_by_its_code():
    sound, slipping = at_full_throttle(20.0), at_full_throttle(20.0, charger=0.5)
    assert values(slipping, "BoostPressure")[0] < 0.6 * values(sound, "BoostPressure")[0]
    codes = [one.diagnosis.faults()["engine"] for one in (sound, slipping)]
    assert ["P0299" in str(told) for told in codes] == [False, True]


def test_the_gate_follows_the_lever_and_a_stone_in_it_is_told(craft):
    craft.act({"do": "reverse", "on": True})
    craft.advance(0.8)
    assert 30.0 < values(craft, "GatePosition")[0] < 70.0
    assert values(craft, "GateState") == ["Moving"]
    craft.act({"do": "part", "part": "gate", "value": 0.0})
    craft.advance(3.0)
    assert values(craft, "GateState") == ["Obstructed"]
    assert "C1101" in str(craft.diagnosis.faults()["gate"])
    craft.act({"do": "part", "part": "gate", "value": 1.0})
    craft.advance(2.0)
    assert values(craft, "GatePosition", "GateState") == [100.0, "At rest"]


@pytest.mark.parametrize(
    ("start", "part", "rises"),
    [
        ("2f03320305", "GatePosition", True),
        ("2f03340305", "TrimPosition", True),
        ("2f03350305", "TrimPosition", False),
    ],
)
def test_a_part_of_the_stern_moves_for_its_burst_and_no_longer(craft, start, part, rises):
    assert ask(craft, GATE, "1003")[0][1].startswith("5003")
    [before] = values(craft, part)
    assert ask(craft, GATE, start) == [("gate", "6f" + start[2:])]
    craft.advance(0.55)
    [moved] = values(craft, part)
    assert (moved > before) is rises
    assert moved != before
    assert not craft.diagnosis.outputs.live


def test_each_controller_has_its_own_outputs_and_its_own_session(craft):
    assert ask(craft, GATE, "1003")[0][0] == "gate"
    assert ask(craft, GATE, "2f03410305") == [("gate", "7f2f31")]  # the display's lamp: out of range here
    assert ask(craft, DISPLAY, "2f03410305") == [("display", "7f2f7f")]  # no session there
    assert ask(craft, GATE, "2f03310305") == [("gate", "6f03310305")]
    assert ask(craft, DISPLAY, "1001")[0][0] == "display"
    assert [run.output.key for run in craft.diagnosis.outputs.live.values()] == ["bilge_pump"]
    assert ask(craft, GATE, "1001")[0][0] == "gate"
    assert not craft.diagnosis.outputs.live


def test_only_its_whole_29_bit_identifier_reaches_a_controller(craft):
    violations = []
    craft.note = lambda what, did, violation=None, **details: violations.append(violation)
    assert ask(craft, ENGINE, "22f190")[0][0] == "engine"
    assert violations == [None, None]  # the frame and the request
    assert ask(craft, 0x0F1, "22f190") == []  # the same low bits, 11 of them
    assert violations[2:] == ["frame received"]


def test_what_holds_fuel_off_is_read_back_by_an_identifier_of_its_own(craft):
    assert ask(craft, ENGINE, "1003")[0][0] == "engine"
    assert ask(craft, ENGINE, "220361") == [("engine", "62036100")]
    assert ask(craft, ENGINE, "2f035103") == [("engine", "6f035103")]
    assert ask(craft, ENGINE, "220361") == [("engine", "620361a5")]
    assert ask(craft, ENGINE, "220351") == [("engine", "7f2231")]
    assert ask(craft, ENGINE, "2f035100") == [("engine", "6f035100")]
    assert ask(craft, ENGINE, "220361") == [("engine", "62036100")]


def test_pulses_carry_their_width_before_their_count(craft):
    assert ask(craft, ENGINE, "1003")[0][0] == "engine"
    assert ask(craft, ENGINE, "2f030103280a") == [("engine", "6f030103280a")]
    craft.advance(3.0)
    entry = craft.diagnosis.outputs.history[-1]
    assert (entry["output"], entry["pulses"]) == ("injector_1", 10)
    # 10 x 4.0 ms at 700 cm³/min static flow, by hand: 0.467 cm³; the closed rail loses pressure meanwhile.
    assert 0.35 < entry["cm3"] <= 0.467
