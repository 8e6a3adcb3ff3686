"""golden.toml: what was worked out by hand is held against the family's data, slips named on their line."""

import io
import shutil
from pathlib import Path

import pytest

from bus.families_command import check
from bus.family import SHIPPED, load_family
from bus.family_golden import check_golden

BY_HAND = Path(__file__).resolve().parents[1] / "golden" / "auk.toml"
REQUESTS = """
[[request]]
output = "injector_1"
start = "2F D1 01 03 14 32"
release = "2F D1 01 00"

[[request]]
output = "fuel_inhibit"
start = "2F D1 41 03"
release = "2F D1 41 00"
status = "22 D1 41"
"""


@pytest.fixture
def golden(tmp_path):
    """A copy of auk with this golden file."""

    def write(text):
        folder = tmp_path / "auk"
        if not folder.exists():
            shutil.copytree(SHIPPED / "auk", folder)
        (folder / "golden.toml").write_text(text, "utf-8")
        return folder

    return write


def test_every_frame_and_request_worked_out_by_hand_agrees(golden):
    folder = golden(BY_HAND.read_text("utf-8") + REQUESTS)
    found = check_golden(load_family(folder))
    assert (found.frames, found.requests, found.errors) == (49, 2, [])
    out = io.StringIO()
    assert check(folder, as_json=False, out=out) == 0
    assert "49 frames and 2 requests worked out by hand agree" in out.getvalue()


def test_without_the_file_the_check_says_so(golden):
    out = io.StringIO()
    assert check(SHIPPED / "auk", as_json=False, out=out) == 0
    assert "no golden.toml" in out.getvalue()


FRAME = '[[frame]]\nsignal = "EngineSpeed"\nident = 0x120\ndata = "E0 2E FF FF FF FF FF FF"\nvalue = 3000.0\n'


@pytest.mark.parametrize(
    ("old", "new", "line", "word"),
    [
        ("value = 3000.0", "value = 3001.0", 5, "is 3000.0 by signals.dbc, and 3001.0 by hand"),
        ('"EngineSpeed"', '"Speed"', 2, "Speed is not in this frame"),
        ("ident = 0x120", "ident = 0x121", 2, "EngineSpeed is not in this frame"),
        ('"E0 2E FF', '"FF FF FF', 5, "is not_available by signals.dbc"),
        ('"E0 2E', '"E0 2', 4, "bytes in hexadecimal"),
        ("value = 3000.0", "worth = 3000.0", 5, "there is no key worth"),
        ("[[frame]]", "[frame]", 1, "no list of sections"),
        ("value = 3000.0", "value = = 1", None, "not sound TOML"),
    ],
)
def test_a_frame_that_does_not_agree_is_named(golden, old, new, line, word):
    assert old in FRAME
    folder = golden(FRAME.replace(old, new))
    errors = check_golden(load_family(folder)).errors
    assert any(error.line == line and word in str(error) and error.mend for error in errors), errors
    assert check(folder, as_json=False, out=io.StringIO()) == 1


@pytest.mark.parametrize(
    ("old", "new", "word"),
    [
        (
            "03 14 32",
            "03 14 33",
            "start of injector_1 is 2F D1 01 03 14 32 by family.toml, 2F D1 01 03 14 33",
        ),
        ("2F D1 01 00", "2F D1 01 02", "release of injector_1"),
        ('status = "22 D1 41"\n', "", "status of fuel_inhibit is 22 D1 41 by family.toml, none by hand"),
        ('"injector_1"', '"injector_9"', "there is no output injector_9"),
    ],
)
def test_a_request_that_does_not_agree_is_named(golden, old, new, word):
    assert old in REQUESTS
    errors = check_golden(load_family(golden(REQUESTS.replace(old, new)))).errors
    assert [error for error in errors if word in error.what and error.line and error.mend], errors


def test_all_that_a_family_can_ask_is_printed_for_its_papers():
    out = io.StringIO()
    assert check(SHIPPED / "skua", as_json=False, requests=True, out=out) == 0
    lines = out.getvalue().splitlines()
    assert "18DA10F1 reading 22 F1 90" in lines
    assert "18DA2AF1 writing 14 FF FF FF" in lines
    assert "18DA10F1 start injector_1 2F 03 01 03 28 0A" in lines
    assert "18DA10F1 status fuel_inhibit 22 03 61" in lines
