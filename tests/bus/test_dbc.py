"""Reading DBC files: what is wrong is named with its line, and kept tables are never trusted blindly."""

import subprocess
import sys

import pytest

from bus.dbc import load_dbc

SOUND = """VERSION "1"

BS_:

BU_: Engine Tool

BO_ 256 Fast: 8 Engine
 SG_ Speed : 0|16@1+ (0.25,0) [0|8000] "rev/min" Tool
 SG_ Air : 23|12@0- (0.1,0) [-40|150] "degC" Tool

BO_ 257 Slow: 8 Engine
 SG_ Page M : 0|8@1+ (1,0) [0|1] "" Tool
 SG_ Hours m0 : 8|32@1+ (0.05,0) [0|0] "h" Tool
 SG_ Level m1 : 8|8@1+ (0.5,-10) [0|100] "%" Tool

CM_ "A comment over
BO_ 256 Fast: 8 Engine
three lines";
BA_DEF_ BO_ "GenMsgCycleTime" INT 0 65535;
BA_DEF_DEF_ "GenMsgCycleTime" 0;
BA_ "GenMsgCycleTime" BO_ 256 20;
VAL_ 257 Page 0 "hours" 1 "level" ;
"""


@pytest.fixture(autouse=True)
def cache(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return tmp_path / "cache" / "boathook" / "signals"


@pytest.fixture
def load(tmp_path):
    def write_and_load(text):
        path = tmp_path / "signals.dbc"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return load_dbc(path)

    return write_and_load


@pytest.fixture
def wrong(load):
    """Load a changed file and hand back what is said of it: (line, what) pairs."""

    def change(old, new):
        assert SOUND.count(old) >= 1
        _, errors = load(SOUND.replace(old, new, 1))
        assert all(error.mend for error in errors)
        return [(error.line, error.what) for error in errors]

    return change


def test_a_sound_file_gives_its_messages_in_order(load):
    messages, errors = load(SOUND)
    assert errors == []
    assert [(message.name, message.ident, message.length, message.cycle) for message in messages] == [
        ("Fast", 256, 8, 0.02),
        ("Slow", 257, 8, None),
    ]
    speed, air = messages[0].signals
    assert (speed.shift, speed.low, speed.high, speed.line) == (0, 0, 32000, 8)
    # Of 64 bits; a Motorola signal that begins at the top of byte 2 ends 16 + 12 bits from the front.
    assert (air.big, air.signed, air.shift, air.low, air.high) == (True, True, 64 - 28, -400, 1500)
    page, hours, level = messages[1].signals
    assert (page.selector, hours.pages, level.pages) == (True, (0,), (1,))
    assert hours.high == 2**32 - 1, "[0|0] means: no limits"
    assert (level.low, level.high) == (20, 220)
    assert page.texts == {0: "hours", 1: "level"}


@pytest.mark.parametrize(
    ("old", "new", "line", "words"),
    [
        ("23|12@0-", "7|12@0-", 9, "Air takes bits that Speed has already"),
        ("23|12@0-", "60|12@0-", 9, "Air ends at bit 71 of Fast"),
        ("8|8@1+", "8|80@1+", 14, "Level has 80 bits"),
        ("BO_ 257 Slow", "BO_ 256 Slow", 11, "Slow has the identifier 0x100 of Fast"),
        ("BO_ 257 Slow", "BO_ 257 Fast", 11, "message name Fast is given twice"),
        ("BO_ 257 Slow", "BO_ 5000 Slow", 11, "an identifier that no frame can carry"),
        ("SG_ Hours m0", "SG_ Speed m0", 13, "signal name Speed stands in Fast already"),
        ("(0.25,0)", "(0,0)", 8, "factor 0"),
        ("[0|8000]", "[8000|0]", 8, "minimum above its maximum"),
        ("[0|8000]", "[0.1|0.2]", 8, "no raw number of Speed lies within"),
        ("(0.25,0)", "(1e-40,0)", 8, "beyond reason"),
        ('1 "level"', '300 "level"', 12, "a text for 300"),
        ("SG_ Level m1", "SG_ Level m1M", 14, "more than one signal"),
        ("(0.25,0) [0", "(0.25 [0", 8, "not sound DBC"),
        ("VAL_ 257 Page", "VAL_ 257 Pagge", None, "not sound DBC"),
    ],
)
def test_what_is_wrong_is_named_with_its_line(wrong, old, new, line, words):
    found = wrong(old, new)
    assert [where for where, what in found if words in what] == [line], found


def test_a_floating_point_signal_is_refused_with_its_line(wrong):
    assert wrong("VAL_ 257", "SIG_VALTYPE_ 257 Hours : 1;\nVAL_ 257") == [
        (13, "Hours is a floating-point signal")
    ]


def test_every_fault_is_told_at_once(load):
    text = SOUND.replace("(0.25,0)", "(0,0)").replace("23|12@0-", "7|12@0-").replace("8|8@1+", "60|8@1+")
    _, errors = load(text)
    assert [error.line for error in errors] == [8, 9, 14]


@pytest.mark.parametrize("content", [b"", b"\0\1\2\xff" * 40, b"BO_", "BO_ 1 äöü".encode("cp1252"), b'"'])
def test_a_file_that_is_no_dbc_is_an_error_and_nothing_worse(load, content):
    messages, errors = load(content)
    assert messages == ()
    assert errors


def test_a_missing_file_is_named(tmp_path):
    _, (error,) = load_dbc(tmp_path / "signals.dbc")
    assert error.file.endswith("signals.dbc")
    assert "No such file" in error.what


def test_a_file_of_an_older_tool_keeps_its_degree_sign(load):
    messages, errors = load(SOUND.replace("degC", "°C").encode("cp1252"))
    assert errors == []
    assert messages[0].signals[1].unit == "°C"


def test_the_kept_table_is_the_same_as_the_one_that_was_read(load, cache):
    first, _ = load(SOUND)
    (kept,) = cache.iterdir()
    written = kept.read_bytes()
    second, errors = load(SOUND)
    assert (second, errors) == (first, [])
    assert kept.read_bytes() == written


@pytest.mark.parametrize("rubbish", [b"", b"\xc1", b"\x90", b"\x91\x01", b"\0" * 100])
def test_a_spoilt_kept_table_is_made_anew(load, cache, rubbish):
    first, _ = load(SOUND)
    (kept,) = cache.iterdir()
    kept.write_bytes(rubbish)
    assert load(SOUND) == (first, [])
    assert kept.read_bytes() != rubbish


def test_one_wrong_bit_in_a_kept_table_is_seen(load, cache):
    first, _ = load(SOUND)
    (kept,) = cache.iterdir()
    whole = kept.read_bytes()
    for place in range(0, len(whole), 7):
        kept.write_bytes(whole[:place] + bytes([whole[place] ^ 0x10]) + whole[place + 1 :])
        assert load(SOUND) == (first, [])


def test_a_cache_folder_that_cannot_be_written_costs_nothing_but_time(load, cache):
    cache.parent.mkdir(parents=True)
    cache.write_bytes(b"a file where the folder should be")
    _, errors = load(SOUND)
    assert errors == []


def test_an_unsound_file_is_never_kept(load, cache):
    _, errors = load(SOUND.replace("(0.25,0)", "(0,0)"))
    assert errors
    assert not cache.exists()


def test_a_kept_table_spares_the_import_of_the_parser(load, tmp_path):
    load(SOUND)
    code = (
        "import sys; from pathlib import Path; from bus.dbc import load_dbc; "
        f"assert load_dbc(Path({str(tmp_path / 'signals.dbc')!r}))[1] == []; "
        "assert 'cantools' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)
