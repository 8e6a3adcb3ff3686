"""udsoncan over can-isotp, two general libraries, as a client on python-can's virtual bus; and the socket."""

import contextlib
import threading
import time

import can
import isotp
import pytest
import udsoncan
from udsoncan import services
from udsoncan.client import Client
from udsoncan.connections import PythonIsoTpConnection
from udsoncan.exceptions import NegativeResponseException, TimeoutException
from udsoncan.typing import ClientConfig

from simulator.craft import Craft
from simulator.serve import Server

CONFIG = ClientConfig(
    udsoncan.configs.default_client_config,
    request_timeout=3.0,
    p2_timeout=1.0,
    p2_star_timeout=5.0,
    use_server_timing=False,
    input_output={0xD121: udsoncan.DidCodec("B")},
    data_identifiers={did: udsoncan.AsciiCodec(size) for did, size in ((0xF190, 12), (0xF18C, 7))},
)


@pytest.fixture
def served():
    """A craft in real time on a bus of this process, and its server."""
    server = Server(Craft("auk", "dock"), interface="virtual", channel="diagnosis")
    ended = threading.Event()
    thread = threading.Thread(target=server.run, args=(ended.is_set,))
    thread.start()
    yield server
    ended.set()
    thread.join()


@pytest.fixture
def client(served):
    bus = can.Bus(interface="virtual", channel="diagnosis")
    notifier = can.Notifier(bus, [])
    address = isotp.Address(isotp.AddressingMode.Normal_11bits, rxid=0x7E8, txid=0x7E0)
    stack = isotp.NotifierBasedCanStack(bus, notifier, address=address, params={"tx_padding": 0})
    with Client(PythonIsoTpConnection(stack), config=CONFIG) as one:
        yield one
    notifier.stop()
    with contextlib.suppress(can.CanError):
        bus.shutdown()


def test_an_outside_client_reads_clears_fires_and_releases(served, client):
    # One conversation: starting a craft and a client for each sentence would take longer than the talk.
    answer = client.read_data_by_identifier([0xF190])
    assert answer.service_data.values[0xF190] == "AUK04711C526"
    served.handle({"do": "fault", "code": "P0117", "on": True})
    dtcs = client.get_dtc_by_status_mask(0xFF).service_data.dtcs
    assert [(dtc.id, dtc.status.get_byte_as_int()) for dtc in dtcs] == [(0x011700, 0x2F)]
    raw = client.send_request(
        udsoncan.Request(services.ReadDTCInformation, subfunction=0x04, data=bytes.fromhex("011700FF"))
    )
    assert raw.data[:7].hex() == "040117002f0107"
    assert len(raw.data) == 7 + 27
    client.clear_dtc()
    assert [
        dtc.status.get_byte_as_int() for dtc in client.get_dtc_by_status_mask(0xFF).service_data.dtcs
    ] == [0x50]
    with pytest.raises(NegativeResponseException) as refused:
        client.io_control(0xD121, control_param=3, values=[5])
    assert refused.value.response.code == 0x7F
    client.change_session(services.DiagnosticSessionControl.Session.extendedDiagnosticSession)
    begun = time.monotonic()
    state = client.io_control(0xD121, control_param=3, values=[5]).service_data
    assert (state.did_echo, state.control_param_echo, state.decoded_data) == (0xD121, 3, (5,))
    assert [one["output"] for one in served.handle({"do": "outputs"})["live"]] == ["fan"]
    raw = client.send_request(udsoncan.Request(services.InputOutputControlByIdentifier, data=b"\xd1\x21\x00"))
    assert raw.data == b"\xd1\x21\x00"
    ended = time.monotonic()
    history = served.handle({"do": "outputs"})["history"]
    assert [(one["output"], one["why"]) for one in history] == [("fan", "released")]
    assert begun <= history[0]["start"] <= history[0]["stop"] <= ended
    wrong = [entry["violation"] for entry in served.ledger.violations]
    assert wrong == ["fan asked for without a session"]


def test_an_outside_client_waits_through_requests_for_more_time(served, client):
    served.handle({"do": "pending", "service": "14", "times": 3, "every_ms": 400})
    begun = time.monotonic()
    client.clear_dtc()
    assert time.monotonic() - begun > 1.1
    served.handle({"do": "answer", "service": "3E", "kind": "never"})
    with pytest.raises(TimeoutException):
        client.tester_present()
    client.tester_present()
