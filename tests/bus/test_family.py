"""A family folder is sound, or everything that is wrong with it is named: file, line, what, mend."""

import shutil

import pytest

from app.errors import FamilyError, UsageError
from bus.family import SHIPPED, check_folder, load_families, load_family, named


@pytest.fixture(autouse=True)
def own_folders(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    return tmp_path / "data" / "boathook" / "families"


@pytest.fixture
def folder(tmp_path):
    """A copy of auk to spoil."""
    return shutil.copytree(SHIPPED / "auk", tmp_path / "auk")


@pytest.fixture
def spoil(folder):
    """Change a file of the copy and tell the lines the change stands on."""

    def change(old, new, file="family.toml"):
        path = folder / file
        text = path.read_text("utf-8")
        assert old in text, old
        place = text.index(old)
        path.write_text(text.replace(old, new, 1), "utf-8")
        return text.count("\n", 0, place) + 1

    return change


def test_every_shipped_family_is_sound():
    families, errors = load_families()
    assert errors == []
    assert {family.name for family in families} >= {"auk", "nmea2000"}


def test_auk_says_what_its_files_say():
    auk = load_family(SHIPPED / "auk")
    assert (auk.name, auk.invented, auk.bitrates, auk.identifiers) == ("auk", True, (500_000,), "11-bit")
    assert auk.ride[0] == "EngineSpeed"
    assert len(auk.ride) == 6
    assert auk.roles["battery"] == "BatteryVoltage"
    assert auk.signal("OilPressure").unit == "kPa"
    with pytest.raises(KeyError):
        auk.signal("Sails")


def test_the_catalogue_holds_what_the_glass_may_show_and_nothing_else():
    catalogue = load_family(SHIPPED / "auk").catalogue(7)
    infos = {info.name: info for info in catalogue.signals}
    assert catalogue.number == 7
    assert "AliveCounter" not in infos
    engine = catalogue.engine
    assert (engine.strokes, engine.injectors, engine.injector_flow, engine.injector_dead) == (
        4,
        3,
        300.0,
        0.9,
    )
    assert (engine.injector_pulse, engine.fuel_rail) == ("InjectorPulseWidth", "FuelRailPressure")
    assert engine.rail_absolute is False
    assert engine.dry_run == 0.0, "auk says nothing, so a generic default holds"
    oil = infos["OilPressure"]
    assert [(limit.severity, limit.side, limit.value, limit.engine_above) for limit in oil.limits] == [
        ("alarm", "below", 70, 1000),
        ("watch", "below", 100, 1000),
    ]
    assert oil.limits[0].generic
    assert (oil.low, oil.high, oil.unit, oil.enumerated) == (0, 700, "kPa", False)
    assert infos["Lanyard"].enumerated
    assert {info.group for info in catalogue.signals} == set(catalogue.groups)


def test_a_value_is_stale_after_three_periods_and_never_sooner_than_half_a_second():
    auk, nmea = load_family(SHIPPED / "auk"), load_family(SHIPPED / "nmea2000")
    ages = {info.name: info.max_age for family in (auk, nmea) for info in family.catalogue(1).signals}
    assert auk.period_s("ManifoldPressure") == 0.02
    assert ages["ManifoldPressure"] == 0.5
    # Four pages take turns every 0.1 s, so each comes every 0.4 s.
    assert auk.period_s("EngineHours") == pytest.approx(0.4)
    assert ages["TripFuel"] == pytest.approx(1.2)
    assert ages["BatteryTemperature"] == 4.5


def test_the_messages_that_carry_a_signal_are_found():
    auk = load_family(SHIPPED / "auk")
    assert auk.idents_of(["EngineSpeed", "Throttle1", "Lanyard"]) == {0x120, 0x210}


TOML_FAULTS = [
    ("schema = 1", "schema = 2", "schema is 2"),
    ('name = "auk"', 'name = "skua"', 'the name is "skua" and the folder is called auk'),
    ("invented = true", 'invented = "yes"', 'invented is "yes"'),
    ("bitrates = [500000]", "bitrates = []", "bitrates in [bus] is []"),
    ("bitrates = [500000]", "bitrates = [5]", "bitrates in [bus] is [5]"),
    ('identifiers = "11-bit"', 'identifiers = "12-bit"', 'identifiers in [bus] is "12-bit"'),
    (
        'identifiers = "11-bit"',
        'identifiers = "pgn"',
        "EngineFast in signals.dbc has an identifier of 11 bits",
    ),
    ('sentinels = "all_ones"', 'sentinells = "all_ones"', "there is no key sentinells in [decode]"),
    ("no_sentinel = [", 'no_sentinel = ["Sails", ', "the DBC has no signal Sails"),
    ("no_sentinel = [", 'no_sentinel = ["Page", ', "Page is named twice"),
    ("short_frames = false", 'fast_packets = ["EngineFast"]', "fast packets in an 11-bit family"),
    ('messages = ["EngineFast"', 'messages = ["EngineSlow"', "the DBC has no message EngineSlow"),
    ('messages = ["EngineFast"', 'need = 9\nmessages = ["EngineFast"', "need is 9"),
    ('battery = "BatteryVoltage"', 'batery = "BatteryVoltage"', "there is no role batery"),
    ('battery = "BatteryVoltage"', 'battery = "Volts"', "the DBC has no signal Volts"),
    ('battery = "BatteryVoltage"', 'battery = "Lanyard"', "Lanyard as battery is a text"),
    ('battery = "BatteryVoltage"', "battery = 12", "role battery is 12"),
    ('lanyard = "Lanyard"', 'lanyard = "EngineSpeed"', "EngineSpeed as lanyard has no texts"),
    ("strokes = 4", "strokes = 3", "strokes in [engine] is 3"),
    ("strokes = 4", "dry_run_s = 120\nstrokes = 4", "dry_run_s in [engine] is 120"),
    ("injectors = 3", "injectors = -1", "injectors in [engine] is -1"),
    ('rail_pressure = "gauge"', 'rail_pressure = "psi"', 'rail_pressure in [engine] is "psi"'),
    ('fuel_rail = "FuelRailPressure"', 'fuel_rail = "Rail"', "the DBC has no signal Rail"),
    (
        'injector_pulse = "InjectorPulseWidth"',
        'injector_pulse = "Lanyard"',
        "Lanyard as injector_pulse is a text",
    ),
    ('arc = "EngineSpeed"', 'arc = "Speed"', "the DBC has no signal Speed"),
    ('arc = "EngineSpeed"', 'arc = "AliveCounter"', "AliveCounter is not shown"),
    ('arc = "EngineSpeed"', 'arc = "CoolantTemperature"', "CoolantTemperature is both arc and tile"),
    ('tiles = ["CoolantTemperature"', 'tiles = ["Knots"', "the DBC has no signal Knots"),
    ('order = ["Engine",', 'order = ["Engine", "Sails",', 'no signal stands on the page "Sails"'),
    ("[signals.FanRelay]", "[signals.FanReley]", "the DBC has no signal FanReley"),
    ('group = "Air"', 'group = "Wind"', 'the group "Wind" is not in [groups] order'),
    ("decimals = 0", "decimals = 0.5", "decimals in [signals.EngineSpeed] is 0.5"),
    ("decimals = 0", "decimals = true", "decimals in [signals.EngineSpeed] is true"),
    ("scale = [0, 9000]", "scale = [9000, 0]", "the scale of EngineSpeed is upside down"),
    ("scale = [0, 9000]", "scale = [0]", "scale in [signals.EngineSpeed] is [0]"),
    ("alarm_above = 8000", "alarm_above = 80000", "alarm_above = 80000 of EngineSpeed lies outside"),
    ("alarm_above = 102", "alarm_above = 90", "watch_above = 95 of CoolantTemperature is not below"),
    ("watch_below = 100\n", "watch_below = 60\n", "alarm_below = 70 of OilPressure is not below"),
    (
        'label = "Lanyard"',
        'label = "Lanyard"\nwatch_above = 1\nsource = "x"',
        "Lanyard has limits and its values",
    ),
    ('label = "Lanyard"', 'label = ""', 'label in [signals.Lanyard] is ""'),
    ("[ride]", "[rides]", "there is no section [rides]"),
    ("[ride]", "[ride", "this is not sound TOML"),
    ('title = "Auk', "title = Auk", "this is not sound TOML"),
]


ELSEWHERE = {
    "the name is": 'name = "skua"',
    "watch_above = 95": "watch_above = 95",
    "alarm_below = 70": "alarm_below = 70",
    "Lanyard has limits": "[signals.Lanyard]",
    "AliveCounter is not shown": 'arc = "AliveCounter"',
    "need is 9": "need = 9",
    "CoolantTemperature is both": "tiles = [",
    "EngineFast in signals.dbc": 'identifiers = "pgn"',
    "there is no section": "[rides]",
    "this is not sound TOML": "",
    "the DBC has no signal FanReley": "[signals.FanReley]",
}
"""Text on the line that a finding must name, where that is not the changed line itself."""


@pytest.mark.parametrize(("old", "new", "what"), TOML_FAULTS, ids=[what for _, _, what in TOML_FAULTS])
def test_a_fault_in_family_toml_is_named_with_its_line(folder, spoil, old, new, what):
    changed = spoil(old, new)
    family, errors = check_folder(folder)
    assert family is None
    found = [error for error in errors if what in error.what]
    assert found, [error.what for error in errors]
    assert found[0].file == str(folder.resolve() / "family.toml")
    assert found[0].mend
    text = next((text for start, text in ELSEWHERE.items() if what.startswith(start)), None)
    if text is None:
        assert found[0].line == changed
    else:
        lines = (folder / "family.toml").read_text("utf-8").split("\n")
        assert text in lines[found[0].line - 1]


def test_a_list_member_is_found_on_its_own_line(folder, spoil):
    line = spoil(
        'messages = ["EngineFast", "EngineThermal", "EngineSwitches"]',
        'messages = [\n  "EngineFast",\n  "EngineThermal",\n  "EngineSails",\n]',
    )
    _, (error,) = check_folder(folder)
    assert (error.line, error.what) == (line + 3, "the DBC has no message EngineSails")


def test_limits_without_a_source_are_refused(folder, spoil):
    spoil('source = "family data (invented): limiter of this engine"\n', "")
    _, (error,) = check_folder(folder)
    assert error.what == "the limits of EngineSpeed have no source"


def test_limits_above_an_engine_speed_need_an_engine_speed(folder, spoil):
    spoil('engine_speed = "EngineSpeed"\n', "")
    _, errors = check_folder(folder)
    assert {error.what for error in errors if error.what.startswith("the limits")} == {
        f"the limits of {name} hold above an engine speed that this family does not have"
        for name in ("FuelRailPressure", "OilPressure")
    }


def test_a_missing_section_is_told_once_for_each_key_it_needs(folder, spoil):
    spoil(
        '[groups]\norder = ["Engine", "Air", "Fuel and spark", "Heat", "Electrics", "Switches", "Display", ',
        "",
    )
    spoil('"Totals"]\n', "")
    _, errors = check_folder(folder)
    assert [error.what for error in errors] == ["order is missing in [groups]"]


def test_faults_of_both_files_are_told_in_one_go(folder, spoil):
    spoil("decimals = 0", "decimals = -1")
    spoil("[signals.FanRelay]", "[signals.FanReley]")
    spoil("16|12@1+", "12|12@1+", "signals.dbc")
    _, errors = check_folder(folder)
    assert len(errors) == 3
    assert {error.file.rsplit("/", 1)[1] for error in errors} == {"family.toml", "signals.dbc"}
    with pytest.raises(FamilyError) as raised:
        load_family(folder)
    assert str(raised.value) == str(errors[0])


@pytest.mark.parametrize("file", ["family.toml", "signals.dbc"])
def test_a_missing_file_is_named(folder, file):
    (folder / file).unlink()
    _, errors = check_folder(folder)
    assert [error.file for error in errors] == [str(folder.resolve() / file)]


@pytest.mark.parametrize(
    "content", [b"\xff\xfe\0", b"\0" * 50, b"", b"name = 'x'\n[bus]\nbitrates = 5", b"bus = 3"]
)
def test_a_file_of_rubbish_is_an_error_and_nothing_worse(folder, content):
    (folder / "family.toml").write_bytes(content)
    family, errors = check_folder(folder)
    assert family is None
    assert errors


def test_a_folder_that_is_not_there_is_named(tmp_path):
    with pytest.raises(FamilyError, match="no such folder"):
        load_family(tmp_path / "nowhere")


def test_a_shop_adds_its_own_family(folder, spoil, own_folders):
    spoil('name = "auk"', 'name = "dunlin"')
    shutil.copytree(folder, own_folders / "dunlin")
    families, errors = load_families()
    assert errors == []
    assert families[-1].name == "dunlin"
    assert families[-1].folder == own_folders / "dunlin"


def test_one_broken_family_never_stops_the_others(folder, tmp_path):
    parent = tmp_path / "more"
    shutil.copytree(folder, parent / "broken")
    (parent / "empty").mkdir()
    (parent / "file").write_text("not a folder")
    families, errors = load_families(parent)
    assert {family.name for family in families} >= {"auk", "nmea2000"}
    assert {error.file.removeprefix(f"{parent}/").split("/")[0] for error in errors} == {"broken", "empty"}


def test_a_familys_name_is_never_taken_over_by_another_of_the_same_name(folder, tmp_path):
    parent = tmp_path / "more"
    shutil.copytree(folder, parent / "auk")
    families, (error,) = load_families(parent)
    assert "there is a family auk already" in error.what
    assert [family.folder for family in families if family.name == "auk"] == [SHIPPED.resolve() / "auk"]


def test_a_family_is_named_by_its_name_or_by_its_folder(folder):
    families, errors = load_families(folder.parent / "none")
    assert named("auk", families, errors).folder == SHIPPED.resolve() / "auk"
    assert named(str(folder), families, errors).folder == folder.resolve()
    with pytest.raises(UsageError, match="There is no family gull"):
        named("gull", families, errors)


def test_one_that_is_not_sound_is_told_with_its_first_mistake(folder):
    own = folder.rename(folder.parent / "knot")
    families, errors = load_families(folder.parent)
    with pytest.raises(FamilyError, match="the folder is called knot"):
        named("knot", families, errors)
    with pytest.raises(FamilyError, match="the folder is called knot"):
        named(str(own), families, errors)


@pytest.mark.parametrize(
    ("old", "new", "what"),
    [
        (
            "BO_ 800 100;",
            "BO_ 800 400;",
            "engine_speed_second comes every 400 ms, and counts for 250 ms only",
        ),
        ('BA_ "GenMsgCycleTime" BO_ 288 50;\n', "", "EngineFast in signals.dbc has no period, and carries"),
    ],
)
def test_a_period_with_which_an_output_could_never_fire_and_one_that_is_missing_are_told(
    folder, old, new, what
):
    path = folder / "signals.dbc"
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new), "utf-8")
    family, errors = check_folder(folder)
    assert family is None
    found = [error for error in errors if what in error.what]
    assert found
    assert all(error.line and error.mend for error in found)
