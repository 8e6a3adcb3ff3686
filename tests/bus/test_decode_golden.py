"""Every signal of family auk against a frame that was worked out by hand."""

import tomllib
from pathlib import Path

import pytest

from app.reading import Quality
from bus.family import SHIPPED, load_family
from bus.frame import Frame

GOLDEN = tomllib.loads((Path(__file__).parent.parent / "golden" / "auk.toml").read_text("utf-8"))["frame"]


@pytest.fixture(scope="module")
def auk():
    return load_family(SHIPPED / "auk")


@pytest.mark.parametrize("golden", GOLDEN, ids=[golden["signal"] for golden in GOLDEN])
def test_a_frame_worked_out_by_hand_gives_the_value_worked_out_by_hand(golden, auk):
    frame = Frame(1.5, golden["ident"], bytes.fromhex(golden["data"]))
    readings = {reading.signal: reading for reading in auk.decoder().feed(frame)}
    reading = readings[golden["signal"]]
    assert reading.value == golden["value"], golden["how"]
    assert type(reading.value) is type(golden["value"])
    assert (reading.quality, reading.at, reading.source) == (Quality.GOOD, 1.5, golden["ident"])


@pytest.mark.parametrize("golden", GOLDEN, ids=[golden["signal"] for golden in GOLDEN])
def test_the_layout_finds_the_raw_number_worked_out_by_hand(golden, auk):
    layout = auk.signal(golden["signal"])
    whole = int.from_bytes(bytes.fromhex(golden["data"]), "big" if layout.big else "little")
    raw = whole >> layout.shift & ((1 << layout.length) - 1)
    if layout.signed and raw >> layout.length - 1:
        raw -= 1 << layout.length
    assert raw == golden["raw"], golden["how"]


def test_no_signal_of_the_family_is_without_a_golden_frame(auk):
    signals = [signal.name for message in auk.messages for signal in message.signals]
    assert sorted(golden["signal"] for golden in GOLDEN) == sorted(signals)
