"""The simulator's own tables beside the families' data: two people's hands, one description."""

import re
import tomllib
from pathlib import Path

import pytest

from simulator import uds_auk, uds_shared, uds_skua
from simulator.codec import EXTENDED
from simulator.craft import Craft

FAMILIES = Path(__file__).resolve().parents[3] / "bus/families"
TABLES = {"auk": uds_auk, "skua": uds_skua}


@pytest.fixture(scope="module", params=TABLES)
def family(request):
    return request.param


@pytest.fixture(scope="module")
def uds(family):
    return tomllib.loads((FAMILIES / family / "family.toml").read_text())["uds"]


@pytest.fixture(scope="module")
def controllers(family):
    return Craft(family).diagnosis.controllers


@pytest.fixture(scope="module")
def modules(controllers):
    return {key: one.module for key, one in controllers.items()}


def test_controllers_have_the_same_identifiers(uds, modules):
    mark = EXTENDED if uds.get("identifiers") == "29-bit" else 0
    assert {one["key"]: (mark | one["request"], mark | one["response"]) for one in uds["modules"]} == {
        key: (one.request, one.response) for key, one in modules.items()
    }
    assert {one.padding for one in modules.values()} == {uds["padding"]}
    assert {one.records for one in modules.values()} == {(uds["extended"]["count"], uds["extended"]["age"])}


def test_the_same_can_be_read_and_it_has_the_bytes_it_should(uds, modules):
    said = {(one["module"], one["did"]) for one in uds["identity"]}
    assert said == {(key, did) for key, one in modules.items() for did in one.identity}
    for one in uds["identity"]:
        value = modules[one["module"]].identity[one["did"]]()
        if one.get("text"):
            assert value.decode("ascii").isprintable()
        else:
            assert len(value) == one["bytes"]


def test_every_code_has_a_text_and_every_text_a_code(uds, controllers):
    texts = {(one["module"], one["code"]) for one in uds["faults"]}
    assert texts == {(key, code) for key, one in controllers.items() for code in one.memory.supported}


def test_every_code_that_is_ever_stored_is_supported(controllers):
    stored = {code for codes in uds_auk.SENSOR_CODES.values() for code in codes}
    stored |= {code for code, _ in uds_auk.CONDITION_CODES.values()}
    assert stored <= set(controllers["engine"].memory.supported)
    assert uds_auk.LOST_ENGINE in controllers["display"].memory.supported


def test_what_the_gate_module_and_the_charger_store_is_supported():
    own = {uds_skua.GATE_CODE, uds_skua.TRIM_CODE, uds_skua.LOST_ENGINE}
    assert own <= set(uds_skua.GATE_CODES)
    assert uds_skua.LOW_BOOST in uds_skua.ENGINE_CODES


def test_the_snapshot_has_the_values_the_family_describes(family, uds):
    record = TABLES[family].snapshot(Craft(family))
    left, found = record[1:], []
    sizes = {one["did"]: one["bytes"] for one in uds["snapshot"]}
    while left:
        did = int.from_bytes(left[:2], "big")
        found.append(did)
        left = left[2 + sizes[did] :]
    assert found == [one["did"] for one in uds["snapshot"]]
    assert record[0] == len(found)


def test_outputs_are_the_same_and_what_the_family_asks_for_is_offered(family, uds, modules):
    table = {output.key: output for output in TABLES[family].OUTPUTS}
    assert set(table) == {one["key"] for one in uds["outputs"]}
    for one in uds["outputs"]:
        mine = table[one["key"]]
        assert (mine.did, mine.cylinder, mine.module) == (one["did"], one.get("cylinder", 0), one["module"])
        assert mine.pulsed == (one["kind"] in {"injector", "coil"})
        assert mine.flow_cm3_min == one.get("flow_cm3_min", 0)
        assert mine.period_ms == one.get("period_ms", 0)
        parameters = one.get("parameters", [])
        assert mine.width_first == (parameters[:1] == ["width_100us"])
        values = {"count": one.get("count"), "width_100us": one.get("width_ms", 0) * 10}
        values["burst_100ms"] = one.get("burst_s", 0) * 10
        start = f"2f{one['did']:04x}03" + "".join(f"{round(values[name]):02x}" for name in parameters)
        assert (mine.kind == "inhibit") == (mine.holds_off != "") == ("status_did" in one)
        status = [f"22{one['status_did']:04x}"] if "status_did" in one else []
        if status:
            assert (mine.status, mine.held_value) == (one["status_did"], one["status_held"])
        for request in (start, f"2f{one['did']:04x}00", *status):
            assert any(re.fullmatch(pattern, request) for pattern in modules[mine.module].offered), request


def test_the_hull_number_is_a_sound_one(family):
    # 33 CFR 181.25: twelve characters, no I, O, Q in the serial, month A to L, year digit, model year.
    assert re.fullmatch(r"[A-Z]{3}[A-HJ-NPR-Z0-9]{5}[A-L][0-9][0-9]{2}", TABLES[family].HULL)


def throttle_byte(craft):
    record = uds_auk.snapshot(craft)
    return record[record.index(b"\xf4\x11") + 2]


def test_a_value_at_its_end_is_not_sent_as_one_that_is_not_known():
    craft = Craft()
    craft.act({"do": "key", "on": True})
    craft.act({"do": "throttle", "percent": 100.0})
    for _ in range(400):
        craft.advance(0.005)
    assert uds_shared.seen(craft, "throttle_1") == pytest.approx(100.0, abs=0.1)
    assert throttle_byte(craft) == 0xFE  # by hand: 100 % makes 0xFF, which stands for "not known"
    craft.bench.key_age = 1e9
    assert uds_auk.snapshot(craft)[-2:] == b"\xff\xfe"
    assert uds_auk.display_snapshot(craft)[-2:] == b"\xff\xfe"
    craft.act({"do": "plant", "signal": "Throttle1", "kind": "not_available"})
    assert throttle_byte(craft) == 0xFF
