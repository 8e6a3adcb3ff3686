"""Every signal of the families auk and skua against a frame that was worked out by hand."""

import tomllib
from pathlib import Path

import pytest

from app.reading import Quality
from bus.family import SHIPPED, load_family
from bus.frame import Frame

FOLDER = Path(__file__).parent.parent / "golden"
FAMILIES = {name: load_family(SHIPPED / name) for name in ("auk", "skua")}
GOLDEN = {name: tomllib.loads((FOLDER / f"{name}.toml").read_text("utf-8"))["frame"] for name in FAMILIES}
EACH = [(name, golden) for name, frames in GOLDEN.items() for golden in frames]
IDS = [f"{name}-{golden['signal']}" for name, golden in EACH]


@pytest.mark.parametrize(("name", "golden"), EACH, ids=IDS)
def test_a_frame_worked_out_by_hand_gives_the_value_worked_out_by_hand(name, golden):
    frame = Frame(1.5, golden["ident"], bytes.fromhex(golden["data"]))
    readings = {reading.signal: reading for reading in FAMILIES[name].decoder().feed(frame)}
    reading = readings[golden["signal"]]
    assert reading.value == golden["value"], golden["how"]
    assert type(reading.value) is type(golden["value"])
    assert (reading.quality, reading.at, reading.source) == (Quality.GOOD, 1.5, golden["ident"])


@pytest.mark.parametrize(("name", "golden"), EACH, ids=IDS)
def test_the_layout_finds_the_raw_number_worked_out_by_hand(name, golden):
    layout = FAMILIES[name].signal(golden["signal"])
    whole = int.from_bytes(bytes.fromhex(golden["data"]), "big" if layout.big else "little")
    raw = whole >> layout.shift & ((1 << layout.length) - 1)
    if layout.signed and raw >> layout.length - 1:
        raw -= 1 << layout.length
    assert raw == golden["raw"], golden["how"]


@pytest.mark.parametrize("name", FAMILIES)
def test_no_signal_of_the_family_is_without_a_golden_frame(name):
    signals = [signal.name for message in FAMILIES[name].messages for signal in message.signals]
    assert sorted(golden["signal"] for golden in GOLDEN[name]) == sorted(signals)
