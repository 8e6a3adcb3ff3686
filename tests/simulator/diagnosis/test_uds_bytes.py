"""Byte-exact conversations of ISO 14229-1, one controller alone.

Requests and answers where no other source is named: built and parsed by udsoncan 1.26.1, a general library;
the numbers of negative answers are those on which udsoncan and scapy agree.
"""

import pytest
import udsoncan
from udsoncan import Dtc, services

from simulator.codes import code_bytes
from simulator.errors import Misunderstood
from simulator.trouble import Stored


def stored(alone):
    alone.memory.stored["P0117"] = Stored(0x2F, count=3, age=0, trips=2, snapshot=bytes.fromhex("01F40C1AF8"))
    alone.memory.stored["P0201-13"] = Stored(0x08, count=1)


@pytest.mark.parametrize(
    ("request_", "answer"),
    [
        ("10 03", "50 03 00 32 01 F4"),
        ("10 01", "50 01 00 32 01 F4"),
        ("14 FF FF FF", "54"),
        ("19 02 08", "59 02 FF 01 17 00 2F 02 01 13 08"),
        ("19 02 01", "59 02 FF 01 17 00 2F"),
        ("19 02 80", "59 02 FF"),
        ("19 04 01 17 00 FF", "59 04 01 17 00 2F 01 01 F4 0C 1A F8"),
        ("19 04 01 17 00 01", "59 04 01 17 00 2F 01 01 F4 0C 1A F8"),
        ("19 06 01 17 00 01", "59 06 01 17 00 2F 01 03"),
        ("19 06 01 17 00 FF", "59 06 01 17 00 2F 01 03 02 00"),  # the family's two records: count, age
        ("19 0A", "59 0A FF 01 17 00 2F 02 01 13 08"),
        (
            "22 F1 90",
            "62 F1 90 31 4D 38 47 44 4D 39 41 58 4B 50 30 34 32 37 38 38",
        ),
        ("3E 00", "7E 00"),
        ("3E 80", None),
        ("10 83", None),
        ("19 82 80", None),
    ],
)
def test_a_request_gets_exactly_the_bytes_of_the_standard(alone, request_, answer):
    stored(alone)
    assert alone.ask(request_) == answer


def test_an_output_is_controlled_and_given_back(alone):
    alone.outputs.trusting = True  # 6 s of it: more than this controller allows by itself
    assert alone.ask("10 03") is not None
    assert alone.ask("2F 9B 00 03 3C") == "6F 9B 00 03 3C"
    assert alone.outputs.live
    # The published example gives the state after the parameter; this family's answer ends with the parameter.
    assert alone.ask("2F 9B 00 00") == "6F 9B 00 00"
    assert not alone.outputs.live


@pytest.mark.parametrize(
    ("request_", "answer"),
    [
        ("11 01", "7F 11 11"),
        ("27 01", "7F 27 11"),
        ("2E F1 90 00", "7F 2E 11"),
        ("31 01 02 01", "7F 31 11"),
        ("10 04", "7F 10 12"),
        ("19 01 FF", "7F 19 12"),
        ("3E 01", "7F 3E 12"),
        ("10", "7F 10 13"),
        ("10 03 00", "7F 10 13"),
        ("19 02", "7F 19 13"),
        ("22 F1", "7F 22 13"),
        ("22 F1 90 F1 8C", "7F 22 13"),
        ("14 FF FF", "7F 14 13"),
        ("10 02", "7F 10 7E"),
        ("14 00 00 00", "7F 14 31"),
        ("22 F1 91", "7F 22 31"),
        ("19 04 01 18 00 FF", "7F 19 31"),
        ("19 06 01 17 00 07", "7F 19 31"),
        ("2F 9B 00 03 05", "7F 2F 7F"),
        ("2F 9B 00 00", "7F 2F 7F"),
    ],
)
def test_a_refusal_names_its_reason(alone, request_, answer):
    assert alone.ask(request_) == answer


@pytest.mark.parametrize(
    ("request_", "code"),
    [
        ("2F 9B 01 03 05", "31"),
        ("2F 9B 00 02 05", "31"),
        ("2F 9B 00 03", "13"),
        ("2F 9B 00", "13"),
        ("2F 9B 00 03 0B", "31"),
        ("2F 9B 00 03 00", "31"),
        ("2F 9B 00 00 01", "13"),
        ("10 02", "22"),
    ],
)
def test_within_the_extended_session_a_refusal_names_its_reason(alone, request_, code):
    alone.ask("10 03")
    assert alone.ask(request_) == f"7F {request_[:2]} {code}"


# Functionally addressed requests: silent for 11, 12, 31, 7E, 7F (an encyclopaedic summary of the standard).
@pytest.mark.parametrize("request_", ["11 01", "19 01 FF", "22 F1 91", "10 02", "2F 9B 00 00"])
def test_a_request_to_all_is_not_refused_aloud_where_it_does_not_concern_the_controller(alone, request_):
    assert alone.ask(request_, functional=True) is None


def test_a_request_to_all_is_answered_and_other_refusals_are_given(alone):
    assert alone.ask("3E 00", functional=True) == "7E 00"
    assert alone.ask("22 F1", functional=True) == "7F 22 13"


@pytest.mark.parametrize(
    ("code", "data"),
    [
        ("P0117", "011700"),
        ("P0201", "020100"),
        ("P0143", "014300"),
        ("P0135", "013500"),
        ("P3FFF", "3FFF00"),
        ("U0100", "C10000"),
        ("U1123", "D12300"),
        ("C0123", "412300"),
        ("B1234", "923400"),
        ("U3FFF", "FFFF00"),
        ("P2A00", "2A0000"),
        ("U0073-04", "C07304"),
        ("B1000-16", "900016"),
        ("B0039-10", "803910"),
        ("C0031-23", "403123"),
    ],
)
def test_a_code_has_the_bytes_of_published_tables(code, data):
    # SAE J2012 / ISO 15031-6 as printed by python-OBD 0.7.3 and two engineers' summaries of the standard.
    assert code_bytes(code).hex().upper() == data


@pytest.mark.parametrize("text", ["P4000", "X0100", "p0117", "P011", "P01177", "P0117-", "P0117-1", ""])
def test_what_is_no_code_is_refused(text):
    with pytest.raises(Misunderstood, match="no fault code"):
        code_bytes(text)


def test_an_outside_library_reads_the_answers_as_they_are_meant(alone):
    stored(alone)
    raw = bytes.fromhex(alone.ask("19 02 FF"))
    response = udsoncan.Response.from_payload(raw)
    data = services.ReadDTCInformation.interpret_response(
        response, services.ReadDTCInformation.Subfunction.reportDTCByStatusMask
    ).service_data
    assert [(dtc.id, dtc.status.get_byte_as_int()) for dtc in data.dtcs] == [
        (0x011700, 0x2F),
        (0x020113, 0x08),
    ]
    assert isinstance(data.dtcs[0], Dtc)
    assert data.dtcs[0].status.confirmed
    assert data.dtcs[0].status.test_failed
    session = services.DiagnosticSessionControl.interpret_response(
        udsoncan.Response.from_payload(bytes.fromhex(alone.ask("10 03")))
    ).service_data
    assert (session.p2_server_max, session.p2_star_server_max) == (0.05, 5.0)
