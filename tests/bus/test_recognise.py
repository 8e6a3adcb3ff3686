"""A craft is named when its traffic names it, and never between two families."""

import shutil

import pytest

from bus.family import SHIPPED, load_family
from bus.frame import EXTENDED, Frame
from bus.recognise import Recogniser

AUK, NMEA = load_family(SHIPPED / "auk"), load_family(SHIPPED / "nmea2000")
NAMING = [0x120, 0x1A0, 0x210]


@pytest.fixture
def hears():
    """A recogniser of these families that has heard these (identifier, bytes) frames."""

    def hear(families, *frames):
        recogniser = Recogniser(families)
        for ident, data in frames:
            recogniser.feed(Frame(0.0, ident, data))
        return recogniser

    return hear


@pytest.fixture
def copy(tmp_path, monkeypatch):
    """Another family with the bits of auk."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))

    def make(name, old="", new=""):
        folder = shutil.copytree(SHIPPED / "auk", tmp_path / name)
        path = folder / "family.toml"
        text = path.read_text().replace('name = "auk"', f'name = "{name}"')
        assert old in text
        path.write_text(text.replace(old, new, 1))
        return load_family(folder)

    return make


def test_a_family_is_named_when_the_last_of_its_messages_is_heard(hears):
    recogniser = Recogniser([AUK, NMEA])
    assert not recogniser.heard
    for number, ident in enumerate(NAMING):
        assert recogniser.family is None
        for _ in range(3):
            recogniser.feed(Frame(float(number), ident, bytes(8)))
    assert recogniser.heard
    assert recogniser.family is AUK


@pytest.mark.parametrize("missing", NAMING)
def test_with_one_message_missing_nothing_is_named(hears, missing):
    others = [(ident, bytes(8)) for ident in range(0x800) if ident != missing]
    assert hears([AUK, NMEA], *others).family is None


@pytest.mark.parametrize("length", [0, 7])
def test_a_message_of_the_wrong_length_names_nothing(hears, length):
    frames = [(ident, bytes(8)) for ident in NAMING[:2]] + [(NAMING[2], bytes(length))]
    assert hears([AUK], *frames).family is None
    assert hears([AUK], *frames, (NAMING[2], bytes(8))).family is AUK


def test_an_11_bit_identifier_is_not_mistaken_for_a_29_bit_one(hears):
    assert hears([AUK], *((ident | EXTENDED, bytes(8)) for ident in NAMING)).family is None


def test_two_families_that_both_fit_leave_the_craft_unnamed(hears, copy):
    twin = copy("twin")
    recogniser = hears([AUK, twin], *((ident, bytes(8)) for ident in NAMING))
    assert recogniser.family is None
    assert recogniser.candidates == [AUK, twin]


def test_a_second_family_that_fits_later_takes_the_name_back(hears, copy):
    later = copy("later", 'messages = ["EngineFast", ', 'messages = ["DisplayMain", "EngineFast", ')
    recogniser = hears([AUK, later], *((ident, bytes(8)) for ident in NAMING))
    assert recogniser.family is AUK
    recogniser.feed(Frame(0, 0x320, bytes(8)))
    assert recogniser.family is None


def test_a_family_may_be_named_by_any_one_of_several_groups(hears):
    for data, pgn in ((bytes(8), 127488), (bytes(8), 130312), (b"\x40\x1a" + bytes(6), 127489)):
        assert hears([AUK, NMEA], (EXTENDED | 6 << 26 | pgn << 8 | 44, data)).family is NMEA


@pytest.mark.parametrize(
    "data",
    [b"\x41\x1a" + bytes(6), b"\x40\x1b" + bytes(6), b"\x40"],
    ids=["not the first", "length 27", "cut"],
)
def test_a_fast_packet_names_a_family_by_the_length_in_its_first_frame_only(hears, data):
    assert hears([NMEA], (EXTENDED | 127489 << 8, data)).family is None


def test_need_counts_different_messages(hears, copy):
    two = copy("two", "[recognise]", "[recognise]\nneed = 2")
    assert hears([two], (0x120, bytes(8)), (0x120, bytes(8))).family is None
    assert hears([two], (0x120, bytes(8)), (0x210, bytes(8))).family is two


def test_traffic_of_another_language_names_nothing(hears):
    # Engine controller 1 and engine temperature of SAE J1939.
    recogniser = hears([AUK, NMEA], (EXTENDED | 0x0CF00400, bytes(8)), (EXTENDED | 0x18FEEE00, bytes(8)))
    assert (recogniser.heard, recogniser.family, recogniser.candidates) == (True, None, [])


def test_what_was_waited_for_in_vain_is_told(hears):
    assert hears([AUK, NMEA], (0x120, bytes(8)), (0x210, bytes(7))).nearly == [
        "For Auk three-cylinder there lacks EngineThermal (0x1A0, 8 bytes), EngineSwitches (0x210, 8 bytes)."
    ]
    assert hears([AUK, NMEA], (0x555, bytes(8))).nearly == []
    assert hears([AUK], *((ident, bytes(8)) for ident in NAMING)).nearly == []
