"""The serial-line adapter, byte by byte.

Commands and answers as the Linux kernel's slcan documentation and the makers of such adapters describe them.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.codec import EXTENDED
from simulator.ledger import Ledger
from simulator.slcan import Adapter

FRAMES = [(0x120, bytes.fromhex("0011223344556677")), (0x09F20010 | EXTENDED, b"\xab")]


class Bench:
    def __init__(self, **options):
        self.awake = True
        self.ledger = Ledger(lambda: {"rev_min": 0.0, "key": True, "lanyard_pulled": False})
        self.adapter = Adapter(500_000, self.ledger, awake=lambda: self.awake, **options)

    def say(self, *commands):
        return [self.adapter.feed(command) for command in commands]

    def frames(self, at_ms=0):
        return b"".join(self.adapter.lines(FRAMES, at_ms))

    @property
    def violations(self):
        return [entry["violation"] for entry in self.ledger.violations]


@pytest.fixture
def bench():
    return Bench()


def test_a_conversation_from_rate_to_close(bench):
    assert bench.say(b"S6\r", b"L\r") == [b"\r", b"\r"]
    assert bench.frames() == b"t12080011223344556677\rT09F200101AB\r"
    assert bench.say(b"V\r", b"N\r", b"F\r", b"C\r") == [b"V1013\r", b"NSIM1\r", b"F00\r", b"\r"]
    assert bench.frames() == b""
    assert bench.violations == []
    assert [entry["bytes"] for entry in bench.ledger.entries] == ["S6", "L", "V", "N", "F", "C"]


@pytest.mark.parametrize(
    ("number", "rate"),
    list(enumerate([10_000, 20_000, 50_000, 100_000, 125_000, 250_000, 500_000, 800_000, 1_000_000])),
)
def test_each_rate_command_sets_its_rate(bench, number, rate):
    assert bench.say(b"S%d\r" % number) == [b"\r"]
    assert bench.adapter.rate == rate


def test_nothing_flows_before_it_is_opened(bench):
    assert bench.frames() == b""
    bench.say(b"S6\r")
    assert bench.frames() == b""


@pytest.mark.parametrize("command", [b"L", b"O"])
def test_at_another_rate_no_frame_gets_through_and_the_flags_say_bus_error(bench, command):
    bench.say(b"S5\r", command + b"\r")
    assert bench.frames() == b""
    assert bench.say(b"F\r") == [b"F84\r"]
    assert bench.say(b"F\r") == [b"F00\r"]  # flags are cleared by reading
    assert bench.violations == (["open at a wrong rate in normal mode"] if command == b"O" else [])


def test_on_a_sleeping_bus_a_wrong_rate_disturbs_nothing_until_the_bus_wakes(bench):
    bench.awake = False
    bench.say(b"S5\r", b"O\r")
    bench.adapter.lines([], 0)
    assert bench.say(b"F\r") == [b"F00\r"]
    assert bench.violations == []
    bench.awake = True
    bench.adapter.lines(FRAMES, 5)
    bench.adapter.lines(FRAMES, 10)
    assert bench.violations == ["open at a wrong rate in normal mode"]  # once for each opening


def test_listen_only_sends_nothing_and_acknowledges_nothing(bench):
    bench.say(b"S6\r", b"L\r")
    assert not bench.adapter.acknowledges
    assert bench.say(b"t1232AABB\r", b"T000001231FF\r", b"r1230\r") == [b"\a", b"\a", b"\a"]
    assert bench.violations == ["transmit while listen-only"] * 3


def test_an_open_adapter_acknowledges_and_what_it_sends_is_a_violation(bench):
    bench.say(b"S6\r", b"O\r")
    assert bench.adapter.acknowledges
    assert bench.say(b"t1232AABB\r", b"T000001231FF\r", b"r1230\r", b"R000001238\r") == [
        b"z\r",
        b"Z\r",
        b"z\r",
        b"Z\r",
    ]
    assert bench.violations == ["frame received"] * 4
    first = bench.ledger.violations[0]
    assert (first["ident"], first["data"], first["extended"], first["remote"]) == (
        0x123,
        "aabb",
        False,
        False,
    )
    assert (first["rev_min"], first["key"], first["lanyard_pulled"]) == (0.0, True, False)


def test_an_adapter_without_listen_only_says_no_to_it():
    bench = Bench(listen_only=False)
    assert bench.say(b"S6\r", b"L\r", b"O\r") == [b"\r", b"\a", b"\r"]
    assert bench.adapter.acknowledges


@pytest.mark.parametrize(
    "before_and_command",
    [
        [b"O\r"],
        [b"L\r"],
        [b"S6\r", b"O\r", b"O\r"],
        [b"S6\r", b"O\r", b"L\r"],
        [b"S6\r", b"O\r", b"S5\r"],
        [b"S6\r", b"O\r", b"Z1\r"],
        [b"C\r"],
        [b"F\r"],
        [b"S9\r"],
        [b"S\r"],
        [b"S66\r"],
        [b"Q\r"],
        [b"t1232AABB\r"],
        [b"S6\r", b"O\r", b"t12\r"],
        [b"S6\r", b"O\r", b"t1232AA\r"],
        [b"S6\r", b"O\r", b"t1232AABBCC\r"],
        [b"S6\r", b"O\r", b"t1239001122334455667788\r"],
        [b"S6\r", b"O\r", b"t9001AA\r"],
        [b"S6\r", b"O\r", b"T3FFFFFFF0\r"],
        [b"S6\r", b"O\r", b"tXYZ0\r"],
    ],
    ids=lambda commands: b"".join(commands).decode().replace("\r", "-"),
)
def test_what_cannot_be_done_is_answered_with_a_bell(bench, before_and_command):
    *before, command = before_and_command
    assert all(answer == b"\r" for answer in bench.say(*before))
    assert bench.say(command) == [b"\a"]
    assert bench.violations == []


def test_time_stamps_are_four_hex_digits_of_ms_in_a_minute(bench):
    bench.say(b"Z1\r", b"S6\r", b"O\r")
    assert bench.frames(at_ms=61_234) == b"t1208001122334455667704D2\rT09F200101AB04D2\r"


@given(st.integers(1, 7))
def test_commands_survive_any_cut_of_the_stream(size):
    bench = Bench()
    stream = b"C\rS6\rL\rV\rC\r"
    answers = b"".join(bench.adapter.feed(stream[n : n + size]) for n in range(0, len(stream), size))
    assert answers == b"\a\r\rV1013\r\r"


@given(st.binary(max_size=400))
def test_noise_never_raises_and_never_opens_the_adapter_unasked(block):
    bench = Bench()
    bench.adapter.feed(block)
    assert len(bench.adapter._rest) <= 64
    if b"O\r" not in block and b"L\r" not in block:
        assert bench.frames() == b""
