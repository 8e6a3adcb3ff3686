"""Trouble codes of SAE J1939-73 packed, lit and sent by can-j1939 2.0.12 (PyPI, MIT): we read what it meant.

Its own classes pack the codes and lamps; its transport layer cuts a long message into the frames of a
broadcast, which come to us as from a bus.
"""

from __future__ import annotations

import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from j1939.diagnostic_messages import DTC, DtcLamp
from j1939.j1939_21 import J1939_21
from j1939.message_id import FrameFormat

from bus.dm import LAMPS, Lamp, decode
from bus.frame import EXTENDED, Frame
from bus.troubles import MOST_FAULTS, HeardTroubles
from simulator.tern_faults import code, frames

SPNS = st.integers(1, 0x7FFFE)
FMIS = st.integers(0, 30)
TIMES = st.integers(0, 126)
CODES = st.lists(st.tuples(SPNS, FMIS, TIMES), max_size=MOST_FAULTS, unique_by=lambda one: one[:2])
STATES = {
    DtcLamp.OFF: Lamp(lit=False),
    DtcLamp.ON: Lamp(lit=True),
    DtcLamp.ON_SLOW_FLASH: Lamp(lit=True, flash="slow"),
    DtcLamp.ON_FAST_FLASH: Lamp(lit=True, flash="fast"),
    DtcLamp.NA: Lamp(lit=None),
}
LIGHTS = st.fixed_dictionaries({key: st.sampled_from(list(STATES)) for key in ("pl", "awl", "rsl", "mil")})


def packed(lights, codes):
    """Bytes of a whole DM1 by its classes."""
    data = DtcLamp().get_data(dict(lights))
    for spn, fmi, times in codes:
        data += list(DTC(spn=spn, fmi=fmi, oc=times).dtc.to_bytes(4, "little"))
    if not codes:
        data += [0, 0, 0, 0]
    return bytes(data).ljust(8, b"\xff")


def sent(data, source):
    """Frames of DM1 by its transport layer, as it would put them on a bus."""
    found = []
    layer = J1939_21(
        lambda ident, extended, payload: found.append((ident | EXTENDED * bool(extended), bytes(payload))),
        lambda: None, lambda *_: None, 1, None, None, lambda *_: True,
    )  # fmt: skip
    frame_format = FrameFormat.FEFF
    assert layer.send_pgn(0, 0xFE, 0xCA, 6, source, list(data), 0, frame_format) is not False
    for _ in range(300):  # its time is ours: each step is later than its next deadline
        layer.async_job_thread(time.time() + 3600.0)
    return found


@given(CODES, LIGHTS)
def test_every_code_and_lamp_is_read_as_it_was_meant(codes, lights):
    message = decode(packed(lights, codes))
    assert [(one.spn, one.fmi, one.times, one.old) for one in message.troubles] == [
        (*each, False) for each in codes
    ]
    assert message.lamps == tuple(STATES[lights[key]] for key in ("pl", "awl", "rsl", "mil"))
    assert LAMPS == ("protect", "amber warning", "red stop", "malfunction")


@settings(max_examples=50)
@given(CODES, LIGHTS, st.integers(0, 253))
def test_a_message_cut_into_frames_comes_whole(codes, lights, source):
    troubles = HeardTroubles()
    for number, (ident, data) in enumerate(sent(packed(lights, codes), source)):
        troubles.feed(Frame(number * 0.05, ident, data))
    (told,) = troubles.told()
    assert told.source == source
    assert [(one.spn, one.fmi, one.times) for one in told.faults] == codes
    assert troubles.bad == 0


@pytest.mark.parametrize("count", [1, 2, 3, 40])
def test_the_simulated_engine_packs_and_cuts_as_it_does(count):
    codes = [(100 + number, number % 20, number + 1) for number in range(count)]
    ours = b"\x04\xff" + b"".join(code(*each) for each in codes)
    theirs = packed({"pl": 0, "awl": DtcLamp.ON, "rsl": 0, "mil": 0}, codes)
    assert ours.ljust(8, b"\xff") == theirs
    cut = [data for _, data in frames(0xFECA, theirs)]
    assert cut == [data for _, data in sent(theirs, 0)]
