"""On a bus that no family explains every identifier is listed, and what an open standard says of it."""

import pytest

from bus.family import SHIPPED, load_family
from bus.frame import EXTENDED, Frame
from bus.raw_frames import MOST, RawFrames

FAMILIES = [load_family(SHIPPED / name) for name in ("auk", "j1939", "nmea2000", "skua", "tern")]


@pytest.fixture
def told():
    """What is told of (seconds, identifier, bytes in hexadecimal)."""

    def hear(*frames):
        raw = RawFrames(FAMILIES)
        for at, ident, data in frames:
            raw.feed(Frame(at, ident, bytes.fromhex(data)))
        return raw.told()

    return hear


def test_each_identifier_has_its_newest_bytes_how_often_and_how_far_apart(told):
    rows = told(
        (0.0, 0x321, "01 02"),
        (0.1, 0x321, "01 03"),
        (0.2, 0x321, "01 04"),
        (0.25, EXTENDED | 0x18FF2030, "FF"),
    )
    assert [(row.ident, row.data, row.times) for row in rows] == [("321", "01 04", 3), ("18FF2030", "FF", 1)]
    assert rows[0].gap_s == pytest.approx(0.1)
    assert rows[1].gap_s == 0.0


def test_what_an_open_standard_knows_is_said_and_nothing_of_a_make(told):
    # EEC1 of SAE J1939, 113.25 rev/min: a real frame with its expected value (standards 5.3).
    rows = told(
        (0.0, EXTENDED | 0x0CF00400, "FF FF FF 8A 03 FF FF FF"), (0.0, 0x120, "E0 2E FF FF FF FF FF FF")
    )
    by_ident = {row.ident: row.says for row in rows}
    assert "113.25 rpm" in by_ident["0CF00400"]
    assert by_ident["120"] == ""  # an identifier of auk, which was not recognised, names nothing


def test_what_the_standard_calls_not_available_is_not_said(told):
    [row] = told((0.0, EXTENDED | 0x0CF00400, "FF FF FF FF FF FF FF FF"))
    assert row.says == ""


def test_no_more_are_kept_than_a_small_craft_has():
    raw = RawFrames(FAMILIES)
    for ident in range(MOST + 7):
        raw.feed(Frame(0.0, ident, b""))
    assert (len(raw.told()), raw.left_out) == (MOST, 7)
    raw.feed(Frame(1.0, 3, b"\x01"))
    assert raw.told()[3].data == "01"
