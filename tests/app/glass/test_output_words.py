"""What is said about firing an output. Sentences are expected word for word where a wrong one could hurt."""

from __future__ import annotations

import pytest

from app.interlock import CONFIRM_PURGE, RULES, Kind, Need
from app.output_messages import NeedState, OutputInfo, OutputState, Phase
from app.output_words import (
    PROMISED,
    cautions,
    instead_lines,
    is_promise,
    live_title,
    need_lines,
    promise_lines,
    result_lines,
    result_title,
    size_words,
    unconfirmed_lines,
)

INJECTOR = OutputInfo("injector_2", "Injector 2", "injector", 4.0, 20, 5.0, 0.5, released=True)
FAN = OutputInfo("fan", "Fan", "fan", 10.0, 0, 0.0, 0.0, released=True)
PLATE = OutputInfo(
    "plate", "Plate", "throttle_plate", 10.0, 0, 0.0, 0.0, released=False, after="It springs back."
)


def state(phase, *, progress=0.0, pulses=0, cause="", fired=True, needs=()):
    return OutputState("x", 1, phase, 0.0, list(needs), progress, pulses, cause, fired=fired)


def text(lines):
    return " ".join(f"{line.strong} {line.plain}" for line in lines)


@pytest.mark.parametrize("kind", list(Kind))
def test_every_kind_has_cautions_and_names_lanyard_and_manual(kind):
    said = text(cautions(OutputInfo("x", "X", kind, 1.0, 0, 0.0, 0.0, released=True)))
    assert "lanyard" in said
    assert "manual" in said
    assert "vapour" in said


def test_what_moves_after_release_is_a_caution():
    assert "It springs back." in text(cautions(PLATE))


def test_every_need_that_a_person_confirms_has_a_key():
    asked = {need for rule in RULES.values() for need in rule.needs} & set(PROMISED)
    words = {Need.NO_SMELL, Need.NO_LEAK, Need.HANDS_CLEAR, Need.AFT_CLEAR, Need.JET_CLEAR, Need.SPARK_SAFE}
    assert asked == words | {Need.FUEL_ROOM, Need.PURGED}


@pytest.mark.parametrize("need", [Need.FUEL_ROOM, Need.PURGED])
def test_test_fuel_is_a_touch_only_once_a_crank_was_heard(need):
    assert not is_promise(NeedState(need, False, "Fuel in the cylinders: 0.5 cm³", "Run the engine 30 s"))
    assert not is_promise(NeedState(need, True, "Fuel in the cylinders: 0.0 cm³", ""))
    asked = NeedState(need, False, "Cranked 8 s ago, if with plugs out", CONFIRM_PURGE)
    assert is_promise(asked)
    assert "plugs out" in text(promise_lines([asked]))
    assert PROMISED[need][0] == "purged_by_cranking"


def test_missing_needs_stand_with_what_was_seen_and_what_to_do():
    needs = [
        NeedState(Need.BATTERY, False, "Battery 11.2 V", "Charge it above 11.8 V"),
        NeedState(Need.SPEED_KNOWN, None, "Engine speed is not known from both sources", "Read the faults"),
        NeedState(Need.LANYARD_IN, True, "Lanyard: in place", ""),
    ]
    lines = need_lines(needs)
    assert [(line.strong, line.plain, line.shape) for line in lines] == [
        ("Battery 11.2 V.", "Charge it above 11.8 V.", "cross"),
        ("Engine speed is not known from both sources.", "Read the faults.", "cross"),
    ]


def test_promises_show_which_were_given():
    needs = [
        NeedState(Need.NO_SMELL, True, "No smell", ""),
        NeedState(Need.HANDS_CLEAR, None, "Hands clear: not confirmed", "Stand clear"),
        NeedState(Need.BATTERY, True, "Battery 12.6 V", ""),
    ]
    assert [line.shape for line in promise_lines(needs)] == ["tick", "cross"]
    assert [is_promise(need) for need in needs] == [True, True, False]


def test_nothing_is_called_on_before_the_controller_said_so():
    for phase in (None, Phase.STARTING):
        assert "asking" in live_title(FAN, state(phase))
    assert "asking" in live_title(FAN, None)
    assert live_title(FAN, state(Phase.LIVE, progress=0.3)) == "Fan is on: 3 of 10 s"
    assert live_title(INJECTOR, state(Phase.LIVE, pulses=7)) == "Injector 2: pulse 7 of 20"
    assert live_title(FAN, state(Phase.RELEASING)) == "Fan is being stopped"


@pytest.mark.parametrize(
    ("told", "title"),
    [
        (None, "Fan: the end is not known"),
        (state(Phase.LIVE), "Fan: the end is not known"),
        (state(Phase.REFUSED, fired=False), "Fan was not fired"),
        (state(Phase.ENDED, fired=False), "Fan was not fired"),
        (state(Phase.ENDED, progress=0.4), "Fan was stopped"),
        (state(Phase.ENDED, progress=1.0), "Fan: on for 10 s"),
        (state(Phase.NOT_CONFIRMED), "Fan is NOT CONFIRMED STOPPED"),
    ],
)
def test_the_title_of_a_result_claims_no_more_than_is_known(told, title):
    assert result_title(FAN, told) == title


def test_only_a_confirmed_release_is_called_off():
    assert "confirmed that it is off" in text(result_lines(FAN, state(Phase.ENDED, cause="Lifted."), ""))
    for told in (None, *map(state, (Phase.LIVE, Phase.STARTING, Phase.NOT_CONFIRMED))):
        assert "confirmed that it is off" not in text(result_lines(FAN, told, "No answer came."))
    refused = text(result_lines(FAN, state(Phase.REFUSED, fired=False, cause="Battery 11.2 V."), ""))
    assert "Nothing was sent" in refused
    assert "confirmed" not in refused


def test_fuel_is_followed_by_venting():
    assert "vent 4 min" in text(result_lines(INJECTOR, state(Phase.ENDED, pulses=20, progress=1.0), ""))
    assert "vent" not in text(result_lines(FAN, state(Phase.ENDED), ""))


def test_how_much_one_press_is():
    assert size_words(INJECTOR) == "20 pulses of 5 ms, 0.5 cm³ fuel"
    assert size_words(FAN) == "10 s at most, ends when the finger lifts"


def test_not_confirmed_names_lanyard_and_battery_switch_in_this_order():
    said = text(unconfirmed_lines("Fan"))
    assert 0 < said.index("lanyard") < said.index("Battery switch")


def test_while_the_bus_side_speaks_of_another_output_that_is_said():
    def said(told, other="Horn", *, heard=True):
        return text(instead_lines(told, other, heard=heard))

    assert "not heard" in said(None, heard=False)
    assert "One moment" in said(None, None)
    assert "Horn is under way" in said(state(Phase.LIVE))
    locked = said(state(Phase.NOT_CONFIRMED))
    assert "Horn was not confirmed stopped" in locked
    assert "read the faults" in locked
