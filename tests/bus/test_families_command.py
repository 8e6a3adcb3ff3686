"""families list and families check, for people and as JSON."""

import io
import json
import shutil
from pathlib import Path

import pytest

from app.errors import BoathookError
from bus.families_command import check, list_families, new
from bus.family import SHIPPED, check_folder
from bus.roles import ROLES


@pytest.fixture(autouse=True)
def own(tmp_path, monkeypatch):
    """The user's own families."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    folder = tmp_path / "data" / "boathook" / "families"
    folder.mkdir(parents=True)
    return folder


@pytest.fixture
def broken(own):
    """An own family with a fault in each of its files."""
    folder = shutil.copytree(SHIPPED / "auk", own / "dunlin")
    toml, dbc = folder / "family.toml", folder / "signals.dbc"
    toml.write_text(toml.read_text().replace('name = "auk"', 'name = "dunlin"').replace("arc =", "ark ="))
    dbc.write_text(dbc.read_text().replace("16|12@1+", "12|12@1+"))
    return folder


def test_the_list_names_every_family():
    out = io.StringIO()
    assert list_families(as_json=False, out=out) == 0
    auk, nmea = (line for line in out.getvalue().splitlines() if line.startswith(("auk ", "nmea2000 ")))
    assert "Auk three-cylinder" in auk
    assert "invented" in auk
    assert "500 kbit/s" in auk
    assert "invented" not in nmea


def test_the_list_goes_on_past_a_broken_family_and_says_what_is_wrong(broken, capsys):
    out = io.StringIO()
    assert list_families(as_json=False, out=out) == 0
    assert "auk" in out.getvalue()
    assert "dunlin" not in out.getvalue()
    assert str(broken / "signals.dbc") in capsys.readouterr().err


def test_the_list_as_json_holds_families_and_errors(broken):
    out = io.StringIO()
    list_families(as_json=True, out=out)
    listed = json.loads(out.getvalue())
    auk = next(family for family in listed["families"] if family["name"] == "auk")
    assert (auk["invented"], auk["shipped"], auk["bitrates"]) == (True, True, [500000])
    assert {error["file"] for error in listed["errors"]} == {
        str(broken / "family.toml"),
        str(broken / "signals.dbc"),
    }


def test_an_own_family_is_listed_as_not_shipped(own):
    folder = shutil.copytree(SHIPPED / "auk", own / "knot")
    toml = folder / "family.toml"
    toml.write_text(
        toml.read_text()
        .replace('name = "auk"', 'name = "knot"')
        .replace("invented = true", "invented = false")
    )
    out = io.StringIO()
    list_families(as_json=True, out=out)
    knot = json.loads(out.getvalue())["families"][-1]
    assert (knot["name"], knot["shipped"]) == ("knot", False)


def test_a_sound_folder_passes():
    out = io.StringIO()
    assert check(SHIPPED / "auk", as_json=False, out=out) == 0
    assert out.getvalue().startswith("auk is sound: 8 messages, 49 signals.\n")
    out = io.StringIO()
    assert check(SHIPPED / "nmea2000", as_json=True, out=out) == 0
    assert json.loads(out.getvalue())["sound"] is True


def test_an_unsound_folder_fails_with_everything_that_is_wrong(broken):
    out = io.StringIO()
    assert check(broken, as_json=True, out=out) == 1
    verdict = json.loads(out.getvalue())
    assert verdict["sound"] is False
    found = {(error["file"].rsplit("/", 1)[1], error["what"]) for error in verdict["errors"]}
    assert ("family.toml", "there is no key ark in [ride]") in found
    assert ("family.toml", "arc is missing in [ride]") in found
    assert ("signals.dbc", "Throttle1 takes bits that EngineSpeed has already") in found
    assert all(error["line"] and error["mend"] for error in verdict["errors"])
    out = io.StringIO()
    assert check(broken, as_json=False, out=out) == 1
    assert out.getvalue().endswith(f"{broken} is not sound: {len(found)} things are wrong.\n")
    assert all(what in out.getvalue() for _, what in found)


def test_a_folder_that_is_not_there_fails(tmp_path):
    out = io.StringIO()
    assert check(tmp_path / "nowhere", as_json=False, out=out) == 1
    assert "no such folder" in out.getvalue()


def test_a_new_family_is_sound_listed_and_bears_its_name(own):
    out = io.StringIO()
    assert new("dunlin_two", None, out=out) == 0
    folder = own / "dunlin_two"
    assert str(folder) in out.getvalue()
    said = io.StringIO()
    assert check(folder, as_json=False, out=said) == 0, said.getvalue()
    out = io.StringIO()
    list_families(as_json=True, out=out)
    listed = {one["name"]: one for one in json.loads(out.getvalue())["families"]}
    assert listed["dunlin_two"]["title"] == "Dunlin two"
    assert "@" not in (folder / "family.toml").read_text()


def test_every_section_and_key_of_the_skeleton_is_told_in_words(own):
    new("dunlin", None, out=io.StringIO())
    lines = (own / "dunlin" / "family.toml").read_text().splitlines()
    sections = [
        number for number, line in enumerate(lines) if line.startswith("[") and "signals." not in line
    ]
    assert len(sections) >= 7
    for number in sections:
        assert any(line.startswith("#") for line in lines[number + 1 : number + 3]), lines[number]


def test_a_new_family_takes_nothing_away(own):
    new("dunlin", None, out=io.StringIO())
    toml = own / "dunlin" / "family.toml"
    toml.write_text("mine")
    with pytest.raises(BoathookError, match="is there already"):
        new("dunlin", None, out=io.StringIO())
    assert toml.read_text() == "mine"


@pytest.mark.parametrize("name", ["", "Dunlin", "../dunlin", "2dunlin", "dun lin", "d" * 40])
def test_a_name_that_is_none_is_refused(own, name):
    with pytest.raises(BoathookError, match="cannot be the name"):
        new(name, None, out=io.StringIO())
    assert list(own.iterdir()) == []


def uncommented(folder):
    """The skeleton with its [uds] in force, as who follows it would have it."""
    path = folder / "family.toml"
    head, _, tail = path.read_text("utf-8").partition("# [uds]\n")
    lines = ["" if line == "#" else line.removeprefix("# ") for line in tail.splitlines()]
    path.write_text("\n".join([head, "[uds]", *lines, ""]), "utf-8")
    return folder


def test_the_part_of_the_skeleton_that_is_commented_out_lacks_nothing_but_the_roles_of_outputs(own):
    new("knot", None, out=io.StringIO())
    _, errors = check_folder(uncommented(own / "knot"))
    assert {error.what.split(" (")[0] for error in errors} == {
        f"there are outputs, and no role {role}"
        for role in ("engine_speed_second", "lanyard", "start_switch", "serial")
    }


def test_every_role_stands_in_the_guide():
    guide = (Path(__file__).resolve().parents[2] / "DEVELOPERS.md").read_text("utf-8")
    table = guide[guide.index("## Add a family") :]
    for name, role in ROLES.items():
        [row] = [line for line in table.splitlines() if line.startswith("| `") and f"`{name}`" in line]
        assert ("| yes |" in row) is role.outputs, row
        assert all(f'"{word}"' in row for word in role.words), row
