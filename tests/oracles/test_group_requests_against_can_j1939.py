"""What leaves for an engine on SAE J1939, against frames and names by can-j1939 2.0.12 (PyPI, MIT)."""

from __future__ import annotations

import j1939

from bus.frame import EXTENDED
from bus.group_form import GroupData
from bus.group_requests import NAME, TOOL, before_request, clear_requests

ENGINE = GroupData("Engine controller", 0, clears=True)


class Sent:
    """Takes what its controller application sends."""

    def __init__(self):
        self.frames = []
        self.ecu = j1939.ElectronicControlUnit(send_message=self.take)

    def take(self, can_id, extended_id, data, *rest):
        del rest
        self.frames.append((can_id | (EXTENDED if extended_id else 0), bytes(data)))


def application(sent):
    """A service tool of theirs with our name and address, which takes part at once."""
    name = j1939.Name(
        arbitrary_address_capable=0,
        industry_group=j1939.Name.IndustryGroup.Global,
        vehicle_system_instance=0,
        vehicle_system=0,
        function=129,
        function_instance=0,
        ecu_instance=0,
        manufacturer_code=0,
        identity_number=0x1FFFFF,
    )
    made = j1939.ControllerApplication(name, TOOL)
    sent.ecu.add_ca(controller_application=made)
    return made


def test_the_name_is_theirs_of_a_service_tool():
    name = j1939.Name(function=129, identity_number=0x1FFFFF)
    assert name.value.to_bytes(8, "little") == NAME
    assert j1939.Name(bytes=list(NAME)).function == 129


def test_claim_and_requests_are_theirs_byte_for_byte(wait_until):
    sent = Sent()
    try:
        made = application(sent)
        made.start()
        wait_until(lambda: made.state is made.State.NORMAL)  # it has claimed, and waited for a veto
        asked = {"DM11": (0xFED3, 0), "DM3": (0xFECC, 0), "DM2": (0xFECB, 0xFF)}
        for group, to in asked.values():
            made.send_request(0, group, to)
    finally:
        sent.ecu.stop()
    claim, *requests = sent.frames
    ours = [*clear_requests(ENGINE).values(), before_request(ENGINE)]
    assert [one.frames()[0] for one in ours] == [claim] * 3
    assert [one.frames()[1] for one in ours] == requests
