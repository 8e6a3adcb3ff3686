"""Raw frames in words, while no craft is named; and only then."""

from msgspec import structs
from some_faults import rows

from app.messages import LinkState, RawFrame
from app.raw_words import has_raw, raw_words

FRAMES = [
    RawFrame("0C8", "00 1F", 1204, 0.0204),
    RawFrame("3F1", "", 1, 0.0),
    RawFrame("0CF00400", "FF", 98, 0.05, "SAE J1939 engine: Engine speed 113.25 rpm"),
]


def moment(make, state=LinkState.UNKNOWN_CRAFT, raw=FRAMES, **view):
    made = make.view(state=state, **view)
    return make.moment(structs.replace(made, snapshot=structs.replace(made.snapshot, raw=list(raw))))


def test_each_identifier_has_a_row_with_bytes_period_and_what_a_standard_says(make):
    title, lines = raw_words(moment(make))
    assert title == "Raw frames: 3 identifiers"
    assert rows(lines) == [
        "0C8 00 1F · every 20 ms.",
        "3F1 no bytes · once.",
        "0CF00400 FF · every 50 ms. SAE J1939 engine: Engine speed 113.25 rpm.",
    ]


def test_of_a_craft_that_is_named_or_a_bus_that_is_not_heard_there_are_none(make):
    assert has_raw(moment(make))
    assert not has_raw(moment(make, LinkState.FOUND))
    assert not has_raw(moment(make, connected=False))
    assert not has_raw(moment(make, raw=[]))
    assert raw_words(moment(make, LinkState.FOUND))[0] == "Raw frames"
