"""How a value is coded decides what is read; what cannot be one is none."""

import pytest

from app.errors import ControllerNonsense
from bus.uds_answers import identity_value, kept, value_text
from bus.uds_form import Item


def item(**how):
    return Item(did=0xF1A0, label="Value", **how)


@pytest.mark.parametrize(
    ("raw", "how", "text"),
    [
        ("00000064", {"bytes": 4, "factor": 0.05, "decimals": 1}, "5.0"),
        ("7B", {"bytes": 1, "offset": -40.0}, "83"),
        ("FE", {"bytes": 1, "signed": True}, "-2"),
        ("FF", {"bytes": 1, "signed": True}, "-1"),
        ("7F", {"bytes": 1, "signed": True}, None),
        ("7F", {"bytes": 1, "signed": True, "full_range": True}, "127"),
        ("FF", {"bytes": 1}, None),
        ("FF", {"bytes": 1, "full_range": True}, "255"),
        ("FFFE", {"bytes": 2}, "65534"),
        ("01", {"bytes": 2}, None),
        ("010203", {"bytes": 2}, None),
        ("", {"bytes": 1}, None),
        ("41554B", {"text": True}, "AUK"),
        ("41554B20FF00FF", {"text": True}, "AUK"),
        ("41004B", {"text": True}, None),
        ("41E4", {"text": True}, None),
        ("0000", {"text": True}, None),
        ("", {"text": True}, None),
    ],
)
def test_a_value_is_read_as_the_family_says(raw, how, text):
    assert value_text(bytes.fromhex(raw), item(**how)) == text


def test_a_value_of_another_form_is_nonsense():
    with pytest.raises(ControllerNonsense, match="do not know"):
        identity_value(bytes.fromhex("62F1A001"), item(bytes=2))


def test_of_several_records_the_first_is_shown_and_nothing_behind_an_unknown_value_is_guessed():
    items = {0xF405: Item(did=0xF405, label="Coolant", bytes=1, offset=-40.0, unit="degC")}
    head = "590401170008"
    two_records = bytes.fromhex(head + "0101F4057B" + "0201F40528")
    unknown = bytes.fromhex(head + "0103F4057B" + "D0FF1122" + "F40528")
    for answer in (two_records, unknown):
        assert [line.value for line in kept(answer, items).lines] == ["83"]


@pytest.mark.parametrize(
    "cut", ["5904011700", "59040117000801", "5904011700080101F4", "5904011700080102F4057B"]
)
def test_a_snapshot_that_ends_too_soon_is_nonsense(cut):
    with pytest.raises(ControllerNonsense, match="cut off"):
        kept(bytes.fromhex(cut), {0xF405: Item(did=0xF405, label="Coolant", bytes=1)})


def test_a_fault_without_a_snapshot_has_none():
    assert kept(bytes.fromhex("590401170008"), {}) == ([], None)
