"""Every violation is provoked once; what a careful tool does provokes none."""

import pytest

INJECTOR, COIL, FAN = "2fd101031432", "2fd111030a1e", "2fd1210305"


@pytest.fixture
def trusting(talk):
    """A controller that fires whatever it is asked, within a session."""
    talk.ask("1003")
    talk.do("trusting", on=True)
    assert talk.violations == []
    return talk


def test_a_careful_tool_leaves_no_violation(talk):
    talk.do("fault", code="P0117", on=True)
    for request in ("22f190", "22f18c", "22f195", "22f1a0", "1902ff", "1904011700ff", "1906011700ff", "190a"):
        talk.ask(request, seconds=0.3)
    for request in ("22f18c", "22f195", "1902ff"):
        talk.ask(request, ident=0x7E1)
    talk.ask("14ffffff")
    talk.ask("1003")
    talk.ask(COIL, seconds=2.6)
    talk.ask("2fd11100")
    talk.ask("1001")
    talk.ask("1003")
    for _ in range(3):
        talk.ask(FAN, seconds=0.25)
        talk.ask("3e80", seconds=0.05)
    talk.ask("2fd12100")
    talk.ask("1001")
    talk.ask("1003")
    talk.ask(INJECTOR, seconds=1.0)
    talk.ask("2fd10100")
    talk.ask("2fd10100")
    talk.ask("1001")
    talk.run(6.0)
    assert talk.violations == []


@pytest.mark.parametrize(
    ("deed", "danger"),
    [
        ({"what": "spin", "rev": 300, "seconds": 3.0}, "the engine turns"),
        ({"what": "spin", "rev": 300, "seconds": 3.0, "broadcast": False}, "the engine turns"),
        ({"what": "lanyard", "pulled": True}, "the lanyard is pulled"),
        ({"what": "part", "part": "battery", "value": 0.0}, "the battery is low"),
    ],
)
def test_an_output_that_stays_live_in_danger(trusting, deed, danger):
    trusting.ask("2fd12103ff", seconds=0.2)
    trusting.do(**deed)
    trusting.run(0.29)
    assert trusting.violations == []
    trusting.run(1.0)
    assert trusting.violations == [f"fan: live while {danger}"]


def test_an_output_that_stays_live_with_the_start_switch_pressed(trusting):
    trusting.do("stop", pressed=True)  # so that the starter does not turn
    trusting.ask("2fd12103ff", seconds=0.2)
    trusting.do("start", pressed=True)
    trusting.run(1.0)
    assert trusting.violations == ["fan: live while the start switch is pressed"]


def test_an_output_that_stops_in_time_is_no_violation(trusting):
    trusting.ask("2fd12103ff", seconds=0.2)
    trusting.do("spin", rev=300, seconds=3.0)
    trusting.run(0.2)
    trusting.ask("2fd12100")
    trusting.run(1.0)
    assert trusting.violations == []


def test_an_output_asked_for_in_danger_even_if_the_controller_refuses(talk):
    talk.ask("1003")
    talk.do("spin", rev=300, seconds=3.0)
    talk.run(0.4)
    assert talk.ask(FAN) == ["7f2f83"]
    assert talk.violations == ["fan asked for while the engine turns"]


def test_the_same_violation_counts_again_for_the_next_time_it_is_live(trusting):
    trusting.do("lanyard", pulled=True)
    trusting.ask("2fd1210305", seconds=1.0)
    trusting.ask("2fd1210305", seconds=1.0)
    assert trusting.violations == [
        "fan: live while the lanyard is pulled",
        "fan asked for while the lanyard is pulled",
        "fan: live while the lanyard is pulled",
    ]


@pytest.mark.parametrize("request_", ["2fd10103", "2fd1010314", "2fd101030032", "2fd111030a00"])
def test_fuel_or_spark_without_an_end_of_its_own(talk, request_):
    talk.ask("1003")
    talk.ask(request_)
    assert len(talk.violations) == 1
    assert "asked for without an end of its own" in talk.violations[0]


def test_an_output_asked_for_without_a_session(talk):
    talk.ask(FAN)
    assert talk.violations == ["fan asked for without a session"]


@pytest.mark.parametrize(
    "request_",
    ["1101", "2701", "22f191", "1002", "1901ff", "14000000", "2ef19000", "31010201", "2fd1210205", "3e01"],
)
def test_a_request_that_is_not_offered(talk, request_):
    talk.ask("1003")
    talk.ask(request_)
    assert talk.violations == ["a request that engine does not offer"]


def test_each_controller_has_its_own_list(talk):
    talk.ask("22f190", ident=0x7E1)
    assert talk.violations == ["a request that display does not offer"]


@pytest.mark.parametrize(("request_", "count"), [("3e80", 0), ("1003", 2), ("14ffffff", 2)])
def test_to_all_at_once_only_the_keep_alive_is_offered(talk, request_, count):
    talk.ask(request_, ident=0x7DF)
    assert len(talk.violations) == count


@pytest.mark.parametrize(
    ("live", "request_", "wrong"),
    [
        (FAN, "3e80", False),
        (FAN, FAN, False),
        (FAN, "2fd12100", False),
        (FAN, "2fd12200", False),
        (FAN, "1001", False),
        (FAN, "22f18c", True),
        (FAN, "1003", True),
        (FAN, "2fd1220305", True),
        (FAN, "1902ff", True),
        (COIL, "2fd11100", False),
        (COIL, "1001", False),
        (COIL, "3e80", True),
        (COIL, "3e00", True),
        (COIL, COIL, True),
        (INJECTOR, INJECTOR, True),
        (INJECTOR, "3e80", True),
    ],
)
def test_while_an_output_is_live_only_its_renewal_and_release_may_come(talk, live, request_, wrong):
    talk.ask("1003")
    talk.ask(live, seconds=0.05)
    talk.ask(request_)
    name = {FAN: "fan", COIL: "coil_1", INJECTOR: "injector_1"}[live]
    assert talk.violations == ([f"a request while {name} is live"] if wrong else [])


def test_another_controller_may_be_asked_while_an_output_is_live(talk):
    talk.ask("1003")
    talk.ask(FAN, seconds=0.05)
    talk.ask("22f18c", ident=0x7E1)
    assert talk.violations == []


def test_more_than_three_cubic_centimetres_in_one_cylinder(trusting):
    for cylinder in (1, 2):
        for _ in range(4):
            trusting.ask(
                f"2fd10{cylinder}031e64", seconds=6.3
            )  # 30 pulses of 10 ms: 1.4 to 1.5 cm³ at full pressure
            trusting.engine.rail.pressure = 300.0
            trusting.ask("1003", seconds=0.05)
            if trusting.violations:
                break
        assert trusting.violations == [f"injector_{cylinder}: more than 3 cm³ of fuel in cylinder {cylinder}"]
        assert trusting.outputs.film[cylinder] > 3.0
        trusting.ledger.violations.clear()


def test_a_spark_with_test_fuel_in_a_cylinder(talk):
    talk.ask("1003")
    talk.ask(INJECTOR, seconds=4.0)
    talk.ask(COIL)
    assert talk.violations == ["coil_1 asked for with test fuel in a cylinder"]


def test_a_request_under_way_but_not_a_release(board):
    talk = board("dock")
    talk.run(1.0)
    talk.do("spin", rev=3000, seconds=5.0)
    talk.run(0.3)
    talk.ask("22f18c", seconds=0.3)
    assert talk.violations == []
    talk.ask("1001")
    talk.ask("22f18c")
    assert talk.violations == ["a request under way"]


def test_a_clear_while_the_engine_turns(board):
    talk = board("idle")
    talk.run(1.0)
    talk.ask("1902ff")
    assert talk.violations == []
    talk.ask("14ffffff")
    assert talk.violations == ["a clear while the engine turns"]


@pytest.mark.parametrize("frame", ["00", "0811223344556677", "2100000000000000", "3000000000000000", "F000"])
def test_a_frame_that_is_no_iso_tp(talk, frame):
    talk.send(frame)
    assert len(talk.violations) == 1
    assert talk.violations[0].startswith("not ISO-TP: ")


@pytest.mark.parametrize(
    ("ident", "extended", "remote"), [(0x7E2, False, False), (0x7E8, False, False), (0x7E0, True, False)]
)
def test_a_frame_for_nobody(talk, ident, extended, remote):
    talk.craft.hear(ident, b"\x02\x3e\x00", extended, remote)
    assert talk.violations == ["frame received"]
    assert talk.run(0.1) == []


def test_a_remote_frame_is_for_nobody(talk):
    talk.craft.hear(0x7E0, b"", False, True)
    assert talk.violations == ["frame received"]


def test_another_tester_is_heard_and_seen_but_not_judged(talk):
    talk.do("second_tester", seconds=2.0)
    frames = talk.run(2.5)
    asked = [data for _, ident, data in frames if ident == 0x7E0]
    assert len(asked) >= 20
    assert {data[:4].hex() for data in asked} == {"023e8000", "0322f190", "031902ff", "30000000"}
    assert any(ident == 0x7E8 and data[0] >> 4 == 2 for _, ident, data in frames)
    last = max(at for at, ident, _ in frames if ident == 0x7E0)
    assert last - frames[0][0] == pytest.approx(1.9, abs=0.1)
    assert talk.violations == []
    assert {entry["by"] for entry in talk.ledger.entries} == {"another tester"}


def test_what_another_tester_asks_while_an_output_is_live_is_not_held_against_the_tool(talk):
    talk.ask("1003")
    talk.ask("2fd122030a", seconds=0.05)
    talk.do("second_tester", seconds=0.5)
    talk.run(0.6)
    assert talk.live() == ["horn"]
    assert talk.violations == []


def test_the_ledger_tells_each_request_what_it_did_and_why_an_output_ended(talk):
    talk.ask("1003")
    talk.ask("2fd1220303", seconds=0.5)
    told = [(entry["what"], entry["did"]) for entry in talk.ledger.entries]
    assert told == [
        ("frame", "taken by engine"),
        ("request", "done"),
        ("frame", "taken by engine"),
        ("request", "done"),
        ("output", "live"),
        ("output", "ended: the time of its burst was over"),
    ]
    requests = [entry for entry in talk.ledger.entries if entry["what"] == "request"]
    assert [entry["request"] for entry in requests] == ["1003", "2fd1220303"]
    assert {(entry["module"], entry["by"], entry["functional"]) for entry in requests} == {
        ("engine", "the tool", False)
    }
