"""Every violation around an inhibit is provoked once; what a careful tool does provokes none."""

import pytest

TURNS, TOO_SHORT = "while the engine turns", "before the engine had stood still for 2 s"


@pytest.fixture
def cranked(talk):
    """Fuel is held off and somebody cranks."""
    talk.ask("1003")
    talk.ask("2fd14103")
    talk.ask("22d141")
    talk.do("start", pressed=True)
    talk.run(0.9)
    talk.ask("22d141")
    assert talk.engine.speed > 150.0
    assert talk.violations == []
    return talk


def engine_entries(talk):
    return [
        (entry["did"], entry["output"], entry.get("violation"))
        for entry in talk.ledger.entries
        if entry["what"] == "engine"
    ]


def rest(talk, seconds):
    """The switch is let go; then the engine has stood still for so long."""
    talk.do("start", pressed=False)
    while talk.engine.speed > 0.0:
        talk.run(0.005)
    left = seconds
    while left > 1.0:
        talk.run(0.95)
        talk.ask("22d141", seconds=0.05)
        left -= 1.0
    talk.run(left)


@pytest.mark.parametrize("request_", ["2fd14100", "1001"])
def test_given_back_while_the_engine_turns(cranked, request_):
    cranked.ask(request_)
    assert cranked.violations == [f"fuel_inhibit given back {TURNS}"]
    assert engine_entries(cranked) == [("started_after_hold", "fuel_inhibit", None)]


@pytest.mark.parametrize("request_", ["2fd14100", "1001"])
@pytest.mark.parametrize(("seconds", "wrong"), [(0.2, True), (1.7, True), (1.9, False), (3.0, False)])
def test_given_back_after_the_engine_stood_still_for_so_long(cranked, request_, seconds, wrong):
    rest(cranked, seconds)
    cranked.ask(request_)
    assert cranked.violations == ([f"fuel_inhibit given back {TOO_SHORT}"] if wrong else [])


@pytest.mark.parametrize(("seconds", "wrong"), [(0.15, False), (0.3, True)])
def test_an_engine_that_began_to_turn_when_the_release_was_on_its_way(cranked, seconds, wrong):
    rest(cranked, 3.0)
    cranked.do("start", pressed=True)
    while cranked.engine.speed == 0.0:
        cranked.run(0.005)
    cranked.run(seconds)
    cranked.ask("2fd14100")
    assert (f"fuel_inhibit given back {TURNS}" in cranked.violations) == wrong


def test_a_short_stand_between_two_cranks_is_no_rest(cranked):
    rest(cranked, 0.5)
    cranked.do("start", pressed=True)
    while cranked.engine.speed == 0.0:
        cranked.run(0.005)
    cranked.run(0.1)
    cranked.ask("2fd14100")
    assert f"fuel_inhibit given back {TOO_SHORT}" in cranked.violations


def test_what_is_not_held_can_be_given_back_at_any_time(talk):
    talk.do("inhibit_not_held", on=True)
    talk.ask("1003")
    talk.ask("2fd14103")
    talk.do("start", pressed=True)
    talk.run(0.4)
    talk.ask("2fd14100")
    talk.ask("1001")
    assert talk.violations == []


def test_the_engine_that_never_turned_may_have_it_taken_back_at_once(talk):
    talk.ask("1003")
    talk.ask("2fd14103")
    talk.ask("2fd14100")
    talk.ask("1001")
    assert talk.violations == []


def test_asked_for_while_the_engine_turns_even_if_the_controller_refuses(talk):
    talk.ask("1003")
    talk.do("spin", rev=300, seconds=3.0)
    talk.run(0.4)
    assert talk.ask("2fd14103") == ["7f2f22"]
    assert talk.violations == ["fuel_inhibit asked for while the engine turns"]


def test_asked_for_without_a_session(talk):
    talk.ask("2fd14203")
    assert talk.violations == ["spark_inhibit asked for without a session"]


@pytest.mark.parametrize(
    ("request_", "wrong"),
    [
        ("22d141", False),
        ("2fd14100", False),
        ("1001", False),
        ("22d142", True),
        ("2fd14200", True),
        ("2fd14103", True),
        ("2fd14203", True),
        ("2fd1210305", True),
        ("2fd12100", True),
        ("3e80", True),
        ("1003", True),
        ("1902ff", True),
        ("22f18c", True),
        ("14ffffff", True),
    ],
)
def test_while_it_holds_only_its_status_and_its_end_may_be_asked_for(talk, request_, wrong):
    talk.ask("1003")
    talk.ask("2fd14103")
    talk.ask(request_)
    assert talk.violations == (["a request while fuel_inhibit is live"] if wrong else [])


def test_another_controller_may_be_asked(talk):
    talk.ask("1003")
    talk.ask("2fd14103")
    talk.ask("22f18c", ident=0x7E1)
    assert talk.violations == []


def test_a_keep_alive_to_all_is_one_to_this_controller_too(talk):
    talk.ask("1003")
    talk.ask("2fd14103")
    talk.ask("3e80", ident=0x7DF)
    assert talk.violations == ["a request while fuel_inhibit is live"]


def test_switch_lanyard_and_battery_are_no_dangers_to_it(cranked):
    cranked.do("lanyard", pulled=True)
    cranked.do("part", part="battery", value=0.0)
    for _ in range(3):
        cranked.run(0.95)
        cranked.ask("22d141", seconds=0.05)
    assert cranked.live() == ["fuel_inhibit"]
    assert cranked.violations == []


WRONG = "fuel_inhibit: the engine fired up while it was said to hold"
STARTED = ("started_while_held", "fuel_inhibit", WRONG)
AFTER = ("started_after_hold", "fuel_inhibit", None)


def test_a_drop_in_the_middle_of_a_crank(cranked):
    cranked.do("inhibit_drops")
    cranked.run(2.0)
    assert engine_entries(cranked) == [STARTED]
    assert cranked.violations == [WRONG]


def test_a_drop_that_the_tool_was_told_of_before_anybody_cranked(talk):
    talk.ask("1003")
    talk.ask("2fd14103")
    talk.ask("22d141")
    talk.do("inhibit_drops")
    assert talk.ask("22d141") == ["62d14100"]
    talk.do("start", pressed=True)
    talk.run(2.0)
    assert talk.engine.state == "Running"
    assert engine_entries(talk) == []


def test_a_yes_that_was_taken_for_a_hold(talk):
    talk.do("inhibit_not_held", on=True)
    talk.ask("1003")
    talk.ask("2fd14103")
    talk.do("start", pressed=True)  # nobody read it back
    talk.run(2.0)
    assert engine_entries(talk) == [STARTED]


def test_a_yes_that_was_read_back_as_no(talk):
    talk.do("inhibit_not_held", on=True)
    talk.ask("1003")
    talk.ask("2fd14103")
    talk.ask("22d141")
    talk.do("start", pressed=True)
    talk.run(2.0)
    assert engine_entries(talk) == []


@pytest.mark.parametrize("link", ["silence", "pull_adapter"])
def test_a_link_that_breaks_while_somebody_cranks_is_told_and_held_against_nobody(cranked, link):
    cranked.do(link, seconds=20.0)
    cranked.run(7.0)
    assert cranked.outputs.history[-1]["why"] == "the session ended by itself"
    assert engine_entries(cranked) == [AFTER]
    assert cranked.violations == []


def test_nothing_is_said_to_hold_two_seconds_after_the_last_word(cranked):
    cranked.do("mute_status", on=True)
    cranked.run(2.3)
    cranked.do("inhibit_drops")
    cranked.run(1.0)
    assert engine_entries(cranked) == [AFTER]


@pytest.mark.parametrize(("service", "deed"), [("22", {"kind": "negative", "nrc": "22"}), ("22", None)])
def test_a_no_to_the_question_is_a_doubt_at_once(cranked, service, deed):
    if deed is None:
        cranked.do("busy_status", on=True)
    else:
        cranked.do("answer", service=service, **deed)
    cranked.ask("22d141")
    cranked.do("inhibit_drops")
    cranked.run(1.0)
    assert engine_entries(cranked) == [AFTER]


def test_more_time_asked_for_is_no_doubt(cranked):
    cranked.do("pending", service="22", times=20, every_ms=200)
    cranked.ask("22d141")
    cranked.do("inhibit_drops")
    cranked.run(1.0)
    assert engine_entries(cranked) == [STARTED]


def test_a_start_on_a_later_press_of_the_switch_has_nothing_to_do_with_it(cranked):
    rest(cranked, 3.0)
    cranked.ask("2fd14100")
    cranked.ask("1001")
    cranked.do("start", pressed=True)
    cranked.run(2.0)
    assert cranked.engine.state == "Running"
    assert engine_entries(cranked) == []
    assert cranked.violations == []


def test_whether_it_holds_may_be_asked_under_way_but_nothing_else(board):
    talk = board("dock")
    talk.run(1.0)
    talk.do("spin", rev=3000, seconds=5.0)
    talk.run(1.0)
    talk.ask("22d141")
    assert talk.violations == []
    talk.ask("22f18c")
    assert talk.violations == ["a request under way"]
