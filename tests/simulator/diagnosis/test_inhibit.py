"""Fuel or spark held off while a person cranks: what holds, what ends it, and bad luck on order.

Bytes by ISO 14229-1: 2F with shortTermAdjustment 03 and returnControlToECU 00, S3 of 5 s.
"""

import pytest

from simulator.errors import Misunderstood

FUEL, SPARK = "d141", "d142"
BOTH = pytest.mark.parametrize("did", [FUEL, SPARK])


@pytest.fixture
def hold(talk):
    """Asks for the session and an inhibit, and reads back that it holds."""

    def begin(did=FUEL):
        assert talk.ask("1003") == ["5003003201f4"]
        assert talk.ask(f"2f{did}03") == [f"6f{did}03"]
        assert talk.ask(f"22{did}") == [f"62{did}01"]
        return talk

    return begin


def keep(talk, did, seconds):
    """Read back every second, as a careful tool does."""
    said = []
    for _ in range(round(seconds)):
        talk.run(0.9)
        said += talk.ask(f"22{did}")
    return said


@BOTH
def test_the_engine_cranks_and_does_not_fire_up_until_it_is_given_back(hold, did):
    talk = hold(did)
    rest = talk.engine.battery.volts
    talk.do("start", pressed=True)
    assert keep(talk, did, 8) == [f"62{did}01"] * 8
    assert talk.engine.state == "Cranking"
    assert 200.0 < talk.engine.speed < 350.0
    assert talk.engine.battery.volts < rest - 1.0
    talk.do("start", pressed=False)
    keep(talk, did, 4)
    assert talk.engine.speed == 0.0
    assert talk.ask(f"2f{did}00") == [f"6f{did}00"]
    assert talk.ask("1001") == ["5001003201f4"]
    assert talk.ask(f"22{did}") == [f"62{did}00"]
    assert talk.violations == []
    talk.do("start", pressed=True)
    talk.run(3.0)
    assert talk.engine.state == "Running"
    assert [entry["did"] for entry in talk.ledger.entries if entry["what"] == "engine"] == []


def test_nothing_held_off_starts_as_ever(talk):
    talk.do("start", pressed=True)
    talk.run(3.0)
    assert talk.engine.state == "Running"
    assert talk.violations == []


@BOTH
def test_it_has_no_time_limit_of_its_own(hold, did):
    talk = hold(did)
    assert keep(talk, did, 200) == [f"62{did}01"] * 200


def test_it_is_listed_with_what_it_holds_off(hold):
    talk = hold(SPARK)
    said = talk.outputs.said()
    assert [(one["output"], one["held_off"]) for one in said["live"]] == [("spark_inhibit", "spark")]
    talk.ask("2fd14200")
    said = talk.outputs.said()
    assert said["live"] == []
    one = said["history"][-1]
    assert (one["output"], one["held_off"], one["why"]) == ("spark_inhibit", "spark", "released")
    talk.ask("2fd1210305", seconds=0.05)
    assert talk.outputs.said()["live"][0]["held_off"] == ""


def test_with_the_spark_held_off_fuel_is_sprayed_and_nothing_burns_it(hold):
    talk = hold(SPARK)
    talk.do("start", pressed=True)
    keep(talk, SPARK, 3)
    assert talk.craft.broadcast.value("InjectorPulseWidth") > 0.0
    assert sorted(talk.outputs.film) == [1, 2, 3]
    before = talk.outputs.film[1]
    keep(talk, SPARK, 6)
    assert talk.outputs.film[1] > before > 0.0  # cranking does not air what goes on being sprayed


def test_with_the_fuel_held_off_nothing_is_sprayed_and_cranking_airs_the_cylinders(hold):
    talk = hold(FUEL)
    talk.outputs.film[1] = 0.4
    talk.do("start", pressed=True)
    keep(talk, FUEL, 3)
    assert talk.craft.broadcast.value("InjectorPulseWidth") == 0.0
    assert talk.outputs.film == {1: 0.4}
    keep(talk, FUEL, 4)
    assert talk.outputs.film == {}


@pytest.mark.parametrize(("request_", "answer"), [("2fd14103", "7f2f7f"), ("22d141", "62d14100")])
def test_in_the_default_session_it_can_be_read_and_not_asked_for(talk, request_, answer):
    assert talk.ask(request_) == [answer]
    assert talk.live() == []


@pytest.mark.parametrize(("request_", "code"), [("2fd1410301", "13"), ("2fd1410001", "13"), ("22d143", "31")])
def test_a_request_of_another_form_is_refused(talk, request_, code):
    talk.ask("1003")
    assert talk.ask(request_) == [f"7f{request_[:2]}{code}"]


@BOTH
def test_the_controller_refuses_while_the_engine_turns_unless_it_is_trusting(talk, did):
    talk.ask("1003")
    talk.do("spin", rev=300, seconds=5.0)
    assert talk.ask(f"2f{did}03") == ["7f2f22"]
    talk.do("trusting", on=True)
    assert talk.ask(f"2f{did}03") == [f"6f{did}03"]
    assert talk.ask(f"22{did}") == [f"62{did}01"]


def test_the_controller_refuses_while_something_else_is_live(hold):
    talk = hold(FUEL)
    assert talk.ask("2fd1210305") == ["7f2f22"]
    assert talk.ask("2fd14203") == ["7f2f22"]
    assert talk.live() == ["fuel_inhibit"]


@pytest.mark.parametrize(
    ("end", "why"),
    [
        (lambda talk: talk.ask("2fd14100"), "released"),
        (lambda talk: talk.ask("1001"), "the default session was asked for"),
        (lambda talk: talk.run(5.1), "the session ended by itself"),
        (lambda talk: talk.do("inhibit_drops"), "the controller dropped it by itself"),
    ],
)
def test_whatever_ends_it_while_somebody_cranks_lets_the_engine_fire_up(hold, end, why):
    talk = hold(FUEL)
    talk.do("start", pressed=True)
    talk.run(1.5)
    talk.ask("22d141")
    assert talk.engine.state == "Cranking"
    end(talk)
    assert talk.outputs.history[-1]["why"] == why
    assert talk.ask("22d141") == ["62d14100"]
    talk.run(2.0)
    assert talk.engine.state == "Running"


def test_every_question_keeps_the_session_and_five_seconds_of_silence_end_it(hold):
    talk = hold(FUEL)
    for _ in range(3):
        talk.run(4.7)
        assert talk.ask("22d141") == ["62d14101"]
    talk.run(4.8)
    assert talk.live() == ["fuel_inhibit"]
    talk.run(0.2)
    assert talk.live() == []
    assert talk.ledger.entries[-1]["did"] == "ended: the session ended by itself"
    assert talk.violations == []  # the timer alone is nobody's fault


@pytest.mark.parametrize(
    ("cut", "why"),
    [
        (lambda talk: talk.do("key", on=False), "the key was turned off"),
        (lambda talk: setattr(talk.engine.battery, "extra_a", 500.0), "the supply was lost"),
    ],
)
def test_it_ends_with_the_supply(hold, cut, why):
    talk = hold(FUEL)
    cut(talk)
    talk.run(0.05)
    assert talk.live() == []
    assert talk.outputs.history[-1]["why"] == why
    assert talk.engine.held_off == frozenset()


def test_a_yes_that_holds_nothing(talk):
    talk.do("inhibit_not_held", on=True)
    talk.ask("1003")
    assert talk.ask("2fd14103") == ["6fd14103"]
    assert talk.ask("22d141") == ["62d14100"]
    assert talk.live() == []
    talk.do("inhibit_not_held", on=False)
    talk.ask("2fd14103")
    assert talk.ask("22d141") == ["62d14101"]


def test_a_drop_is_once_and_it_can_be_asked_for_anew(hold):
    talk = hold(FUEL)
    talk.do("inhibit_drops")
    assert talk.ask("22d141") == ["62d14100"]
    talk.ask("2fd14103")
    assert talk.ask("22d141") == ["62d14101"]


def test_what_is_not_held_cannot_be_dropped(talk):
    with pytest.raises(Misunderstood, match="No inhibit is held"):
        talk.do("inhibit_drops")


@pytest.mark.parametrize(("deed", "answer"), [("mute_status", []), ("busy_status", ["7f2221"])])
def test_a_status_that_is_not_told(hold, deed, answer):
    talk = hold(FUEL)
    talk.do(deed, on=True)
    for _ in range(2):
        talk.run(4.0)
        assert talk.ask("22d141") == answer
    assert talk.live() == ["fuel_inhibit"]  # asking keeps the session all the same
    assert len(talk.ask("22f195")) == 1  # nothing else is kept back
    talk.do(deed, on=False)
    assert talk.ask("22d141") == ["62d14101"]


def test_a_controller_deaf_to_releases_goes_on_holding(hold):
    talk = hold(FUEL)
    talk.do("deaf_to_release", on=True)
    assert talk.ask("2fd14100") == []
    assert talk.ask("22d141") == ["62d14101"]


def test_a_new_scenario_holds_nothing(hold):
    talk = hold(FUEL)
    old = talk.outputs
    talk.craft.play("dock")
    assert old.history[-1]["why"] == "the scenario was changed"
    assert talk.engine.held_off == frozenset()
