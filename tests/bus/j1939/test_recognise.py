"""An engine on SAE J1939 is told from NMEA 2000 and auk by its traffic, and a make only by its own words."""

import shutil

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bus.family import SHIPPED, check_folder, load_families, load_family
from bus.frame import EXTENDED, Frame
from bus.recognise import Recogniser

FAMILIES = [load_family(SHIPPED / name) for name in ("auk", "j1939", "nmea2000", "tern")]
EEC1, ET1, VEP1 = (0x0CF00400, bytes(8)), (0x18FEEE00, bytes(8)), (0x18FEF700, bytes(8))
RAPID = (0x09F20010, bytes(8))
SAYS_TERN = (0x18FF1000, b"TERN\x01\x00\x00\x00")


@pytest.fixture
def named():
    """Name of the family that these (identifier, bytes) frames name, None if they do not."""

    def call(*frames):
        recogniser = Recogniser(FAMILIES)
        for ident, data in frames:
            recogniser.feed(Frame(0.0, ident | EXTENDED, data))
        return recogniser.family.name if recogniser.family else None

    return call


def test_the_shipped_families_are_sound():
    families, errors = load_families()
    assert errors == []
    assert {"j1939", "tern"} <= {family.name for family in families}


def test_two_standard_groups_are_an_engine_by_the_standard(named):
    assert named(EEC1) is None
    assert named(EEC1, EEC1) is None
    assert named(EEC1, VEP1) == "j1939"


def test_a_make_is_named_only_by_what_it_says_of_itself(named):
    assert named(EEC1, ET1, SAYS_TERN) == "tern"
    assert named(SAYS_TERN, EEC1, ET1) == "tern"


@pytest.mark.parametrize(
    "data", [b"TERN", b"TERN\x01\x00\x00", b"tern\x01\x00\x00\x00", b"\xff" * 8, b"TER\xff\x01\x00\x00\x00"]
)
def test_anything_else_in_the_makers_group_is_another_make_and_stays_the_standard(named, data):
    assert named(EEC1, ET1, (SAYS_TERN[0], data)) == "j1939"


def test_instruments_of_nmea_2000_alone_are_nmea_2000(named):
    assert named(RAPID) == "nmea2000"
    assert named(RAPID, EEC1) == "nmea2000"


def test_an_engine_among_instruments_is_the_engine(named):
    assert named(RAPID, EEC1, ET1) == "j1939"
    assert named(RAPID, EEC1, ET1, SAYS_TERN) == "tern"


def test_priority_and_sender_do_not_count(named):
    assert named((0x00F004AA, bytes(8)), (0x1CFEEE03, bytes(8))) == "j1939"


def test_faults_and_transport_alone_name_nothing(named):
    assert named((0x18FECA00, bytes(8)), (0x18ECFF00, bytes(8)), (0x1CEBFF00, bytes(8))) is None


@given(st.lists(st.tuples(st.integers(0, 0x1FFFFFFF), st.binary(max_size=8)), max_size=30))
@settings(deadline=None)
def test_no_traffic_without_its_own_words_is_ever_a_tern(frames):
    recogniser = Recogniser(FAMILIES)
    for ident, data in [EEC1, ET1, *frames]:
        recogniser.feed(Frame(0.0, ident | EXTENDED, data))
    said = any(ident >> 8 & 0x3FFFF == 0xFF10 and data.startswith(b"TERN") for ident, data in frames)
    assert said or recogniser.family.name in ("j1939", "nmea2000")


@pytest.fixture
def spoilt(tmp_path):
    """What is wrong with a tern in whose family.toml this stands instead of that."""

    def spoil(old, new):
        folder = shutil.copytree(SHIPPED / "tern", tmp_path / "tern")
        path = folder / "family.toml"
        text = path.read_text("utf-8")
        assert old in text
        path.write_text(text.replace(old, new))
        return check_folder(folder)

    return spoil


@pytest.mark.parametrize(
    ("old", "new", "what"),
    [
        ('"54 45 52 4E"', '"TERN"', 'TernIdentity cannot begin with "TERN"'),
        ('"54 45 52 4E"', '""', 'TernIdentity cannot begin with ""'),
        ('"54 45 52 4E"', f'"{"00" * 9}"', "TernIdentity cannot begin with"),
        ("begins = { TernIdentity", "begins = { EEC1", "EEC1 in begins is none of"),
        ('over = ["j1939"', 'over = ["tern"', "a family cannot take its own place"),
        ('sentinels = "j1939"', 'sentinels = "sae"', 'sentinels in [decode] is "sae"'),
    ],
)
def test_nonsense_in_family_toml_is_named_with_its_line(spoilt, old, new, what):
    family, errors = spoilt(old, new)
    assert family is None
    found = [error for error in errors if what in error.what]
    assert found, [error.what for error in errors]
    assert found[0].line
    assert found[0].mend
