"""Broadcasts of several frames: one captured from can-j1939 (standards.md 5.5), and each way to break it."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bus.transport import LONGEST, Broadcasts, Whole

DM1 = 65226
CAPTURED = [
    (0x18ECFF00, "20 0E 00 02 FF CA FE 00"),
    (0x1CEBFF00, "01 04 FF 6E 00 00 01 64"),
    (0x1CEBFF00, "02 00 01 03 BE 00 08 02"),
]
WHOLE = Whole(0, DM1, bytes.fromhex("04 FF 6E 00 00 01 64 00 01 03 BE 00 08 02"), 0.0)


@pytest.fixture
def feed():
    """Broadcasts that have taken these (identifier, bytes) frames, 60 ms apart; and what came out."""

    def call(frames, step=0.06):
        broadcasts = Broadcasts({DM1, 65227})
        whole = [
            broadcasts.feed(ident, number * step, bytes.fromhex(data) if isinstance(data, str) else data)
            for number, (ident, data) in enumerate(frames)
        ]
        return broadcasts, [each._replace(since=0.0) for each in whole if each]

    return call


def made(source, payload, group=DM1):
    """A broadcast, laid out by hand."""
    packets = -(-len(payload) // 7)
    head = bytes([32, len(payload) & 255, len(payload) >> 8, packets, 255]) + group.to_bytes(3, "little")
    frames = [(0x18ECFF00 | source, head)]
    for number in range(packets):
        part = payload[number * 7 : number * 7 + 7].ljust(7, b"\xff")
        frames.append((0x18EBFF00 | source, bytes([number + 1]) + part))
    return frames


def test_the_captured_broadcast_comes_whole(feed):
    broadcasts, whole = feed(CAPTURED)
    assert whole == [WHOLE]
    assert (broadcasts.unused, broadcasts.waiting, broadcasts.held) == (0, 0, 0)


def test_priority_does_not_count(feed):
    assert feed([(ident & 0x3FFFFFF, data) for ident, data in CAPTURED])[1] == [WHOLE]


def test_what_came_whole_says_when_it_was_announced():
    broadcasts = Broadcasts({DM1})
    whole = [
        broadcasts.feed(ident, at, bytes.fromhex(data))
        for at, (ident, data) in zip((5.0, 5.1, 5.2), CAPTURED, strict=True)
    ]
    assert whole[-1] is not None
    assert whole[-1].since == 5.0


def test_nothing_comes_before_the_last_packet(feed):
    broadcasts, whole = feed(CAPTURED[:2])
    assert whole == []
    assert broadcasts.waiting == 2


BROKEN = {
    "packet missing": [CAPTURED[0], CAPTURED[2]],
    "packet twice": [*CAPTURED[:2], CAPTURED[1], CAPTURED[2]],
    "no announcement": CAPTURED[1:],
    "packet short": [*CAPTURED[:2], (0x1CEBFF00, "02 00 01 03")],
    "announcement short": [(0x18ECFF00, "20 0E 00 02"), *CAPTURED[1:]],
    "packets do not fit the size": [(0x18ECFF00, "20 0E 00 03 FF CA FE 00"), *CAPTURED[1:]],
    "size zero": [(0x18ECFF00, "20 00 00 00 FF CA FE 00"), *CAPTURED[1:]],
    "size over 1785": [(0x18ECFF00, "20 FF FF FF FF CA FE 00"), *CAPTURED[1:]],
    "another sender's packet": [*CAPTURED[:2], (0x1CEBFF01, CAPTURED[2][1])],
    "to one address": [(ident & ~0xFF00 | 0x4400, data) for ident, data in CAPTURED],
    "asked for by one": [(0x18ECFF00, "10 0E 00 02 FF CA FE 00"), *CAPTURED[1:]],
    "broken off": [*CAPTURED[:2], (0x18ECFF00, "FF 01 FF FF FF CA FE 00"), CAPTURED[2]],
    "another group": [(0x18ECFF00, "20 0E 00 02 FF E3 FE 00"), *CAPTURED[1:]],
}


@pytest.mark.parametrize("frames", BROKEN.values(), ids=BROKEN)
def test_what_is_broken_gives_nothing_and_does_not_spoil_the_next(feed, frames):
    assert feed(frames)[1] == []
    assert feed([*frames, *CAPTURED])[1] == [WHOLE]


def test_a_packet_that_comes_late_ends_the_broadcast(feed):
    assert feed(CAPTURED, step=0.74)[1] == [WHOLE]
    assert feed(CAPTURED, step=0.76)[1] == []


def test_a_recording_without_times_is_put_together(feed):
    assert feed(CAPTURED, step=float("nan"))[1] == [WHOLE]


def test_a_new_announcement_takes_the_place_of_the_old_one(feed):
    broadcasts, whole = feed([*CAPTURED[:2], *CAPTURED])
    assert whole == [WHOLE]
    assert broadcasts.unused == 2


def test_broadcasts_of_two_senders_run_beside_each_other(feed):
    first, second = made(0, bytes(range(20))), made(7, bytes(range(100, 120)))
    mixed = [frame for pair in zip(first, second, strict=True) for frame in pair]
    assert feed(mixed)[1] == [
        Whole(0, DM1, bytes(range(20)), 0.0),
        Whole(7, DM1, bytes(range(100, 120)), 0.0),
    ]


@given(st.binary(min_size=9, max_size=LONGEST), st.integers(0, 255))
@settings(max_examples=50, deadline=None)
def test_every_size_comes_out_as_it_went_in(payload, source):
    broadcasts = Broadcasts({DM1})
    out = [broadcasts.feed(ident, 0.0, data) for ident, data in made(source, payload)]
    assert out == [None] * (len(out) - 1) + [Whole(source, DM1, payload, 0.0)]


IDENTS = st.one_of(
    st.integers(0, 0xFFFFFFFF),
    st.builds(
        lambda group, to, source: 0x18000000 | group << 16 | to << 8 | source,
        st.sampled_from([0xEC, 0xEB]),
        st.sampled_from([0xFF, 0xFF, 0x44]),
        st.sampled_from([0, 1, 2]),
    ),
)
PIECES = st.one_of(
    st.binary(max_size=8),
    st.sampled_from([bytes.fromhex(data) for _, data in CAPTURED]),
    st.builds(
        lambda number, rest: bytes([number]) + rest, st.integers(0, 4), st.binary(min_size=7, max_size=7)
    ),
)


@given(st.lists(st.tuples(IDENTS, st.floats(0, 2), PIECES), max_size=60))
@settings(max_examples=200, deadline=None)
def test_any_frames_never_raise_and_what_comes_out_is_what_one_sender_sent(frames):
    broadcasts = Broadcasts({DM1})
    sent = {}
    for ident, at, data in frames:
        whole = broadcasts.feed(ident, at, data)
        to_all = ident >> 8 & 0x3FFFF in (0xEBFF, 0xECFF)
        if to_all and ident >> 8 & 0x3FFFF == 0xEBFF:
            sent.setdefault(ident & 0xFF, []).append(data[1:])
        if whole is not None:
            packets = -(-len(whole.data) // 7)
            assert whole.group == DM1
            assert b"".join(sent[whole.source][-packets:])[: len(whole.data)] == whole.data
        assert broadcasts.held <= 256 * LONGEST


def test_every_address_announcing_the_longest_keeps_memory_bounded():
    broadcasts = Broadcasts({DM1})
    for _ in range(2):
        for source in range(256):
            for ident, data in made(source, bytes(LONGEST))[:-1]:
                broadcasts.feed(ident, 0.0, data)
    assert broadcasts.held == 256 * 254 * 7
