"""The list of what may be asked is exact: these bytes and no others."""

from pathlib import Path

import pytest

from bus.exchange import Class
from bus.requests import echo, requests_of

GOLDEN = Path(__file__).resolve().parents[2] / "golden" / "auk_requests.txt"


def golden():
    for line in GOLDEN.read_text("utf-8").splitlines():
        if line and not line.startswith("#"):
            ident, kind, *pdu = line.split()
            yield int(ident, 16), kind, bytes.fromhex("".join(pdu))


def test_the_requests_of_auk_are_exactly_the_golden_ones(auk):
    allowed = requests_of(auk.uds)
    asked = [line for line in golden() if line[1] in list(Class)]
    assert sorted((one.request, one.kind, one.pdu) for one in allowed) == sorted(asked)
    assert {(one.request, one.response) for one in allowed} == {(0x7E0, 0x7E8), (0x7E1, 0x7E9)}


def test_an_inhibit_of_auk_is_started_read_back_and_released_with_exactly_the_golden_bytes(auk):
    own = [line for line in golden() if line[1] not in list(Class)]
    plans = [plan for plan in auk.uds.outputs if plan.latched]
    made = [
        (plan.request, word, getattr(plan, word)) for plan in plans for word in ("start", "status", "release")
    ]
    assert own == made
    assert not {pdu for _, _, pdu in own} & {one.pdu for one in requests_of(auk.uds)}


def test_only_clearing_changes_anything_and_a_read_only_list_has_none_of_it(auk):
    writing = {one.pdu for one in requests_of(auk.uds) if one.kind is Class.WRITING}
    assert writing == {bytes.fromhex("14FFFFFF")}
    assert requests_of(auk.uds, writing=False) == {
        one for one in requests_of(auk.uds) if one.kind is Class.READING
    }


def test_nothing_that_moves_or_opens_a_session_is_on_the_list(auk):
    assert {one.pdu[0] for one in requests_of(auk.uds)} == {0x22, 0x19, 0x14}


def test_a_family_without_controllers_may_ask_nothing():
    assert requests_of(None) == frozenset()


@pytest.mark.parametrize(
    ("request_", "start"),
    [
        ("22F190", "62F190"),
        ("1902FF", "5902"),
        ("1904011700FF", "5904011700"),
        ("1906011700FF", "5906011700"),
        ("14FFFFFF", "54"),
    ],
)
def test_an_answer_must_repeat_what_was_asked(request_, start):
    # ISO 14229-1: service + 40, then the echo of each service.
    assert echo(bytes.fromhex(request_)) == bytes.fromhex(start)
