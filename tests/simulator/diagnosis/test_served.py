"""The controllers behind the serial-line adapter of a simulator in its own process, asked over its socket."""

import time

import can
import pytest


@pytest.fixture
def opened(serve, wait_until):
    """A simulator, and an outside adapter driver on its line."""
    served = serve("--scenario", "dock")
    bus = can.Bus(interface="slcan", channel=str(served.link), bitrate=500_000)

    def ask(text, ident=0x7E0):
        pdu = bytes.fromhex(text)
        data = (bytes([len(pdu)]) + pdu).ljust(8, b"\x00")
        bus.send(can.Message(arbitration_id=ident, data=data, is_extended_id=False))
        until = time.monotonic() + 2.0
        while time.monotonic() < until:
            message = bus.recv(0.2)
            if message is not None and message.arbitration_id == ident + 8:
                return bytes(message.data[1 : 1 + message.data[0]]).hex()
        return None

    yield served, ask
    bus.shutdown()


def test_a_person_with_the_socket_sees_requests_outputs_and_faults(opened, wait_until):
    served, ask = opened
    assert ask("1003") == "5003003201f4"
    before = time.monotonic()
    assert ask("2fd122030a") == "6fd122030a"
    outputs = served.ask("outputs")
    assert [one["output"] for one in outputs["live"]] == ["horn"]
    assert before <= outputs["live"][0]["start"] <= outputs["t"] <= time.monotonic()
    assert wait_until(lambda: not served.ask("outputs")["live"])
    entry = served.ask("outputs")["history"][0]
    assert entry["stop"] - entry["start"] == pytest.approx(1.0, abs=0.1)
    assert served.ask("fault", code="P0117", on=True, hard=True) == {"ok": True}
    faults = served.ask("faults")
    assert [(one["code"], one["status"], one["confirmed"]) for one in faults["engine"]] == [
        ("P0117", 0x2F, True)
    ]
    assert faults["display"] == []
    assert served.ask("state")["controllers"]["engine"] == {"session": 3, "busy": False, "silent": False}
    ledger = served.ask("ledger")
    assert ledger["violations"] == []
    requests = [entry for entry in ledger["entries"] if entry["what"] == "request"]
    assert [entry["request"] for entry in requests] == ["1003", "2fd122030a"]
    first = requests[0]
    assert (first["rev_min"], first["rev_min_said"], first["key"]) == (0.0, 0.0, True)
    assert (first["lanyard_pulled"], first["start_pressed"]) == (False, False)
    assert 12.0 < first["battery"] < 13.0
    refused = served.ask("uds_silent", module="pump", on=True)
    assert refused == {"error": "There is no controller 'pump'; there are engine, display."}
    assert "other arguments" in served.ask("outputs", of="engine")["error"]


def test_what_is_ordered_over_the_socket_happens_on_the_line(opened, wait_until):
    served, ask = opened
    served.ask("trusting", on=True)
    served.ask("spin", rev=300, seconds=5)
    assert ask("1003") == "5003003201f4"
    assert ask("2fd1220305") == "6fd1220305"
    assert wait_until(lambda: not served.ask("outputs")["live"])
    served.ask("answer", service="22", kind="negative", nrc="31")
    assert ask("22f195") == "7f2231"
    wrong = {entry["violation"] for entry in served.ask("ledger")["violations"]}
    assert wrong <= {"horn: live while the engine turns", "horn asked for while the engine turns"}
    assert wrong
