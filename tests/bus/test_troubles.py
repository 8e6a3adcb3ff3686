"""Faults that engines tell by themselves: the newest of every sender, whole, and never by mistake "none"."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bus.frame import EXTENDED, Frame
from bus.recording import RecordingReader
from bus.troubles import MOST_FAULTS, MOST_SENDERS, HeardTroubles
from simulator.craft import Craft

DM1, DM2 = 0x18FECA00 | EXTENDED, 0x18FECB00 | EXTENDED


@pytest.fixture
def troubles():
    return HeardTroubles()


def frame(ident, data, at=1.0):
    return Frame(at, ident, bytes.fromhex(data))


def codes(one):
    return [(fault.spn, fault.fmi, fault.times, fault.active) for fault in one.faults]


def test_a_real_engine_without_faults_tells_that(troubles):
    """A frame of the open j1939-engine recording (standards.md 5.3): lamps off, no active code."""
    assert troubles.told() == []
    troubles.feed(frame(DM1, "00FF00000000FFFF", 7.0))
    (engine,) = troubles.told()
    assert (engine.source, engine.active_at, engine.before_at) == (0, 7.0, None)
    assert (engine.lamps, engine.faults) == ([], [])


def test_three_codes_in_a_broadcast():
    """Captured from can-j1939 on a virtual bus (standards.md 5.5): 110/0 once, 100/1 3 times, 190/8 twice."""
    troubles = HeardTroubles()
    for ident, data in (
        (0x18ECFF00, "200E0002FFCAFE00"),
        (0x1CEBFF00, "0104FF6E00000164"),
        (0x1CEBFF00, "02000103BE000802"),
    ):
        assert troubles.told() == []
        troubles.feed(frame(ident | EXTENDED, data))
    (engine,) = troubles.told()
    assert codes(engine) == [(110, 0, 1, True), (100, 1, 3, True), (190, 8, 2, True)]
    assert engine.lamps == ["amber warning"]


def test_what_was_active_stands_behind_what_is_and_only_once(troubles):
    troubles.feed(frame(DM1, "40FF6E000301FFFF", 1.0))
    troubles.feed(frame(DM2, "00FF6E000301FFFF", 2.0))
    assert codes(troubles.told()[0]) == [(110, 3, 1, True)]
    troubles.feed(frame(DM2, "00FF640001030000", 3.0))
    assert codes(troubles.told()[0]) == [(110, 3, 1, True), (100, 1, 3, False)]
    troubles.feed(frame(DM1, "00FF00000000FFFF", 4.0))
    (engine,) = troubles.told()
    assert codes(engine) == [(100, 1, 3, False)]
    assert (engine.active_at, engine.before_at, engine.lamps) == (4.0, 3.0, [])


def test_nonsense_does_not_take_what_is_known_away(troubles):
    troubles.feed(frame(DM1, "10FF6E000001FFFF", 1.0))
    troubles.feed(frame(DM1, "10FF6E", 2.0))
    (engine,) = troubles.told()
    assert (codes(engine), engine.active_at, troubles.bad) == ([(110, 0, 1, True)], 1.0, 1)


def test_two_senders_are_kept_apart_and_the_number_kept_is_bounded(troubles):
    for source in range(MOST_SENDERS + 3):
        troubles.feed(frame(DM1 | source, f"04FF{source + 1:02X}000301FFFF"))
    told = troubles.told()
    assert [one.source for one in told] == list(range(MOST_SENDERS))
    assert [codes(one)[0][0] for one in told] == list(range(1, MOST_SENDERS + 1))


def test_more_codes_than_are_kept_are_counted(troubles):
    body = "04FF" + "".join(f"{spn:02X}000301" for spn in range(1, MOST_FAULTS + 6))
    data = bytes.fromhex(body)
    packets = -(-len(data) // 7)
    control = bytes([32, len(data) & 0xFF, len(data) >> 8, packets, 0xFF, 0xCA, 0xFE, 0x00])
    troubles.feed(Frame(1.0, 0x18ECFF00 | EXTENDED, control))
    for number in range(packets):
        part = data[number * 7 : number * 7 + 7].ljust(7, b"\xff")
        troubles.feed(Frame(1.0 + number * 0.05, 0x18EBFF00 | EXTENDED, bytes([number + 1]) + part))
    (engine,) = troubles.told()
    assert (len(engine.faults), engine.more) == (MOST_FAULTS, 5)


@given(
    st.lists(
        st.tuples(
            st.sampled_from([DM1, DM2, 0x18ECFF00 | EXTENDED, 0x18EBFF00 | EXTENDED, 0x7E8]),
            st.binary(max_size=8),
        ),
        max_size=30,
    )
)
def test_whatever_comes_it_never_raises_and_tells_no_more_than_it_heard(frames):
    troubles = HeardTroubles()
    for number, (ident, data) in enumerate(frames):
        troubles.feed(Frame(float(number), ident, data))
    heard = any(ident in (DM1, DM2) and len(data) == 8 for ident, data in frames)
    broadcast = any(ident >> 8 & 0xFFFF == 0xEBFF for ident, _ in frames)
    assert heard or broadcast or not troubles.told()


def test_the_simulated_tern_tells_its_faults_and_that_they_are_over(troubles):
    craft = Craft("tern", "idle")
    for signal in ("CoolantTemperature", "OilPressure", "IntakeTemperature"):
        craft.act({"do": "plant", "signal": signal, "kind": "error"})
    for each in craft.advance(5.0):
        troubles.feed(Frame(*each))
    (engine,) = troubles.told()
    assert {(one.spn, one.fmi, one.active) for one in engine.faults} == {
        (110, 3, True),
        (100, 3, True),
        (105, 3, True),
    }
    assert engine.lamps == ["malfunction"]
    craft.act({"do": "mend"})
    for each in craft.advance(10.0):
        troubles.feed(Frame(*each))
    (engine,) = troubles.told()
    assert {one.active for one in engine.faults} == {False}
    assert engine.lamps == []
    assert troubles.bad == 0


def test_a_recorded_engine_tells_that_nothing_is_active(troubles, nmea_data):
    """Open data, see tests/oracles/test_j1939_traffic.py: its DM1 says lamps off and no code."""
    for each in RecordingReader(nmea_data / "j1939-engine.candump"):
        troubles.feed(each)
    assert [(one.source, one.lamps, one.faults) for one in troubles.told()] == [(0, [], [])]
