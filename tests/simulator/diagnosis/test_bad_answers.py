"""Bad answers on order."""

import pytest

from simulator.errors import Misunderstood


@pytest.mark.parametrize(
    ("kind", "request_", "answer"),
    [
        ("nonsense", "22f18c", ["a55ac33c0f"]),
        ("other_service", "1902ff", ["5a02ff"]),
        ("never", "3e00", []),
        ("wrong_length", "3e00", ["7e"]),
        ("wrong_length", "14ffffff", ["5400"]),
        ("wrong_length", "22f1a0", ["62f1a0000009"]),
        ("negative", "22f190", ["7f2222"]),
    ],
)
def test_the_next_answer_is_spoilt_and_the_one_after_is_good(talk, kind, request_, answer):
    good = talk.ask(request_)
    talk.do("answer", service=request_[:2], kind=kind)
    assert talk.ask(request_, seconds=1.0) == answer
    assert talk.ask(request_) == good


def test_a_refusal_has_the_code_that_was_ordered_for_as_often_as_ordered(talk):
    talk.do("answer", service="19", kind="negative", nrc="93", count=2)
    assert [talk.ask("1902ff"), talk.ask("1902ff"), talk.ask("1902ff")] == [
        ["7f1993"],
        ["7f1993"],
        ["5902ff"],
    ]


def test_other_services_are_answered_as_ever(talk):
    talk.do("answer", service="14", kind="never")
    assert talk.ask("3e00") == ["7e00"]
    assert talk.ask("14ffffff") == []


@pytest.mark.parametrize("seconds", [0.5, 3.0])
def test_a_late_answer_comes_late_and_whole(talk, seconds):
    talk.do("answer", service="22", kind="late", seconds=seconds)
    assert talk.ask("22f190", seconds=seconds - 0.05) == []
    assert talk.ask("3e80", seconds=0.1) == ["62f190" + b"AUK04711C526".hex()]


def test_a_short_answer_can_lack_its_last_byte(talk):
    talk.do("answer", service="3E", kind="truncated")
    talk.craft.hear(0x7E0, bytes.fromhex("023E000000000000"))
    assert [data.hex() for _, _, data in talk.run(0.1)] == ["027e"]


def test_a_long_answer_can_stop_after_its_first_frame(talk):
    talk.do("answer", service="22", kind="truncated")
    assert talk.ask("22f190", seconds=2.0) == []
    assert [data.hex() for _, _, data in talk.frames] == ["100f62f19041554b"]
    assert len(talk.ask("22f190")) == 1


@pytest.mark.parametrize(("kind", "done"), [("never", True), ("negative", True), ("truncated", False)])
def test_whether_a_request_is_carried_out_can_be_ordered_beside_its_answer(talk, kind, done):
    talk.do("fault", code="P0117", on=True)
    talk.do("answer", service="14", kind=kind, done=done)
    talk.ask("14ffffff")
    assert talk.craft.diagnosis.faults()["engine"][0]["status"] == (0x50 if done else 0x2F)


@pytest.mark.parametrize(
    ("kind", "status"), [("never", 0x2F), ("nonsense", 0x2F), ("late", 0x50), ("wrong_length", 0x50)]
)
def test_a_bad_answer_does_the_deed_only_where_its_kind_says_so(talk, kind, status):
    talk.do("fault", code="P0117", on=True)
    talk.do("answer", service="14", kind=kind)
    talk.ask("14ffffff")
    assert talk.craft.diagnosis.faults()["engine"][0]["status"] == status


def test_an_output_can_go_live_with_its_answer_lost(talk):
    talk.ask("1003")
    talk.do("answer", service="2F", kind="never", done=True)
    assert talk.ask("2fd1210305") == []
    assert talk.live() == ["fan"]


def test_a_silent_controller_hears_and_says_nothing_while_the_bus_goes_on(talk):
    talk.do("uds_silent", module="engine", on=True)
    assert talk.ask("3e00") == []
    assert talk.ask("3e00", ident=0x7E1) == ["7e00"]
    assert talk.ledger.entries[1]["did"] == "nothing: it is silent on order"
    assert talk.craft.broadcast.value("EngineSpeed") == 0.0
    talk.do("uds_silent", module="engine", on=False)
    assert talk.ask("3e00") == ["7e00"]


def test_only_releases_are_not_heard_and_only_while_ordered(talk):
    talk.ask("1003")
    talk.do("deaf_to_release", on=True, module="engine")
    assert talk.ask("2fd121030a") == ["6fd121030a"]
    assert talk.ask("2fd12100") == []
    assert talk.live() == ["fan"]
    assert talk.ledger.entries[-1]["did"] == "nothing: it is deaf to releases on order"
    assert talk.ask("1902ff") == ["5902ff"]
    talk.do("deaf_to_release", on=False)
    assert talk.ask("2fd12100") == ["6fd12100"]
    assert talk.live() == []


@pytest.mark.parametrize(
    ("deed", "words"),
    [
        ({"what": "answer", "service": "19", "kind": "rude"}, "no kind of bad answer"),
        ({"what": "answer", "service": "zz", "kind": "never"}, "one byte in hexadecimal"),
        ({"what": "answer", "service": "19", "kind": "negative", "nrc": "100"}, "one byte in hexadecimal"),
        ({"what": "pending", "service": "-1"}, "one byte in hexadecimal"),
        ({"what": "uds_silent", "module": "pump", "on": True}, "no controller 'pump'"),
        ({"what": "fault", "code": "P9", "on": True}, "no fault code"),
        ({"what": "fault", "code": "P0117", "on": False}, "had not been ordered"),
        ({"what": "wear", "output": "sail", "value": 1}, "no output 'sail'"),
        ({"what": "hull", "value": ""}, "hull number"),
        ({"what": "hull", "value": "AUK\n"}, "hull number"),
        ({"what": "spin", "rev": -1}, "between 0 and 9000"),
    ],
)
def test_an_order_that_makes_no_sense_is_refused_in_words(talk, deed, words):
    with pytest.raises(Misunderstood, match=words):
        talk.do(**deed)


def test_hull_and_serial_are_what_they_were_set_to(talk):
    talk.do("hull", value="XYZ00001A526")
    talk.do("serial", value=123)
    assert talk.ask("22f190") == ["62f190" + b"XYZ00001A526".hex()]
    assert talk.ask("22f18c") == ["62f18c" + b"123".hex()]


def test_the_serial_asked_for_is_the_one_that_is_broadcast(talk):
    talk.run(1.0)
    assert talk.ask("22f18c") == [
        "62f18c" + str(int(talk.craft.broadcast.value("ControllerSerial"))).encode().hex()
    ]
    hours = int(talk.ask("22f1a0")[0][6:], 16) * 0.05
    assert hours == pytest.approx(talk.craft.broadcast.value("EngineHours"), abs=0.051)
