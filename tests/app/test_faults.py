"""Fault codes: text, status, moments, order, what came back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.diagnosis import Fault
from app.faults import (
    came_back,
    code_number,
    code_text,
    fault,
    in_order,
    is_stored,
    moments,
    new_since,
)

# SAE J2012 / ISO 15031-6, two bytes: open decoders and public pages, see each group.
TWO_BYTES = {
    # one open general decoder, run
    "0117": "P0117",
    "0201": "P0201",
    "C100": "U0100",
    "D123": "U1123",
    "4123": "C0123",
    "9234": "B1234",
    # public pages
    "0143": "P0143",
    "0135": "P0135",
    # a real generic code with a letter among its digits: a decimal-only parser fails there
    "2A00": "P2A00",
    # worked out from the bits
    "3FFF": "P3FFF",
    "FFFF": "U3FFF",
}
# Three bytes, public pages on the failure type byte.
THREE_BYTES = {
    "C07304": "U0073-04",
    "900016": "B1000-16",
    "012700": "P0127",
    "803910": "B0039-10",
    "403123": "C0031-23",
}


@pytest.mark.parametrize(("raw", "text"), TWO_BYTES.items())
def test_two_bytes_make_the_text_of_the_standard(raw, text):
    assert code_text(int(raw + "00", 16)) == text
    assert code_number(text) == int(raw + "00", 16)


@pytest.mark.parametrize(("raw", "text"), THREE_BYTES.items())
def test_a_failure_type_stands_behind_a_dash_unless_it_says_nothing(raw, text):
    assert code_text(int(raw, 16)) == text
    assert code_number(text) == int(raw, 16)


@given(st.integers(0, 0xFFFFFF))
def test_every_code_comes_back_from_its_text(number):
    assert code_number(code_text(number)) == number


@pytest.mark.parametrize("text", ["", "P117", "P0117-", "p0117", "X0117", "P4117", "P0117-000", "P0117 "])
def test_what_is_no_code_is_refused(text):
    with pytest.raises(ValueError, match="no fault code"):
        code_number(text)


def test_a_number_of_more_than_three_bytes_is_no_code():
    with pytest.raises(ValueError, match="three bytes"):
        code_text(0x1000000)


# ISO 14229-1 status byte; set bits as two open libraries print them. 0x50 is the state right after a clear
# (from memory): every test has yet to run, nothing has failed.
BITS = {0x01: {0}, 0x08: {3}, 0x09: {0, 3}, 0x2F: {0, 1, 2, 3, 5}, 0x50: {4, 6}, 0xAF: {0, 1, 2, 3, 5, 7}}


@pytest.mark.parametrize(("status", "bits"), BITS.items())
def test_the_status_byte_is_read_bit_by_bit(status, bits):
    one = fault("engine", 0x011700, status, {})
    assert (one.failed_now, one.pending, one.confirmed, one.warning) == (
        0 in bits,
        2 in bits,
        3 in bits,
        7 in bits,
    )
    assert one.status == status


def test_a_test_that_has_not_run_is_no_fault():
    assert not any(is_stored(status) for status in (0x00, 0x10, 0x40, 0x50))
    assert all(is_stored(1 << bit) for bit in (0, 1, 2, 3, 5, 7))


def test_a_name_is_never_invented():
    words = {0x011700: "Coolant temperature sensor circuit low"}
    assert fault("engine", 0x011700, 8, words).text == words[0x011700]
    assert fault("engine", 0x011716, 8, words).text == words[0x011700]
    assert fault("engine", 0x011800, 8, words).text == ""


def make(number, hours=None, status=0x08, module="engine"):
    return Fault(
        module, number, code_text(number), "", status, bool(status & 1), bool(status & 4), bool(status & 8),
        False, hours=hours,
    )  # fmt: skip


def test_what_fails_now_stands_first_then_what_is_confirmed_then_the_latest():
    pending, old, new, now = (
        make(0x010100, 9.0, 0x04),
        make(0x010200, 1.0),
        make(0x010300, 2.0),
        make(0x010400, 0.5, 0x09),
    )
    unknown = make(0x010000)
    assert in_order([pending, unknown, old, new, now]) == [now, new, old, unknown, pending]


def test_faults_of_one_moment_stand_together_and_the_latest_moment_is_first():
    # A sensor supply that fails takes several sensors with it within minutes.
    first, second, third = make(0x064100, 120.0), make(0x010700, 120.05), make(0x011700, 120.1)
    before, unknown = make(0x056200, 119.8), make(0x030000)
    groups = moments([before, third, unknown, first, second])
    assert [{one.number for one in group} for group in groups] == [
        {0x064100, 0x010700, 0x011700},
        {0x056200},
        {0x030000},
    ]


def test_a_moment_does_not_grow_from_fault_to_fault():
    chain = [make(0x010000 + 0x100 * number, 100 + 0.08 * number) for number in range(5)]
    groups = moments(chain)
    for group in groups:
        assert max(one.hours for one in group) - min(one.hours for one in group) <= 0.1 + 1e-6
    assert len(groups) > 1


@given(
    st.lists(
        st.tuples(st.integers(1, 30), st.one_of(st.none(), st.integers(0, 400))),
        unique_by=lambda pair: pair[0],
    )
)
def test_no_fault_is_lost_or_doubled_by_grouping(pairs):
    faults = [
        make(number << 8, None if twentieths is None else twentieths * 0.05) for number, twentieths in pairs
    ]
    groups = moments(faults)
    assert sorted(one.number for group in groups for one in group) == sorted(one.number for one in faults)
    assert all(len(group) == 1 for group in groups if group[0].hours is None)


def test_only_what_was_there_before_can_come_back():
    before = [make(0x011700), make(0x030100)]
    now = [make(0x011700), make(0x056200), make(0x030100, module="display")]
    assert [(back.code, back.after_s) for back in came_back(before, now, 3.0)] == [("P0117", 3.0)]


def test_what_a_person_has_not_seen_is_new():
    seen = [make(0x011700)]
    assert new_since(seen, [make(0x011700), make(0x030100)]) == [make(0x030100)]
