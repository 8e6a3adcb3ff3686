"""What a person chose is worn after the next start; a file that is broken changes nothing."""

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.settings import Place, Pressure, Settings, SettingsFile, Skin, Speed, Temperature, next_of

OTHERS = Settings(
    Skin.NIGHT,
    Temperature.FAHRENHEIT,
    Speed.KNOTS,
    Pressure.BAR,
    Place.HANDLEBAR,
    "7-1280x720",
    "slcan on /dev/ttyACM0",
)


def test_without_a_file_the_usual_ones_are_worn_and_nothing_is_said(tmp_path):
    file = SettingsFile(tmp_path / "no" / "settings.json")
    assert (file.now, file.trouble) == (Settings(), "")


def test_what_was_chosen_is_there_after_a_start(tmp_path):
    path = tmp_path / "data" / "settings.json"
    SettingsFile(path).keep(OTHERS)
    again = SettingsFile(path)
    assert (again.now, again.trouble) == (OTHERS, "")
    assert [one.name for one in path.parent.iterdir()] == ["settings.json"]


@given(st.binary(max_size=200))
def test_whatever_stands_in_the_file_the_tool_starts_and_says_so(tmp_path_factory, junk):
    path = tmp_path_factory.mktemp("junk") / "settings.json"
    path.write_bytes(junk)
    file = SettingsFile(path)
    try:
        msgspec.json.decode(junk, type=Settings)
    except (msgspec.MsgspecError, UnicodeDecodeError):
        assert file.now == Settings()
        assert "could not be read" in file.trouble


@pytest.mark.parametrize("text", ['{"skin":"dusk"}', '{"panel":7}', "[]", '{"skin":"night"'])
def test_a_choice_that_there_is_not_is_none(tmp_path, text):
    path = tmp_path / "settings.json"
    path.write_text(text)
    assert SettingsFile(path).now == Settings()


def test_a_key_of_a_later_version_does_not_cost_the_others(tmp_path):
    path = tmp_path / "settings.json"
    path.write_text('{"skin":"night","sound":"loud"}')
    assert SettingsFile(path).now == Settings(Skin.NIGHT)


def test_a_disk_that_takes_nothing_is_said_and_the_choice_holds_meanwhile(tmp_path):
    (tmp_path / "data").write_text("a file where the folder should be")
    file = SettingsFile(tmp_path / "data" / "settings.json")
    file.keep(OTHERS)
    assert file.now == OTHERS
    assert "could not be kept" in file.trouble


@pytest.mark.parametrize("kind", [Skin, Temperature, Speed, Pressure])
def test_each_touch_chooses_the_next_and_all_come_round(kind):
    choice, seen = next(iter(kind)), []
    for _ in kind:
        seen.append(choice)
        choice = next_of(choice)
    assert seen == list(kind)
    assert choice is seen[0]
