"""Every signal of the families j1939 and tern against a frame that was worked out by hand."""

import tomllib
from pathlib import Path

import pytest

from app.reading import Quality
from bus.family import SHIPPED, load_family
from bus.frame import EXTENDED, Frame

GOLDEN = tomllib.loads((Path(__file__).parents[2] / "golden" / "tern.toml").read_text("utf-8"))["frame"]
FAMILIES = {name: load_family(SHIPPED / name) for name in ("j1939", "tern")}
OWN = {"MakeMark", "ControllerSerial", "ShaftSpeed"}
"""Of tern alone."""

CASES = [(name, each) for name in FAMILIES for each in GOLDEN if name == "tern" or each["signal"] not in OWN]


@pytest.mark.parametrize(("name", "golden"), CASES, ids=[f"{name} {each['signal']}" for name, each in CASES])
def test_a_frame_worked_out_by_hand_gives_the_value_worked_out_by_hand(name, golden):
    frame = Frame(1.5, golden["ident"] | EXTENDED, bytes.fromhex(golden["data"]))
    readings = {reading.signal: reading for reading in FAMILIES[name].decoder().feed(frame)}
    reading = readings[golden["signal"]]
    assert reading.value == golden["value"], golden["how"]
    assert (reading.quality, reading.at, reading.source) == (Quality.GOOD, 1.5, 0)


@pytest.mark.parametrize("name", FAMILIES)
def test_no_signal_of_the_family_is_without_a_golden_frame(name):
    signals = {signal.name for message in FAMILIES[name].messages for signal in message.signals}
    assert signals == {each["signal"] for each in GOLDEN} - (OWN if name == "j1939" else set())


def test_tern_says_nothing_of_the_standard_groups_that_the_standard_does_not():
    layouts = {name: {each.name: each for each in family.messages} for name, family in FAMILIES.items()}
    for name, message in layouts["j1939"].items():
        ours, theirs = (
            [
                (each.name, each.shift, each.length, each.value(100), each.low, each.high, each.texts)
                for each in of
            ]
            for of in (message.signals, layouts["tern"][name].signals)
        )
        assert ours == theirs


@pytest.mark.parametrize(("name", "asked"), [("j1939", []), ("tern", ["Engine controller"])])
def test_nothing_can_be_fired_and_only_a_make_that_says_so_is_asked(name, asked):
    family = FAMILIES[name]
    assert family.uds is None
    catalogue = family.catalogue(1)
    assert (catalogue.outputs, catalogue.modules) == ([], asked)
    assert len(catalogue.ride) == 6


@pytest.mark.parametrize("family", FAMILIES.values(), ids=FAMILIES)
def test_every_limit_says_that_it_is_a_generic_default(family):
    limits = [limit for info in family.catalogue(1).signals for limit in info.limits]
    assert limits
    assert all(limit.generic and limit.source.startswith("generic default") for limit in limits)
