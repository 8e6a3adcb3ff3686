"""Requests, answers, refusals and frames against scapy, a packet library that shares no code with ours.

Source: scapy 2.8, contrib/automotive/uds and contrib/isotp. It is used by these tests alone.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scapy.contrib.automotive.uds import (
    DTC,
    UDS,
    UDS_CDTCI,
    UDS_NR,
    UDS_RDBI,
    UDS_RDBIPR,
    UDS_RDTCI,
    UDS_RDTCIPR,
    DTCAndStatusRecord,
    DTCExtendedData,
    DTCExtendedDataRecord,
    DTCSnapshot,
    DTCSnapshotRecord,
)
from scapy.contrib.isotp import ISOTP
from scapy.packet import Raw

from app.faults import LETTERS, code_text, is_stored
from app.nrc import REFUSALS
from bus.exchange import frames_of
from bus.family import SHIPPED, load_family
from bus.requests import requests_of
from bus.uds_answers import identity_value, kept, records, stored
from bus.uds_form import Item

AUK = load_family(SHIPPED / "auk").uds
NUMBER = st.integers(1, 0xFFFFFF)
STATUS = st.integers(0, 0xFF)


def dtc(number):
    return DTC(number.to_bytes(3, "big"))


def text_of(code):
    """A code's text from the fields that scapy takes it apart into."""
    digits = f"{LETTERS[code.system]}{code.type}{code.numeric_value_code:03X}"
    failure = code.additional_information_code
    return f"{digits}-{failure:02X}" if failure else digits


@pytest.mark.parametrize(
    "request_", sorted(requests_of(AUK), key=lambda one: (one.request, one.pdu)), ids=str
)
def test_every_request_says_what_it_is_meant_to_say(request_):
    packet = UDS(request_.pdu)
    assert bytes(packet) == request_.pdu
    inner = packet.payload
    if packet.service == 0x22:
        assert isinstance(inner, UDS_RDBI)
        assert inner.identifiers[0] in {item.did for item in AUK.identity}
        assert f"{inner.identifiers[0]:04X}" in request_.what
    elif packet.service == 0x14:
        assert isinstance(inner, UDS_CDTCI)
        assert (inner.groupOfDTCHighByte, inner.groupOfDTCMiddleByte, inner.groupOfDTCLowByte) == (255,) * 3
    else:
        assert isinstance(inner, UDS_RDTCI)
        name = UDS_RDTCI.reportTypes[inner.reportType]
        if name == "reportDTCByStatusMask":
            assert int(inner.DTCStatusMask) == 0xFF
            return
        assert name in ("reportDTCSnapshotRecordByDTCNumber", "reportDTCExtendedDataRecordByDTCNumber")
        number = int.from_bytes(request_.pdu[2:5], "big")
        assert text_of(inner.dtc) == code_text(number)
        assert number in {number for words in AUK.words.values() for number in words}
        last = inner.DTCSnapshotRecordNumber if inner.reportType == 4 else inner.DTCExtendedDataRecordNumber
        assert last == 0xFF


@given(NUMBER)
def test_the_text_of_every_code_is_that_of_its_fields(number):
    assert code_text(number) == text_of(dtc(number))


@given(st.dictionaries(NUMBER, STATUS, max_size=20), STATUS)
def test_a_list_of_faults_is_read_as_it_was_built(faults, mask):
    answer = UDS() / UDS_RDTCIPR(
        reportType=2,
        DTCStatusAvailabilityMask=mask,
        DTCAndStatusRecord=[
            DTCAndStatusRecord(dtc=dtc(number), status=status) for number, status in faults.items()
        ],
    )
    expected = {number: status & mask for number, status in faults.items() if is_stored(status & mask)}
    assert stored(bytes(answer)) == expected


def test_the_bits_of_a_status_are_named_as_we_name_them():
    names = {bit: UDS_RDTCI.dtcStatus[bit] for bit in UDS_RDTCI.dtcStatus}
    assert {names[bit] for bit in (0x01, 0x04, 0x08, 0x80)} == {
        "TestFailed",
        "PendingDTC",
        "ConfirmedDTC",
        "WarningIndicatorRequested",
    }
    not_run = {names[1 << bit] for bit in range(8) if not is_stored(1 << bit)}
    assert not_run == {"TestNotCompletedSinceLastClear", "TestNotCompletedThisOperationCycle"}


@given(NUMBER, STATUS, st.integers(0, 0xFFFF), st.integers(0, 0xFF))
def test_a_snapshot_is_read_as_it_was_built(number, status, speed, coolant):
    data = [b"\xf4\x0c" + speed.to_bytes(2, "big"), b"\xf4\x05" + bytes([coolant])]
    answer = UDS() / UDS_RDTCIPR(
        reportType=4,
        snapshotRecord=DTCSnapshotRecord(
            dtcAndStatus=DTCAndStatusRecord(dtc=dtc(number), status=status),
            snapshots=[
                DTCSnapshot(
                    record_number=1,
                    record_number_of_identifiers=len(data),
                    snapshotData=[Raw(load=b"".join(data))],
                )
            ],
        ),
    )
    raw = bytes(answer)
    assert raw[:6] == b"\x59\x04" + number.to_bytes(3, "big") + bytes([status])
    lines = kept(raw, AUK.snapshot).lines
    assert [(line.label, line.value) for line in lines] == [
        ("Engine speed", "not known" if speed == 0xFFFF else f"{speed / 4:.0f}"),
        ("Coolant", "not known" if coolant == 0xFF else f"{coolant - 40}"),
    ]


@given(NUMBER, STATUS, st.integers(0, 0xFF), st.integers(0, 0xFF))
def test_an_extended_record_is_read_as_it_was_built(number, status, count, age):
    answer = UDS() / UDS_RDTCIPR(
        reportType=6,
        extendedDataRecord=DTCExtendedDataRecord(
            dtcAndStatus=DTCAndStatusRecord(dtc=dtc(number), status=status),
            extendedData=[
                DTCExtendedData(data_type=1, record=count),
                DTCExtendedData(data_type=2, record=age),
            ],
        ),
    )
    assert records(bytes(answer), AUK.extended) == (count, age)


@given(st.text(st.characters(min_codepoint=0x21, max_codepoint=0x7E), min_size=1, max_size=30))
def test_an_identity_text_is_read_as_it_was_built(text):
    answer = bytes(UDS() / UDS_RDBIPR(dataIdentifier=0xF190) / Raw(load=text.encode()))
    assert identity_value(answer, Item(did=0xF190, label="Hull number", text=True)) == text


def test_every_refusal_has_the_name_of_the_standard():
    theirs = UDS_NR.negativeResponseCodes
    for code, refusal in REFUSALS.items():
        if code != 0x94:  # newer than their table
            assert theirs[code] == refusal.name, f"{code:02X}"
    # Codes of authentication and of encrypted data belong to services that we never ask.
    left_out = {code for code in theirs if code not in REFUSALS and theirs[code] != "ISOSAEReserved"}
    assert left_out == {0x00, *range(0x38, 0x5E)} & set(theirs)


@given(st.binary(min_size=1, max_size=4095))
def test_a_request_is_cut_into_the_frames_of_the_standard(pdu):
    theirs = [bytes(frame)[8:] for frame in ISOTP(pdu).fragment()]
    ours = frames_of(pdu, 0)
    assert [frame.ljust(8, b"\0") for frame in theirs] == ours
