"""What gives an inhibit back, what makes it doubtful, and that nothing releases it while the engine may turn.

Rule: design section 4, rule 8; unknown is unsafe by rule 3. Seconds without a rule: our own, no source.
"""

import gc

import pytest
from inhibits import DEFAULT, RELEASE, STATUS, cranked, end, hexed, holds, latched, lets_go, sent, still
from presses import START as PRESSED

from app.errors import AdapterLost
from app.interlock import Need

OFF = RELEASE["fuel_off"]


def kept(bench, seconds=2.2):
    """Nothing is released, and it holds at the end."""
    before = len(bench.sent)
    bench.run(seconds, ms=20)
    assert not {OFF, DEFAULT} & set(sent(bench)[before:])
    assert holds(bench)


def watched_no_more(bench):
    bench.watching = None
    bench.run(3.1, ms=20)


def another_tester(bench):
    bench.extra.append((0x7DF, bytes.fromhex("023e000000000000")))
    bench.turn()


def asked(request):
    def do(bench):
        request(bench)
        bench.turn()

    return do


CAUSES = {
    "ended": (asked(end), "ended on the glass"),
    "ended without words": (asked(lambda bench: end(bench, "")), "It was ended"),
    "glass gone": (watched_no_more, "glass"),
    "time limit": (lambda bench: bench.run(120.0, ms=100), "time limit of 120 s"),
    "another tester": (another_tester, "Another tester"),
    "signed out": (asked(lambda bench: bench.sign_in(role="", operator="")), "signed in"),
    "somebody else": (asked(lambda bench: bench.sign_in(operator="Lee")), "signed in"),
    "another page": (asked(lambda bench: bench.consider("fan")), "page"),
    "no page": (asked(lambda bench: bench.consider(None)), "page"),
    "leak": (asked(lambda bench: bench.confirm("leak_seen", at=0.0)), "leak"),
    "second press": (asked(lambda bench: bench.press("horn")), "second press"),
    "another craft": (asked(lambda bench: bench.serve(type(bench)().actuation)), "Another craft"),
    "doubt": (lambda bench: (setattr(bench.controller, "forgets", True), bench.run(1.1)), "does not hold"),
}


@pytest.mark.parametrize("name", CAUSES)
def test_every_cause_gives_it_back_and_only_at_rest(ready, name):
    cause, words = CAUSES[name]
    cranked(latched(ready))
    cause(ready)
    ready.lift()
    ready.run(0.1)
    assert words in ready.state.ending
    assert ready.state.phase == "latched"
    kept(ready)
    assert ready.journal.of("inhibit_ending")[-1]["cause"] == ready.state.ending
    ready.controller.forgets = False
    still(ready)
    assert 2.0 <= lets_go(ready) <= 2.2
    ready.run(0.3)
    assert not ready.controller.live()
    assert sent(ready)[-1] == DEFAULT


@pytest.mark.parametrize(
    "name", [name for name in CAUSES if name not in ("glass gone", "time limit", "doubt")]
)
def test_at_rest_a_cause_releases_at_once(ready, name):
    latched(ready)
    before = len(ready.sent)
    CAUSES[name][0](ready)
    assert sent(ready)[before:] == [OFF]


def test_the_first_cause_stays(ready):
    cranked(latched(ready))
    end(ready)
    ready.consider(None)
    ready.run(5.0)
    assert ready.state.ending == "It was ended on the glass."


@pytest.mark.parametrize(("away_s", "ends"), [(2.9, False), (3.1, True)])
def test_the_glass_may_be_away_for_three_seconds(ready, away_s, ends):
    latched(ready)
    ready.run(2.0)
    ready.until(lambda: ready.ms % 1000 < 5)  # it was heard of just now
    number, ready.watching = ready.watching, None
    ready.run(away_s)
    ready.watching = number
    assert (ready.state.phase != "latched") is ends


def test_after_another_tester_outputs_stay_locked_until_read_again(ready):
    latched(ready)
    another_tester(ready)
    ready.run(1.0)
    assert ready.state.phase == "ended"
    assert "Another tester" in ready.actuation.locked


def test_a_lift_and_beats_of_the_finger_change_nothing(ready):
    latched(ready)
    ready.finger = ready.watching
    ready.run(1.0)
    ready.lift("The finger was lifted.")
    kept(ready)
    assert ready.state.ending == ""


# --- doubt -------------------------------------------------------------------------------------------------


def says(answer):
    return lambda bench: bench.extra.append((0x7E8, bytes.fromhex(answer)))


AT_ONCE = {
    "given back by itself": (says("046fd14100000000"), "by itself"),
    "left the session": (says("065001003201f400"), "left the session"),
}
WHEN_ASKED = {
    "says 00": (lambda bench: setattr(bench.controller, "forgets", True), "does not hold"),
    "negative": (lambda bench: bench.controller.refuses.update({0x22: 0x31}), "requestOutOfRange"),
    "session over": (lambda bench: bench.controller._all_off(bench.clock()), "does not hold"),
}


@pytest.mark.parametrize("turning", [False, True])
@pytest.mark.parametrize("name", [*AT_ONCE, *WHEN_ASKED])
def test_doubt_is_told_at_once_and_gives_it_back(ready, name, turning):
    happens, words = (AT_ONCE | WHEN_ASKED)[name]
    latched(ready)
    if turning:
        cranked(ready)
    happens(ready)
    if name in AT_ONCE:
        ready.turn()
    ready.run(0.06 if name in AT_ONCE else 1.06)
    if not turning:
        assert OFF in sent(ready)
        assert words in (ready.state.cause or ready.state.ending)
        return
    assert words in ready.state.doubt
    assert "NOT known to hold. Release the start switch, lanyard out." in ready.state.doubt
    assert words in ready.journal.of("inhibit_ending")[-1]["doubt"]
    assert OFF not in sent(ready)


def test_two_seconds_of_silence_are_doubt(ready):
    cranked(latched(ready))
    ready.until(lambda: ready.clock() - ready.state.confirmed_at < 0.06)
    ready.controller.mute = True
    confirmed = ready.state.confirmed_at
    ready.until(lambda: ready.state.doubt)
    assert ready.clock() - confirmed == pytest.approx(2.0, abs=0.06)
    assert "Not read back" in ready.state.doubt


def test_one_answer_that_got_lost_is_no_doubt(ready):
    cranked(latched(ready))
    while hexed(ready.turn()) != [STATUS["fuel_off"]]:
        assert ready.clock() < 1060.0
    ready.controller.answers.clear()
    kept(ready, 1.5)
    assert (ready.state.doubt, ready.state.ending) == ("", "")


def test_it_goes_on_asking_and_says_so_when_it_is_known_again_but_ends_all_the_same(ready):
    cranked(latched(ready))
    ready.controller.mute = True
    ready.run(4.0)
    before = len(ready.sent)
    assert ready.state.doubt
    ready.controller.mute = False
    ready.run(3.0)
    assert sent(ready)[before:] == [STATUS["fuel_off"]] * 3
    assert ready.state.doubt == ""
    assert ready.clock() - ready.state.confirmed_at < 1.1
    assert "Not read back" in ready.state.ending


def test_more_time_asked_for_is_no_answer(ready):
    cranked(latched(ready))
    ready.controller.pending = {0x22}
    ready.run(1.2)
    assert ready.state.doubt == ""
    ready.run(1.2)
    assert "Not read back" in ready.state.doubt


# --- nothing releases it while the engine may turn ------------------------------------------------------


def tool_ends(bench):
    honest = bench.gate._pass_on

    def pass_on(timeout_s):
        bench.ms += 20
        return honest(timeout_s)

    bench.gate._pass_on = pass_on
    bench.gate._run_down()
    bench.gate._pass_on = honest
    bench.gate._let_go()


def wire_fails(bench):
    bench.wire.fails = AdapterLost("It went away.")
    with pytest.raises(AdapterLost):
        bench.gate._pass_on(0)
    bench.gate._let_go()


PARTINGS = {"let go": lambda bench: bench.gate._let_go(), "tool ends": tool_ends, "wire fails": wire_fails}


@pytest.mark.parametrize("name", PARTINGS)
def test_a_wire_that_goes_carries_no_release_while_it_turns(ready, name):
    cranked(latched(ready))
    PARTINGS[name](ready)
    assert not {OFF, DEFAULT} & set(sent(ready))
    assert ready.state.phase == "not_confirmed"
    assert ready.actuation.locked
    assert ready.journal.of("output_end") == [] or not ready.journal.of("output_end")[-1]["confirmed"]


def read_back(bench, output, seconds):
    """Nothing else is sent meanwhile, and that once a second."""
    went = hexed(bench.run(seconds))
    assert set(went) == {STATUS[output]}
    assert seconds - 2 <= len(went) <= seconds + 1


@pytest.mark.parametrize("name", ["let go", "tool ends"])
def test_at_rest_it_carries_a_last_release(ready, name):
    latched(ready)
    PARTINGS[name](ready)
    assert OFF in sent(ready)
    assert not ready.controller.live()


def test_after_the_wire_is_back_what_is_owed_is_read_back_until_rest(ready):
    cranked(latched(ready))
    wire_fails(ready)
    before = len(ready.sent)
    ready.ms += 3000
    ready.gate._wire = type(ready.wire)(ready)
    read_back(ready, "fuel_off", 4.0)
    still(ready)
    assert 2.0 <= lets_go(ready) <= 2.3
    after = hexed(data for _, _, data in ready.sent[before:])
    assert set(after) == {STATUS["fuel_off"], OFF}


@pytest.mark.parametrize("doubtful", ["turns", "start switch", "one source missing"])
def test_after_a_restart_what_is_owed_is_read_back_until_rest(ready, make_bench, doubtful):
    latched(ready)
    bench = make_bench(ready.journal.entries)
    bench.controller.open()
    bench.controller.until[0xD141] = float("inf")
    if doubtful == "turns":
        bench.values |= {"EngineSpeed": 250.0, "EngineSpeedDisplay": 250.0}
    elif doubtful == "start switch":
        bench.values["StartSwitch"] = "Pressed"
    else:
        bench.silent.add("DisplayMain")
    assert "fuel_off" in bench.actuation.locked
    read_back(bench, "fuel_off", 8.0)
    assert holds(bench)  # longer than its session would have lasted
    assert bench.actuation.facts()[Need.OUTPUTS_FREE].holds is False  # nor is anything read meanwhile
    bench.silent.clear()
    still(bench)
    took_s = lets_go(bench)
    assert took_s <= 2.4
    assert took_s >= (0.0 if doubtful == "start switch" else 1.9)  # the engine stood still all the while
    bench.controller.open()
    bench.run(1.0)
    assert sent(bench)[-1] == DEFAULT
    assert bench.actuation.locked  # until it is read afresh
    bench.gate.unlock_outputs()
    bench.turn()
    assert bench.actuation.locked == ""


@pytest.mark.parametrize("told", [True, False])
def test_no_other_release_that_is_owed_goes_before_rest_for_it_would_end_the_session(ready, make_bench, told):
    entries = [*make_bench().make_ready().live("horn").journal.entries, *latched(ready).journal.entries]
    if not told:  # how to release it
        del next(entry["body"] for entry in entries if entry["body"].get("output") == "fuel_off")["status"]
    bench = make_bench(entries)
    cranked(bench)
    bench.run(4.0)
    assert set(sent(bench)) == ({STATUS["fuel_off"]} if told else set())
    still(bench)
    bench.run(4.6, ms=20)
    assert "042fd12200000000" in sent(bench)


def test_one_owed_by_another_craft_keeps_nothing_back(ready, make_bench):
    horn = make_bench(serial=5).make_ready().live("horn").journal.entries
    bench = make_bench([*latched(ready).journal.entries, *horn], serial=5)
    cranked(bench)
    assert "042fd12200000000" in sent(bench)
    assert OFF not in sent(bench)


def test_a_craft_that_does_not_say_its_serial_gets_an_owed_release_at_rest_only(ready, make_bench):
    bench = make_bench(latched(ready).journal.entries, serial=None)
    cranked(bench)
    assert bench.run(4.0) == []
    still(bench)
    lets_go(bench)


def test_a_crank_during_an_owed_release_holds_it_again(ready, make_bench):
    bench = make_bench(latched(ready).journal.entries)
    bench.controller.mute = True
    lets_go(bench)
    cranked(bench)
    before = len(bench.sent)
    bench.run(3.0)
    assert set(sent(bench)[before:]) == {STATUS["fuel_off"]}
    still(bench)
    lets_go(bench)


@pytest.mark.parametrize("lost", ["status", "held"])
def test_an_entry_that_does_not_tell_how_to_read_it_back_releases_nothing_and_locks(ready, make_bench, lost):
    entries = latched(ready).journal.entries
    del next(entry for entry in entries if entry["kind"] == "output_start")["body"][lost]
    bench = make_bench(entries).make_ready()
    assert bench.sent == []
    assert bench.actuation.locked


def test_a_start_carried_out_after_its_press_is_released_at_rest_only(ready):
    cranked(ready)
    ready.extra.append((0x7E8, bytes.fromhex("046fd14103000000")))
    read_back(ready, "fuel_off", 3.0)
    assert "went live" in ready.actuation.locked
    still(ready)
    assert 2.0 <= lets_go(ready) <= 2.3


@pytest.mark.parametrize("every_ms", [101, 150, 400])
def test_a_loop_that_is_late_again_and_again_releases_nothing(ready, every_ms):
    cranked(latched(ready))
    end(ready)
    still(ready)
    before = len(ready.sent)
    for _ in range(30):
        ready.turn(ms=every_ms)
    assert OFF not in sent(ready)[before:]
    assert holds(ready)


def test_a_key_turned_off_is_given_up_after_ten_seconds_and_released_when_the_craft_is_back(ready):
    cranked(latched(ready))
    ready.silent.add("all")
    ready.controller._all_off(ready.clock())  # no power
    ready.run(2.2)
    assert "NOT known to hold" in ready.state.doubt
    assert ready.state.phase == "latched"
    ready.run(10.0)
    assert ready.state.phase == "not_confirmed"
    assert not ready.actuation.busy
    assert not {OFF, DEFAULT} & set(sent(ready))
    ready.silent.clear()
    ready.controller.session = 1
    still(ready)
    lets_go(ready)
    ready.run(1.0)
    assert ready.journal.of("output_end")[-1]["confirmed"] is True


def test_a_controller_that_is_mute_while_the_craft_is_heard_is_asked_for_ever(ready):
    cranked(latched(ready))
    ready.controller.mute = True
    kept(ready, 20.0)
    assert ready.state.phase == "latched"


def test_the_collector_is_back_after_it_ended(ready):
    latched(ready)
    end(ready)
    ready.run(0.5)
    assert not ready.actuation.busy
    assert gc.isenabled()


def test_a_finger_that_was_refused_because_of_an_inhibit_must_be_lifted_too(ready):
    latched(ready)
    ready.run(1.0)
    ready.press("fan")
    ready.finger = None
    ready.until(lambda: not ready.actuation.busy, 3.0)
    took = ready.clock()
    ready.press("horn", at=ready.clock())
    ready.run(0.3)
    assert PRESSED["horn"] not in sent(ready)
    assert "Lift the finger" in ready.state.cause
    assert ready.clock() - took < 1.0
