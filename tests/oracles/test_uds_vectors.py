"""Worked answers, and long ones that another library has cut up.

The answers stand in the documentation and tests of open libraries and were printed by one of them (udsoncan
1.26.1); the frames come from scapy 2.8, which shares no code with the transport that is used here.
"""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scapy.contrib.isotp import ISOTP
from udsoncan import Response
from udsoncan.services import ReadDTCInformation

from app.faults import code_text, fault
from bus.exchange import AllowedRequest, Class, Exchange
from bus.family import SHIPPED, load_family
from bus.link import Link
from bus.uds_answers import identity_value, kept, records, stored
from bus.uds_form import Item

AUK = load_family(SHIPPED / "auk").uds


def test_two_faults_of_a_list():
    answer = bytes.fromhex("5902FF0117002F02011308")
    assert stored(answer) == {0x011700: 0x2F, 0x020113: 0x08}
    first, second = (fault("engine", number, status, {}) for number, status in stored(answer).items())
    assert (first.code, first.failed_now, first.pending, first.confirmed) == ("P0117", True, True, True)
    assert (second.code, second.failed_now, second.pending, second.confirmed) == (
        "P0201-13",
        False,
        False,
        True,
    )


def test_one_value_of_a_snapshot():
    # SAE J1979: 1A F8 is 1726 rev/min.
    lines = kept(bytes.fromhex("59040117002F0101F40C1AF8"), AUK.snapshot).lines
    assert [(line.label, line.value, line.unit) for line in lines] == [("Engine speed", "1726", "rev/min")]


def test_one_extended_record():
    assert records(bytes.fromhex("59060117002F0103"), AUK.extended) == (3, None)


def test_a_text_of_seventeen_letters():
    answer = bytes.fromhex("62F190") + b"1M8GDM9AXKP042788"
    item = Item(did=0xF190, label="Hull number", text=True)
    assert identity_value(answer, item) == "1M8GDM9AXKP042788"


@given(st.dictionaries(st.integers(1, 0xFFFFFF), st.integers(1, 0xFF), max_size=20))
def test_a_list_is_read_as_the_other_library_reads_it(faults):
    entries = b"".join(number.to_bytes(3, "big") + bytes([status]) for number, status in faults.items())
    answer = b"\x59\x02\xff" + entries
    theirs = ReadDTCInformation.interpret_response(Response.from_payload(answer), subfunction=2)
    listed = {dtc.id: dtc.status.get_byte_as_int() for dtc in theirs.service_data.dtcs}
    failed = {number: status for number, status in listed.items() if status & 0xAF}
    assert stored(answer) == failed
    for dtc in theirs.service_data.dtcs:
        one = fault("engine", dtc.id, dtc.status.get_byte_as_int(), {})
        assert (one.failed_now, one.pending) == (dtc.status.test_failed, dtc.status.pending)
        assert (one.confirmed, one.warning) == (
            dtc.status.confirmed,
            dtc.status.warning_indicator_requested,
        )


class Door:
    """Stands for the gate: hands out the frames of one answer, the rest after the flow control."""

    def __init__(self, frames):
        self.frames = frames
        self.sent = []

    def admit(self, request, intent=None, why=""):
        return Exchange(request)

    def transmit(self, exchange, ident, data):
        if exchange.let_out(ident, data):
            self.sent.append(data)
            now, self.frames = self.frames[:1], self.frames[1:]
            for frame in now if data[0] >> 4 == 0 else [*now, *self.frames]:
                exchange.hear(frame)

    def finish(self, exchange):
        exchange.close()


@settings(deadline=None)
@given(st.one_of(st.integers(0, 300), st.sampled_from([127, 4092])))
def test_a_long_answer_cut_up_by_the_other_library_is_put_together(length):
    payload = bytes.fromhex("62F190") + bytes(number % 256 for number in range(length))
    door = Door([bytes(frame)[8:] for frame in ISOTP(payload).fragment()])
    link = Link(door)
    link.begin(AllowedRequest(bytes.fromhex("22F190"), Class.READING, 0x7E0, 0x7E8, 0, "Asking"), 5.0)
    try:
        link.empty_rxqueue()
        link.send(bytes.fromhex("22F190"))
        assert link.wait_frame(2.0, exception=True) == payload
    finally:
        link.end()
    assert len(door.sent) == (1 if len(payload) <= 7 else 2)


@pytest.mark.parametrize(
    ("raw", "text"),
    [("011700", "P0117"), ("C10000", "U0100"), ("C07304", "U0073-04"), ("900016", "B1000-16")],
)
def test_codes_in_a_list_have_the_text_of_the_standard(raw, text):
    [number] = stored(bytes.fromhex(f"5902FF{raw}08"))
    assert code_text(number) == text
