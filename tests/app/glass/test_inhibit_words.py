"""What is said while fuel or spark is held off; word for word where a wrong sentence could hurt.

The page says that the engine may start if the link breaks, and to keep the jet clear: rule 8 of the design.
Venting after fuel that nothing burnt and the lanyard as the emergency stop: common practice, no source.
"""

from __future__ import annotations

import pytest

from app.bench import Latch
from app.inhibit_words import (
    ARMED,
    CONFIRMED_S,
    asking,
    held_off,
    is_inhibit,
    latched_words,
    ready_lines,
    result_lines,
    result_title,
    unconfirmed_lines,
)
from app.interlock import RULES, Kind, Need
from app.output_messages import NeedState, OutputInfo, OutputState, Phase
from app.output_words import cautions, cautions_with, size_words
from app.show import Look

FUEL = OutputInfo("f", "Hold fuel off", "fuel_inhibit", 120.0, 0, 0.0, 0.0, released=True, latched=True)
SPARK = OutputInfo("s", "Hold spark off", "spark_inhibit", 120.0, 0, 0.0, 0.0, released=True, latched=True)
BOTH = [FUEL, SPARK]
NOW = 1000.0
NOT_LATCHED = [None, Phase.STARTING, Phase.LIVE, Phase.RELEASING]


def state(phase=Phase.LATCHED, *, since=NOW - 20, confirmed_at=NOW - 0.4, fired=True, **more):
    return OutputState("f", 1, phase, since, [], confirmed_at=confirmed_at, fired=fired, **more)


def said(info=FUEL, *, speed=230.0, heard=True, cause="", **more):
    latch = Latch(state(**more), NOW)
    latch.heard, latch.cause = heard, cause
    return latched_words(info, latch, speed, NOW)


def text(lines):
    return " ".join(f"{line.strong} {line.plain}" for line in lines)


def test_these_words_are_for_every_kind_that_latches_and_no_other():
    for kind in Kind:
        info = OutputInfo("x", "X", kind, 1.0, 0, 0.0, 0.0, released=True)
        assert is_inhibit(info) is RULES[kind].latched


@pytest.mark.parametrize("info", BOTH)
def test_the_cautions_say_that_the_engine_may_start_and_the_jet_must_be_clear(info):
    everything = text(cautions(info))
    for words in ("engine may start if the link breaks", "Jet area clear, nobody aft", "vapour", "lanyard"):
        assert words in everything
    assert "maker's manual first" in everything
    assert size_words(info) == "120 s at most"


@pytest.mark.parametrize("info", BOTH)
def test_promises_that_are_asked_for_alone_show_every_caution_between_them(info):
    needs = (Need.NO_SMELL, Need.HANDS_CLEAR, Need.JET_CLEAR)
    shown = [cautions_with(info, need) for need in needs]
    assert {line.strong for lines in shown for line in lines} == {line.strong for line in cautions(info)}
    assert all("manual" in text(lines) for lines in shown)
    assert "may start" in text(shown[2])


@pytest.mark.parametrize("info", BOTH)
def test_nobody_is_told_to_crank_before_it_is_read_back(info):
    needs = [NeedState(Need.JET_CLEAR, True, "Jet clear: confirmed 3 s ago", "")]
    ready = text(ready_lines(info, needs))
    assert "Jet clear: confirmed 3 s ago" in ready
    assert "may start" in ready
    assert "NOT crank" in ready
    assert "NOT crank" in ARMED
    for phase in NOT_LATCHED:
        lines = " ".join(asking(info, None if phase is None else state(phase)))
        assert "Do NOT crank" in lines
        assert "is held off" not in lines


def test_what_holds_says_crank_now_and_when_it_was_confirmed():
    words = said()
    assert (words.title, words.say) == ("Fuel is held off", "Crank now with the craft's own switch.")
    assert "Confirmed 0.4 s ago. Ends by itself in 100 s." in text(words.lines)
    assert "The engine may start if the link breaks. Stay clear of the jet." in text(words.lines)
    assert (words.key, words.look) == ("Give fuel back", Look.GOOD)
    assert said(SPARK).title == "Spark is held off"
    assert said(SPARK).key == "Give spark back"


@pytest.mark.parametrize(
    ("how", "why"),
    [
        ({"doubt": "The controller did not answer for 2.1 s."}, "did not answer for 2.1 s"),
        ({"heard": False}, "is not heard"),
        ({"heard": False, "phase": Phase.RELEASING}, "is not heard"),
        ({"confirmed_at": NOW - CONFIRMED_S - 0.1}, "last confirmed it 3 s ago"),
        ({"confirmed_at": 0.0}, "last confirmed it 1000 s ago"),
        ({"confirmed_at": NOW + 5}, "never confirmed"),
        ({"doubt": "It says no. Lanyard out.", "ending": "It says no."}, "It says no."),
        ({"doubt": "Not read back.", "ending": "Lifted.", "confirmed_at": 0.0}, "Not read back."),
        ({"heard": False, "cause": "Touched."}, "is not heard"),
    ],
)
def test_any_doubt_is_loud_and_says_what_to_do(how, why):
    words = said(**how)
    assert words.title == "Fuel NOT known to be off"
    assert words.say == "Release the start switch. Lanyard out."
    assert words.look is Look.ALARM
    assert why in text(words.lines)
    assert text(words.lines).count(why) == 1
    assert "stay clear of the jet" in text(words.lines)


def test_a_confirmation_that_is_young_enough_is_one():
    assert said(confirmed_at=NOW - CONFIRMED_S + 0.1).look is Look.GOOD


@pytest.mark.parametrize(
    ("speed", "title", "say", "when"),
    [
        (230.0, "Stop cranking", "Engine turns at 230 rev/min.", "2 s after the engine stands still"),
        (0.0, "Do NOT crank", "The engine stands still.", "2 s after the engine stands still"),
        (
            None,
            "Stop cranking",
            "Engine speed is not known.",
            "2 s after the engine is known to stand still",
        ),
    ],
)
@pytest.mark.parametrize("how", [{"ending": "The time is over."}, {"cause": "The time is over."}])
def test_while_it_is_being_given_back_the_engine_must_come_to_rest(speed, title, say, when, how):
    words = said(speed=speed, **how)
    assert (words.title, words.say, words.look, words.key) == (title, say, Look.WATCH, "")
    assert f"Fuel is given back {when}. The time is over." in text(words.lines)
    assert "engine could start" in text(words.lines)


def test_a_release_that_is_not_confirmed_yet_is_no_end():
    words = said(phase=Phase.RELEASING, confirmed_at=NOW - 30)
    assert (words.title, words.say, words.look) == ("Giving fuel back", "Do NOT crank.", Look.WATCH)


def test_an_inhibit_of_which_nothing_else_is_known_is_named_all_the_same():
    assert held_off(None) == "fuel or spark"
    assert said(None).title == "Fuel or spark is held off"
    assert "Ends by itself" not in text(said(None).lines)


@pytest.mark.parametrize(
    ("told", "title"),
    [
        (None, "Fuel NOT known to be off"),
        (state(Phase.LATCHED), "Fuel NOT known to be off"),
        (state(Phase.REFUSED, fired=False, confirmed_at=0.0), "Fuel was NOT held off"),
        (state(Phase.ENDED, fired=False, confirmed_at=0.0), "Fuel was NOT held off"),
        (state(Phase.ENDED, confirmed_at=0.0), "Fuel was NOT held off"),
        (state(Phase.NOT_CONFIRMED), "Fuel is NOT CONFIRMED given back"),
        (state(Phase.ENDED), "Fuel is given back"),
    ],
)
def test_the_title_of_a_result_claims_no_more_than_is_known(told, title):
    assert result_title(FUEL, told) == title
    confirmed = told is not None and told.phase is Phase.ENDED and told.fired
    assert ("confirmed that fuel is given back" in text(result_lines(FUEL, told, ""))) is confirmed


def test_unknown_is_followed_by_what_makes_it_safe():
    lines = text(result_lines(FUEL, None, "Not heard."))
    assert lines.index("Lanyard out") < lines.index("Not heard.")
    assert "engine may start" in lines


@pytest.mark.parametrize("info", BOTH)
def test_only_cranking_without_spark_is_followed_by_venting(info):
    lines = text(result_lines(info, state(Phase.ENDED), ""))
    assert ("Cranking sprayed fuel that nothing burnt. Vent 4 min" in lines) is (info is SPARK)
    assert "The engine can start from now on. Lanyard out" in lines


def test_what_was_never_held_says_not_to_crank():
    for told in (state(Phase.ENDED, confirmed_at=0.0), state(Phase.REFUSED, fired=False, confirmed_at=0.0)):
        assert "Do NOT crank." in text(result_lines(FUEL, told, ""))


def test_a_refusal_lists_what_is_missing_once():
    need = NeedState(Need.BATTERY, False, "Battery 11.2 V", "Charge it above 11.8 V")
    told = OutputState("f", 1, Phase.REFUSED, NOW, [need], cause="Lanyard: pulled.")
    assert "Battery 11.2 V. Charge it above 11.8 V." in text(result_lines(FUEL, told, ""))


def test_not_confirmed_names_lanyard_and_battery_switch_in_this_order():
    lines = text(unconfirmed_lines(FUEL))
    assert 0 < lines.index("Do NOT crank") < lines.index("lanyard") < lines.index("Battery switch")
    told = state(Phase.NOT_CONFIRMED)
    assert lines in text(result_lines(FUEL, told, ""))
