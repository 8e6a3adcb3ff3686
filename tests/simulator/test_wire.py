"""Real transports: the pseudo-terminal with python-can's own slcan bus as an outside client, and refusals."""

import json
import os
import re
import struct
import subprocess
import time
from pathlib import Path

import can
import pytest

from simulator import vcan, wire
from simulator.craft import Craft
from simulator.errors import Forbidden
from simulator.ledger import Ledger
from simulator.lone import LoneSender
from simulator.serve import Server

IDS = {0x120, 0x128, 0x130, 0x1A0, 0x1A8, 0x210, 0x320, 0x328, 0x7F0}


def outside(served, bitrate=500_000, *, listen_only=True):
    """python-can's own client; its pause after opening is for real devices that boot."""
    return can.Bus(
        interface="slcan",
        channel=str(served.link),
        bitrate=bitrate,
        listen_only=listen_only,
        sleep_after_open=0,
    )


def heard(bus, seconds):
    until = time.monotonic() + seconds
    found = []
    while (left := until - time.monotonic()) > 0:
        message = bus.recv(left)
        if message is not None:
            found.append(message)
    return found


@pytest.fixture
def ledger():
    return Ledger(dict)


def line(link, ledger):
    return wire.open_transport("slcan", str(link), bitrate=500_000, ledger=ledger, awake=lambda: True)


def test_an_outside_client_opens_and_receives_every_message(serve, database):
    served = serve("--scenario", "idle")
    with outside(served) as bus:
        messages = heard(bus, 1.5)
        served.ask("hold", on=True)
        time.sleep(0.3)
        heard(bus, 0.1)
        state = served.ask("state")
        again = heard(bus, 0.7)
    assert {message.arbitration_id for message in messages} == IDS
    assert not any(message.is_extended_id for message in messages)
    assert b"SIMULATE" in {bytes(message.data) for message in messages if message.arbitration_id == 0x7F0}
    assert 150 < len(messages) / 1.5 < 220
    for message in again:
        if message.arbitration_id == 0x7F0:
            continue
        for name, value in database.decode_message(message.arbitration_id, message.data).items():
            if name not in {"AliveCounter", "Page"}:
                said = state["values"][name]
                assert said == (pytest.approx(float(value)) if not isinstance(said, str) else str(value))
    assert served.ask("ledger")["violations"] == []


def test_an_outside_client_at_another_rate_hears_nothing(serve):
    served = serve()
    with outside(served, 250_000) as bus:
        assert heard(bus, 0.7) == []
    assert served.ask("ledger")["violations"] == []
    with outside(served, 250_000, listen_only=False) as bus:
        assert heard(bus, 0.3) == []
    assert {v["violation"] for v in served.ask("ledger")["violations"]} == {
        "open at a wrong rate in normal mode"
    }


def test_nmea2000_speaks_29_bits_at_250_kbit(serve):
    served = serve("--family", "nmea2000", "--scenario", "idle")
    with outside(served, 500_000) as bus:
        assert heard(bus, 0.4) == []
    with outside(served, 250_000) as bus:
        messages = heard(bus, 1.2)
    assert {message.arbitration_id for message in messages} == {0x09F20010, 0x09F20110, 0x7F0}
    assert all(message.is_extended_id == (message.arbitration_id != 0x7F0) for message in messages)


def test_a_frame_that_an_outside_client_sends_is_in_the_ledger_and_its_file(serve, tmp_path, wait_until):
    file = tmp_path / "ledger.jsonl"
    served = serve("--scenario", "idle", "--ledger", str(file))
    with outside(served, listen_only=False) as bus:
        bus.send(can.Message(arbitration_id=0x600, data=b"\x02\x10\x03", is_extended_id=False))
        assert wait_until(lambda: served.ask("ledger")["violation_count"] == 1)
    violation = served.ask("ledger")["violations"][0]
    assert (violation["violation"], violation["ident"], violation["data"]) == (
        "frame received",
        0x600,
        "021003",
    )
    assert 1100 < violation["rev_min"] < 1500
    lines = [json.loads(line) for line in file.read_text().splitlines()]
    assert violation in lines
    assert [line["bytes"] for line in lines if line["what"] == "command"][:2] == ["C", "S6"]
    assert file.stat().st_mode & 0o077 == 0


def test_a_reader_who_does_not_read_loses_whole_frames_and_holds_up_nothing(tmp_path, ledger):
    served = line(tmp_path / "craft", ledger)
    descriptor = os.open(served.place, os.O_RDWR | os.O_NOCTTY)
    os.set_blocking(descriptor, False)
    blocks = b""
    try:
        os.write(descriptor, b"S6\rO\r")
        served.listen()
        frames = [(0x120 + n, bytes([n] * 8)) for n in range(10)]
        began = time.monotonic()
        for step in range(1000):
            served.listen()
            served.carry(frames, step * 5, 5)
        assert time.monotonic() - began < 5.0  # it never waited for the reader
        assert served.dropped > 1000
        assert served.sent + served.dropped == 10_000
        while True:
            try:
                blocks += os.read(descriptor, 65536)
            except BlockingIOError:
                if not served._waiting:
                    break
                served.carry([], 0, 5)
    finally:
        os.close(descriptor)
        served.close()
    answers, lines = blocks[:2], blocks[2:].split(b"\r")
    assert answers == b"\r\r"
    whole = re.compile(rb"t[0-9A-F]{3}8([0-9A-F]{2})\1{7}")
    assert [text for text in lines[:-1] if not whole.fullmatch(text)] == []
    assert lines[-1] == b""
    assert len(lines) - 1 == served.sent


def test_a_pulled_adapter_hangs_up_and_comes_back_under_the_same_name(serve, wait_until):
    served = serve("--scenario", "idle")
    first = served.link.readlink()
    descriptor = os.open(served.link, os.O_RDWR | os.O_NOCTTY)
    try:
        os.write(descriptor, b"S6\rO\r")
        served.ask("pull_adapter", seconds=0.5)
        assert wait_until(lambda: not served.link.is_symlink())

        def gone():
            try:
                return os.read(descriptor, 4096) == b""
            except OSError:
                return True

        assert wait_until(gone)
        assert wait_until(served.link.is_symlink)
        assert served.link.readlink() != first
    finally:
        os.close(descriptor)
    with outside(served) as bus:
        assert len(heard(bus, 0.5)) > 50


def test_a_lone_sender_repeats_one_frame_until_somebody_acknowledges(serve, wait_until):
    served = serve("--nodes", "1")
    with outside(served) as bus:
        messages = heard(bus, 1.0)
        assert len({(message.arbitration_id, bytes(message.data)) for message in messages}) == 1
        assert 100 < len(messages) < 300
        transport = served.ask("state")["transport"]
        assert transport["error_counter"] == 128
        assert transport["repeats"] > 100
    with outside(served, listen_only=False) as bus:
        messages = heard(bus, 1.0)
        assert {message.arbitration_id for message in messages} == IDS
        assert wait_until(lambda: served.ask("state")["transport"]["error_counter"] == 0)


def test_the_error_counter_rises_by_eight_and_stops_at_128():
    # CAN standard: a missing acknowledgement adds 8; an error-passive sender counts no further (from memory).
    lone = LoneSender(500_000)
    counted = []
    for _ in range(40):
        lone.on_bus([(1, b"")], 5, confirmed=False, awake=True)
        counted.append(lone.errors)
    assert set(counted) <= set(range(0, 129, 8))
    assert counted[-1] == 128
    assert lone.on_bus([(2, b"")], 5, confirmed=True, awake=True) == [(2, b"")]
    assert lone.errors == 127


def test_without_listen_only_the_adapter_says_so(serve):
    served = serve("--no-listen-only")
    descriptor = os.open(served.link, os.O_RDWR | os.O_NOCTTY)
    try:
        os.write(descriptor, b"S6\rL\r")
        assert os.read(descriptor, 100).startswith(b"\r")
        assert served.ask("state")["transport"]["mode"] == "closed"
    finally:
        os.close(descriptor)


@pytest.mark.parametrize(
    "interface",
    ["pcan", "kvaser", "vector", "ixxat", "gs_usb", "serial", "usb2can", "udp_multicast", "", "SLCAN"],
)
def test_any_other_interface_is_refused(interface):
    with pytest.raises(Forbidden, match="real craft"):
        Server(Craft(), interface=interface, channel="can0")


@pytest.mark.parametrize("channel", ["can0", "vcan0", "slcan0", "lo", "../lo", "", None, "x" * 40])
def test_a_network_interface_is_refused_unless_the_kernel_calls_it_virtual(channel):
    if channel == "vcan0" and vcan.is_vcan(channel):
        pytest.skip("this machine has a vcan0")
    with pytest.raises(Forbidden, match="vcan"):
        Server(Craft(), interface="socketcan", channel=channel)


@pytest.mark.parametrize(
    ("type_text", "kind", "expected"),
    [
        ("280\n", "vcan", True),
        ("280\n", None, False),
        ("280\n", "slcan", False),
        ("280\n", "vxcan", False),
        ("772\n", "vcan", False),
        ("", "vcan", False),
    ],
)
def test_only_type_280_and_kind_vcan_together_will_do(type_text, kind, expected, tmp_path, monkeypatch):
    (tmp_path / "vcan0").mkdir()
    (tmp_path / "vcan0" / "type").write_text(type_text)
    monkeypatch.setattr(vcan, "link_kind", lambda _: kind)
    assert vcan.is_vcan("vcan0", classes=tmp_path) is expected
    assert not vcan.is_vcan("vcan1", classes=tmp_path)


def test_the_kind_of_a_link_is_read_as_ip_reads_it():
    # `ip -details -json link` (iproute2) asks the kernel the same question.
    names = sorted(path.name for path in Path("/sys/class/net").iterdir() if path.is_dir())
    assert names
    for name in names:
        vcan.link_kind(name)
    try:
        shown = subprocess.run(["ip", "-d", "-j", "link"], capture_output=True, text=True, check=True).stdout
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("the ip command is not on this machine")
    for link in json.loads(shown):
        kind = link.get("linkinfo", {}).get("info_kind")
        assert vcan.link_kind(link["ifname"]) == kind


def test_the_kernels_answer_about_a_vcan_is_understood():
    # RTM_NEWLINK with IFLA_IFNAME and IFLA_LINKINFO{IFLA_INFO_KIND "vcan"}, built by rtnetlink(7).
    def attribute(number, body):
        return struct.pack("=HH", 4 + len(body), number) + body + b"\0" * (-len(body) % 4)

    body = struct.pack("=BxHiII", 0, 280, 7, 0x40, 0)
    body += attribute(3, b"vcan0\0") + attribute(18 | 0x8000, attribute(1, b"vcan\0"))
    assert vcan.kind_in(struct.pack("=IHHII", 16 + len(body), 16, 0, 1, 0) + body) == "vcan"
    refused = struct.pack("=i", -19)
    assert vcan.kind_in(struct.pack("=IHHII", 20, 2, 0, 1, 0) + refused) is None


def test_the_virtual_bus_carries_the_craft_and_what_is_sent_back_is_a_violation():
    # python-can's virtual bus, both ends in this process.
    server = Server(Craft("auk", "idle"), interface="virtual", channel="test-craft")
    with can.Bus(interface="virtual", channel="test-craft") as bus:
        bus.send(can.Message(arbitration_id=0x123, data=b"\x01", is_extended_id=False))
        until = time.monotonic() + 0.6
        server.run(lambda: time.monotonic() > until)
        found = heard(bus, 0.05)
    assert {message.arbitration_id for message in found} >= IDS - {0x7F0}
    assert [(v["violation"], v["ident"]) for v in server.ledger.violations] == [("frame received", 0x123)]


def test_the_link_of_a_killed_simulator_is_replaced_and_nothing_else_is(tmp_path, ledger):
    link = tmp_path / "craft"
    link.symlink_to("/dev/pts/99999")
    served = line(link, ledger)
    assert link.exists()
    served.close()
    assert not link.is_symlink()
    link.write_text("mine")
    with pytest.raises(Forbidden, match="no link of a simulator"):
        line(link, ledger)
    assert link.read_text() == "mine"
    link.unlink()
    link.symlink_to(tmp_path / "elsewhere")
    with pytest.raises(Forbidden, match="link to something else"):
        line(link, ledger)


def test_two_simulators_at_one_link_the_first_does_not_take_the_seconds_away(tmp_path, ledger):
    first = line(tmp_path / "craft", ledger)
    second = line(tmp_path / "craft", ledger)
    first.close()
    assert (tmp_path / "craft").exists()
    second.close()
    assert not (tmp_path / "craft").is_symlink()
