"""[uds] of a family: what it asks and fires is what its data say, and every slip is named on its line."""

import shutil

import pytest

from app.interlock import RULES, Kind
from bus.family import SHIPPED, check_folder, load_family


@pytest.fixture
def folder(tmp_path):
    """A copy of auk to spoil."""
    return shutil.copytree(SHIPPED / "auk", tmp_path / "auk")


@pytest.fixture
def spoil(folder):
    """Change family.toml of the copy; tells everything that is wrong with it as (text of the line, error)."""

    def change(old, new):
        path = folder / "family.toml"
        text = path.read_text("utf-8")
        assert old in text, old
        text = text.replace(old, new, 1)
        path.write_text(text, "utf-8")
        family, errors = check_folder(folder)
        assert (family is None) == bool(errors)
        lines = text.split("\n")
        return [(lines[error.line - 1], error) for error in errors]

    return change


def test_auk_says_what_can_be_asked_and_fired():
    uds = load_family(SHIPPED / "auk").uds
    assert [(module.key, module.request, module.response) for module in uds.modules] == [
        ("engine", 0x7E0, 0x7E8),
        ("display", 0x7E1, 0x7E9),
    ]
    assert uds.words["engine"][0x011700] == "Coolant temperature sensor circuit low"
    assert set(uds.words["engine"]) & set(uds.words["display"]) == set()
    assert [item.did for item in uds.snapshot.values() if item.hours] == [0xD010]
    assert (uds.extended.count, uds.extended.age) == (1, 2)


def test_the_requests_of_auk_are_these_bytes():
    # By hand from ISO 14229-1: 2F, identifier, 03 short-term adjustment, then one byte a parameter.
    plans = {plan.data.key: plan for plan in load_family(SHIPPED / "auk").uds.outputs}
    assert plans["injector_1"].start.hex() == "2fd101031432"
    assert plans["injector_1"].release.hex() == "2fd10100"
    assert plans["fan"].start.hex() == "2fd1210305"
    assert set(plans) == {
        *(f"injector_{number}" for number in (1, 2, 3)),
        *(f"coil_{number}" for number in (1, 2, 3)),
        "fan",
        "horn",
        "fuel_pump",
        "bilge_pump",
        "throttle_plate",
        "fuel_inhibit",
        "spark_inhibit",
    }
    for key, did in (("fuel_inhibit", "d141"), ("spark_inhibit", "d142")):  # 22: read back; 62: its answer
        plan = plans[key]
        assert (plan.start.hex(), plan.release.hex()) == (f"2f{did}03", f"2f{did}00")
        assert (plan.status.hex(), plan.held.hex()) == (f"22{did}", f"62{did}01")


def test_no_output_of_auk_is_looser_than_the_ceilings_in_code():
    for plan in load_family(SHIPPED / "auk").uds.outputs:
        assert plan.longest_s <= RULES[plan.data.kind].longest_s
        assert plan.data.count <= RULES[plan.data.kind].pulses


def test_a_family_without_the_section_has_nothing_to_ask():
    assert load_family(SHIPPED / "nmea2000").uds is None


SLIPS = {
    "a key that is not known": ("padding = 0", "padding = 0\nfilling = 1", "filling = 1", "filling"),
    "a filler that is no byte": ("padding = 0", "padding = 256", "padding = 256", "0 to 255"),
    "an identifier too wide": ("request = 0x7E1", "request = 0x800", "request = 0x800", "11 bits"),
    "the identifier of everybody": ("request = 0x7E1", "request = 0x7DF", "request = 0x7DF", "every"),
    "an identifier used twice": ("request = 0x7E1", "request = 0x7E8", "request = 0x7E8", "twice"),
    "an identifier that is broadcast": (
        "response = 0x7E9",
        "response = 0x120",
        "response = 0x120",
        "EngineFast",
    ),
    "a module named twice": ('key = "display"', 'key = "engine"', 'key = "engine"', "twice"),
    "identity of no module": (
        'module = "display"\ndid = 0xF18C',
        'module = "dash"\ndid = 0xF18C',
        'module = "dash"',
        "no module",
    ),
    "identity asked twice": ("did = 0xF195", "did = 0xF18C", "did = 0xF18C", "twice"),
    "identity that is text and number": (
        'label = "Hull number"\ntext = true',
        'label = "Hull number"\ntext = true\nbytes = 2',
        "bytes = 2",
        "both",
    ),
    "a band without a speed": ("band = [0, 1500]", "band = [1500, 1500]", "band = [1500, 1500]", "no speed"),
    "bands out of their order": (
        "band = [1500, 3000]",
        "band = [1400, 3000]",
        "band = [1400, 3000]",
        "begins before 1500",
    ),
    "a gap between bands": (
        "band = [1500, 3000]",
        "band = [1600, 3000]",
        "band = [1600, 3000]",
        "begins after 1500",
    ),
    "a lanyard that says it in other words": (
        'lanyard = "Lanyard"',
        'lanyard = "StartSwitch"',
        'lanyard = "StartSwitch"',
        'never says "In place"',
    ),
    "outputs without a lanyard": (
        'lanyard = "Lanyard"\n',
        "",
        "[roles]",
        "no role lanyard",
    ),
    "outputs without a serial": ('serial = "ControllerSerial"\n', "", "[roles]", "no role serial"),
    "outputs with one source of the speed": (
        'engine_speed_second = "EngineSpeedDisplay"\n',
        "",
        "[roles]",
        "no role engine_speed_second",
    ),
    "a band that is no pair": ("band = [0, 1500]", "band = [0]", "band = [0]", "two whole numbers"),
    "a counter that is no plain number": (
        'label = "Starts"\nbytes = 4',
        'label = "Starts"\nbytes = 4\nfactor = 0.5',
        "counter = true",
        "no plain number",
    ),
    "a known text of a number": (
        'label = "Starts"\nbytes = 4',
        'label = "Starts"\nbytes = 4\nknown = ["1"]',
        'known = ["1"]',
        "which is no text",
    ),
    "a counter in a snapshot": (
        'label = "Since key on"\nbytes = 2\nunit = "s"',
        'label = "Since key on"\nbytes = 2\nunit = "s"\ncounter = true',
        "counter = true",
        "belongs to [[uds.identity]]",
    ),
    "hours of a band of another unit": (
        'unit = "h"\ndecimals = 1\nband = [0, 1500]',
        'unit = "s"\ndecimals = 1\nband = [0, 1500]',
        'unit = "s"',
        "hours of a band",
    ),
    "a number without its width": (
        'label = "Engine hours"\nbytes = 4\nfactor = 0.05\nunit = "h"\ndecimals = 1\nhours',
        'label = "Engine hours"\nfactor = 0.05\nunit = "h"\ndecimals = 1\nhours',
        "[[uds.snapshot]]",
        "no bytes",
    ),
    "a fault code that is none": ('code = "P0117"', 'code = "P0G17"', 'code = "P0G17"', "P0G17"),
    "a fault code twice": ('code = "P0118"', 'code = "P0117"', 'code = "P0117"', "twice"),
    "a snapshot value twice": ("did = 0xF405", "did = 0xF40C", "did = 0xF40C", "twice"),
    "hours of another unit": (
        'unit = "h"\ndecimals = 1\nhours',
        'unit = "s"\nhours',
        'unit = "s"',
        "engine hours",
    ),
    "one record for two things": ("age = 2", "age = 1", "age = 1", "both record 1"),
    "record number 0": ("age = 2", "age = 0", "age = 0", "record number"),
    "an output of no kind": ('kind = "fan"', 'kind = "starter"', 'kind = "starter"', "injector, coil"),
    "an output named twice": ('key = "injector_2"', 'key = "injector_1"', 'key = "injector_1"', "twice"),
    "an output identifier twice": ("did = 0xD102", "did = 0xD101", "did = 0xD101", "twice"),
    "too many pulses": ("count = 20", "count = 21", "count = 21", "1 and 20"),
    "pulses too wide": ("width_ms = 5.0", "width_ms = 5.1", "width_ms = 5.1", "at most 5"),
    "fuel without a flow": ("\nflow_cm3_min = 300\n", "\n", "[[uds.outputs]]", "static flow"),
    "fuel that is not finite": (
        'parameters = ["count", "width_100us"]\ncount = 20',
        'parameters = ["width_100us"]\ncount = 20',
        "[[uds.outputs]]",
        "cannot carry count",
    ),
    "spark that is not finite": (
        'kind = "coil"\nmodule = "engine"\ndid = 0xD111\nparameters = ["count", "width_100us"]',
        'kind = "coil"\nmodule = "engine"\ndid = 0xD111\nparameters = ["count"]',
        "[[uds.outputs]]",
        "cannot carry count",
    ),
    "a sweep without its time": ('kind = "fan"', 'kind = "reverse_gate"', "[[uds.outputs]]", "one sweep"),
    "a pump that tells no text": (
        'fuel_pump = "FuelPumpRelay"',
        'fuel_pump = "EngineSpeed"',
        'fuel_pump = "EngineSpeed"',
        "no texts",
    ),
    "a parameter that is not known": (
        'parameters = ["burst_100ms"]',
        'parameters = ["burst_100ms", "for_ever"]',
        'parameters = ["burst_100ms", "for_ever"]',
        "for_ever",
    ),
    "a burst too long": ("burst_s = 0.5", "burst_s = 0.6", "burst_s = 0.6", "0.5"),
    "an inhibit that nobody can read back": (
        "status_did = 0xD141\n",
        "",
        "[[uds.outputs]]",
        "status_did of fuel_inhibit is missing",
    ),
    "an inhibit told by 0": (
        "did = 0xD142\nstatus_held = 1",
        "did = 0xD142\nstatus_held = 0",
        "status_held = 0",
        "1 to 255",
    ),
    "an inhibit with a burst": (
        "status_did = 0xD142",
        "status_did = 0xD142\nburst_s = 0.5",
        "[[uds.outputs]]",
        "has a burst",
    ),
    "an inhibit with a parameter": (
        "status_did = 0xD142",
        'status_did = 0xD142\nparameters = ["count"]',
        'parameters = ["count"]',
        "of no use",
    ),
    "a fan that is read back": (
        "did = 0xD121",
        "did = 0xD121\nstatus_did = 0xD121",
        "status_did = 0xD121",
        "no inhibit",
    ),
    "held too long": ("longest_s = 3", "longest_s = 30", "longest_s = 30", "longest_s = 30 of horn"),
}


@pytest.mark.parametrize(
    ("old", "new", "line", "word"), SLIPS.values(), ids=[s.replace(" ", "_") for s in SLIPS]
)
def test_a_slip_is_named_on_its_line_with_how_to_mend_it(spoil, old, new, line, word):
    found = spoil(old, new)
    assert any(line in text and word in str(error) and error.mend for text, error in found), found


def test_identifiers_of_29_bits_are_said_and_go_to_one_controller(spoil):
    [(line, error)] = spoil("request = 0x7E1", "request = 0x18DA21F1")
    assert "request = 0x18DA21F1" in line
    assert '"29-bit"' in error.mend
    assert spoil("padding = 0", 'identifiers = "29-bit"\npadding = 0') == []
    # ISO 15765-2, normal fixed addressing (from memory): DA goes to one controller, DB to all of a group.
    [(line, error)] = spoil("request = 0x18DA21F1", "request = 0x18DB21F1")
    assert "0x18DB21F1 of display asks every controller at once" in str(error)


def test_a_list_where_one_section_belongs_is_told(spoil):
    [(text, error)] = spoil("[uds.extended]", "[[uds.extended]]")
    assert text == "[[uds.extended]]"
    assert "[uds.extended]" in error.mend


def test_a_value_where_a_list_of_sections_belongs_is_told(folder):
    path = folder / "family.toml"
    text = path.read_text("utf-8")
    path.write_text(text[: text.index("[[uds.modules]]")].replace("padding = 0", "modules = 3"), "utf-8")
    _, errors = check_folder(folder)
    assert any("[[uds.modules]]" in error.mend for error in errors)


def test_the_slip_in_the_last_of_many_sections_is_found_there_and_not_in_the_first(spoil):
    [(text, error)] = spoil("did = 0xD125", "did = 0xD1250")
    assert text == "did = 0xD1250"
    assert "[[uds.outputs]]" in str(error) or "[uds.outputs]" in str(error)


def test_every_kind_of_output_that_this_craft_has_stands_in_auk():
    missing = {Kind.LAMP, Kind.GAUGES, Kind.REVERSE_GATE, Kind.TRIM}
    assert {plan.data.kind for plan in load_family(SHIPPED / "auk").uds.outputs} == set(Kind) - missing
