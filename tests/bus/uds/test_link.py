"""ISO 15765-2 over the gate: worked examples, and every way an answer can go wrong."""

import ast
import time
from pathlib import Path

import pytest
from udsoncan.exceptions import TimeoutException

from app.errors import ControllerError, ControllerNonsense, ControllerSilent, Refused
from bus import asker, link
from bus.exchange import AllowedRequest, Class, Exchange
from bus.frame import EXTENDED, Frame
from bus.link import Link, LinkCut

VIN = bytes.fromhex("62F190") + b"1M8GDM9AXKP042788"
"""The worked example of an open library and an independent one, which agree on every frame."""


class Door:
    """Stands for the gate: a real exchange decides what leaves; a peer hears it at once."""

    def __init__(self):
        self.sent = []
        self.peer = lambda _data: ()
        self.exchange = None
        self.finished = []

    def admit(self, request, intent=None, why=""):
        self.exchange = Exchange(request)
        return self.exchange

    def transmit(self, exchange, ident, data):
        if exchange.let_out(ident, data):
            self.sent.append((ident, data))
            for answer in self.peer(data):
                exchange.hear(answer)

    def finish(self, exchange):
        exchange.close()
        self.finished.append(exchange)


@pytest.fixture
def door():
    return Door()


@pytest.fixture
def ask(door):
    """Sends a request and hands back the answer as it came."""
    made = Link(door)

    def go(pdu="22F190", timeout=0.2, longest=3.0, padding=0):
        request = AllowedRequest(bytes.fromhex(pdu), Class.READING, 0x7E0, 0x7E8, padding, "Asking")
        made.begin(request, longest)
        try:
            made.empty_rxqueue()
            made.send(request.pdu)
            return made.wait_frame(timeout, exception=True)
        finally:
            made.end()

    go.link = made
    return go


def frames(*lines):
    return [bytes.fromhex(line) for line in lines]


VIN_FRAMES = frames("10 14 62 F1 90 31 4D 38", "21 47 44 4D 39 41 58 4B", "22 50 30 34 32 37 38 38")


def test_example_a_a_long_answer_is_put_together_with_one_flow_control(ask, door):
    door.peer = lambda data: VIN_FRAMES[:1] if data[0] == 3 else VIN_FRAMES[1:]
    assert ask() == VIN
    assert door.sent == [
        (0x7E0, bytes.fromhex("0322F19000000000")),
        (0x7E0, bytes.fromhex("3000000000000000")),
    ]
    assert door.finished == [door.exchange]


@pytest.mark.parametrize("wide", [0x18DA10F1, 0x7E0], ids=["fixed_addressing", "few_digits"])
def test_a_controller_with_29_bit_identifiers_is_asked_and_heard_by_them_alone(door, wide):
    # 18DA10F1 (ISO 15765-4, from memory): the tester F1 asks the controller 10; bit 31 set as in SocketCAN.
    made = Link(door)
    door.peer = lambda data: VIN_FRAMES[:1] if data[0] == 3 else VIN_FRAMES[1:]
    request = AllowedRequest(
        bytes.fromhex("22F190"), Class.READING, EXTENDED | wide, EXTENDED | 0x18DAF110, 0, ""
    )
    made.begin(request, 3.0)
    door.exchange.feed([Frame(0.0, 0x18DAF110 & 0x7FF, VIN_FRAMES[0])])  # of another length: not its answer
    made.send(request.pdu)
    assert made.wait_frame(0.2, exception=True) == VIN
    assert [ident for ident, _ in door.sent] == [EXTENDED | wide] * 2
    made.end()


def test_example_b_a_long_request_wraps_its_count_and_waits_after_each_block(ask, door):
    flow = bytes.fromhex("3008000000000000")
    count = []

    def peer(data):
        count.append(data)
        consecutive = len(count) - 1
        return [flow] if consecutive in (0, 8, 16) else []

    door.peer = peer
    payload = bytes(range(0x82))
    request = AllowedRequest(payload, Class.READING, 0x7E0, 0x7E8, 0, "Asking")
    ask.link.begin(request, 5.0)
    ask.link.send(payload)
    ask.link.end()
    sent = [data for _, data in door.sent]
    assert sent[0].hex() == "1082000102030405"
    assert [data[0] for data in sent[1:]] == [*range(0x21, 0x30), 0x20, 0x21, 0x22]
    firsts = {0: 0x06, 7: 0x37, 8: 0x3E, 14: 0x68, 15: 0x6F, 16: 0x76}
    assert {place: sent[1 + place][1] for place in firsts} == firsts
    assert sent[18].hex() == "227d7e7f80810000"


def test_example_c_a_refusal_is_taken_whatever_the_filler(ask, door):
    door.peer = lambda _: frames("03 7F 22 31 CC CC CC CC")
    assert ask() == bytes.fromhex("7F2231")


@pytest.mark.parametrize("padding", [0x00, 0x55, 0xAA, 0xCC, 0xFF])
def test_short_frames_are_filled_as_the_family_says(ask, door, padding):
    door.peer = lambda data: VIN_FRAMES[:1] if data[0] == 3 else VIN_FRAMES[1:]
    assert ask(padding=padding) == VIN
    fill = bytes([padding])
    assert [data for _, data in door.sent] == [
        bytes.fromhex("0322F190") + fill * 4,
        bytes.fromhex("300000") + fill * 5,
    ]


IGNORED = {
    "nothing": "",
    "single_frame_of_no_length": "00 62 F1 90 31 32 33 34",
    "single_frame_too_long": "08 62 F1 90 31 32 33 34",
    "single_frame_cut_off": "05 62 F1 90",
    "first_frame_of_a_short_answer": "10 07 62 F1 90 31 32 33",
    "first_frame_of_endless_length": "10 00 00 00 FF FF 62 F1",
    "consecutive_frame_out_of_nowhere": "21 01 02 03 04 05 06 07",
    "flow_control_for_nothing": "30 00 00",
    "flow_control_cut_off": "30 00",
    "a_kind_that_does_not_exist": "F0 62 F1 90 31 32 33 34",
    "an_answer_to_another_service": "05 59 02 FF 01 17",
    "a_late_answer_to_another_question": "04 62 F1 8C 31",
    "a_refusal_of_another_service": "03 7F 19 31",
    "a_refusal_cut_off": "02 7F 22",
}


@pytest.mark.parametrize("noise", IGNORED.values(), ids=IGNORED)
def test_noise_before_the_answer_changes_nothing_and_is_never_answered(ask, door, noise):
    door.peer = lambda _: frames(noise, "04 62 F1 90 37 00 00 00")
    assert ask() == bytes.fromhex("62F19037")
    assert len(door.sent) == 1


@pytest.mark.parametrize("noise", IGNORED.values(), ids=IGNORED)
def test_noise_alone_is_no_answer(ask, door, noise):
    door.peer = lambda _: frames(noise)
    with pytest.raises(TimeoutException):
        ask(timeout=0.05)
    assert len(door.sent) == 1


def test_what_came_before_the_request_left_is_not_its_answer(ask, door):
    admit = door.admit

    def with_leftovers(request, intent=None, why=""):
        exchange = admit(request, intent)
        for frame in frames("04 62 F1 90 31 00 00 00", *(data.hex() for data in VIN_FRAMES[:1])):
            exchange.hear(frame)
        return exchange

    door.admit = with_leftovers
    with pytest.raises(TimeoutException):
        ask(timeout=0.05)
    assert len(door.sent) == 1


def test_a_wrong_count_ends_the_answer(ask, door):
    door.peer = lambda data: VIN_FRAMES[:1] if data[0] == 3 else [VIN_FRAMES[2]]
    with pytest.raises(ControllerNonsense, match="broke off"):
        ask()


def test_an_answer_that_stops_half_way_is_given_up_after_n_cr(ask, door):
    door.peer = lambda data: VIN_FRAMES[:1] if data[0] == 3 else VIN_FRAMES[1:2]
    with pytest.raises(ControllerNonsense, match="broke off"):
        ask()


def test_a_new_answer_takes_the_place_of_one_that_was_broken_off(ask, door):
    door.peer = lambda data: VIN_FRAMES[:1] if data[0] == 3 else frames("04 62 F1 90 37 00 00 00")
    assert ask() == bytes.fromhex("62F19037")


def test_an_answer_that_begins_for_ever_is_given_up(ask, door):
    door.peer = lambda data: VIN_FRAMES[:1]
    with pytest.raises(ControllerNonsense, match="again and again"):
        ask()
    assert len(door.sent) <= 1 + link.LONG_ANSWERS + 1


def test_a_request_that_is_not_taken_ends(ask, door):
    pdu = bytes(range(0x22, 0x22 + 20)).hex()
    with pytest.raises(ControllerSilent):
        ask(pdu, longest=0.1)
    assert len(door.sent) == 1


def test_a_controller_that_says_wait_for_ever_is_let_alone_with_nothing_more_sent(ask, door):
    # ISO 15765-2: flow status 1 is "wait"; how often it may come (N_WFTmax) is ours to say: 4.
    waits = []

    def peer(data):
        return [b"\x31\x00\x00"] if data[0] >> 4 == 1 else []

    door.peer = peer
    honest = door.admit

    def admit(request, intent=None, why=""):
        exchange = honest(request, intent, why)
        answer = exchange.answer

        def wait_again(timeout_s):
            waits.append(timeout_s)
            exchange.hear(b"\x31\x00\x00")
            return answer(timeout_s)

        exchange.answer = wait_again
        return exchange

    door.admit = admit
    with pytest.raises(ControllerError):
        ask(bytes(range(0x22, 0x22 + 20)).hex(), longest=2.0)
    assert len(door.sent) == 1
    assert 4 <= len(waits) <= 10 * link.MOST_A_TURN


@pytest.mark.parametrize("separation", [0x80, 0xF0, 0xFA, 0xFF])
def test_a_reserved_separation_time_means_the_longest(ask, door, separation):
    # ISO 15765-2 by an independent library: 127 ms.
    times = []

    def peer(data):
        times.append(time.monotonic())
        return [bytes([0x30, 0, separation])] if data[0] >> 4 == 1 else []

    door.peer = peer
    with pytest.raises(TimeoutException):
        ask(bytes(range(0x22, 0x22 + 20)).hex(), timeout=0.01)
    assert len(times) == 3
    assert times[2] - times[1] >= 0.127


def test_an_exchange_that_the_gate_closed_is_not_waited_for(ask, door):
    def cut(_data):
        door.exchange.close()
        return ()

    door.peer = cut
    with pytest.raises(LinkCut):
        ask(timeout=5)


def test_what_the_gate_does_not_admit_is_not_begun(ask, door):
    def refuse(request, intent=None, why=""):
        raise Refused(request.what, ("The craft is not heard",))

    door.admit = refuse
    with pytest.raises(Refused):
        ask()
    assert door.sent == []
    assert not ask.link.is_open()


@pytest.mark.parametrize("module", [link, asker])
def test_of_the_libraries_nothing_is_used_that_opens_a_bus_or_starts_a_thread(module):
    used = {
        f"{node.value.id}.{node.attr}"
        for node in ast.walk(ast.parse(Path(module.__file__).read_text("utf-8")))
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name)
    }
    allowed = {"Address", "AddressingMode", "CanMessage", "TransportLayerLogic"}
    assert {name for name in used if name.startswith("isotp.") and not name.endswith("Error")} <= {
        "isotp.MaximumWaitFrameReachedError",
        *(f"isotp.{name}" for name in allowed),
    }
    imported = {
        f"{node.module}.{alias.name}"
        for node in ast.walk(ast.parse(Path(module.__file__).read_text("utf-8")))
        if isinstance(node, ast.ImportFrom) and str(node.module).startswith(("udsoncan", "isotp"))
        for alias in node.names
    }
    assert {name for name in imported if "exceptions" not in name} <= {
        "udsoncan.connections.BaseConnection",
        "udsoncan.client.Client",
        "udsoncan.Request.Request",
    }
