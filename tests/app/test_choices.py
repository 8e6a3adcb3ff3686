"""What people chose: kept across restarts, and no file can stop the glass."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.choices import FILE, Choices

SIX = ("A", "B", "C")


def test_a_choice_is_there_after_a_restart_for_its_family_only(tmp_path):
    folder = tmp_path / "new" / "data"
    Choices(folder).keep("six", "auk", SIX)
    again = Choices(folder)
    again.keep("chart", "auk", ("D",))
    again = Choices(folder)
    assert (again.six("auk"), again.chart("auk"), again.notice) == (SIX, ("D",), "")
    assert again.six("tern") is again.chart("tern") is None
    assert [path.name for path in folder.iterdir()] == [FILE]


def test_a_choice_can_be_taken_back(tmp_path):
    Choices(tmp_path).keep("six", "auk", SIX)
    Choices(tmp_path).keep("six", "auk", None)
    assert Choices(tmp_path).six("auk") is None


def test_without_a_file_nothing_is_chosen_and_nothing_is_wrong(tmp_path):
    assert (Choices(tmp_path).six("auk"), Choices(tmp_path).notice) == (None, "")
    nowhere = Choices()
    nowhere.keep("six", "auk", SIX)
    assert (nowhere.six("auk"), nowhere.notice) == (SIX, "")


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"{",
        b"\xff\xfe\x00",
        b"[]",
        b'{"six": []}',
        b'{"six": {"auk": "A"}}',
        b'{"six": {"auk": [1, 2]}}',
        json.dumps({"six": {"auk": list("ABCDEFG")}}).encode(),
        b"[" * 100_000,
    ],
)
def test_a_bad_file_means_the_defaults_and_a_sentence(tmp_path, content):
    (tmp_path / FILE).write_bytes(content)
    choices = Choices(tmp_path)
    assert choices.six("auk") is None
    assert choices.notice.startswith(f"The file {FILE} in the data folder cannot be read.")
    choices.keep("six", "auk", SIX)
    assert choices.notice == ""
    assert Choices(tmp_path).six("auk") == SIX


@given(content=st.binary(max_size=200))
def test_no_bytes_at_all_stop_it(tmp_path_factory, content):
    folder = tmp_path_factory.mktemp("any")
    (folder / FILE).write_bytes(content)
    assert isinstance(Choices(folder).notice, str)


def test_a_folder_in_its_place_is_a_sentence_too(tmp_path):
    (tmp_path / FILE).mkdir()
    choices = Choices(tmp_path)
    assert choices.notice
    choices.keep("six", "auk", SIX)
    assert choices.notice.startswith("Your choice could not be saved (")
    assert choices.six("auk") == SIX
    assert [path.name for path in tmp_path.iterdir()] == [FILE], "nothing half written is left"


def test_what_cannot_be_saved_holds_and_is_told(tmp_path):
    (tmp_path / "file").write_text("not a folder")
    choices = Choices(tmp_path / "file")
    choices.keep("chart", "auk", SIX)
    assert choices.chart("auk") == SIX
    assert choices.notice.startswith("Your choice could not be saved (")


def test_the_old_file_stays_whole_until_the_new_one_is(tmp_path, monkeypatch):
    Choices(tmp_path).keep("six", "auk", SIX)
    before = (tmp_path / FILE).read_bytes()

    def power_goes(_number):
        assert (tmp_path / FILE).read_bytes() == before
        raise OSError("power")

    monkeypatch.setattr("app.small_file.os.fsync", power_goes)
    Choices(tmp_path).keep("six", "auk", ("Z",))
    assert (tmp_path / FILE).read_bytes() == before
