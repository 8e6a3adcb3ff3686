"""A start that a controller carries out late: released at once, and said."""

import dataclasses

import pytest
from presses import DEFAULT, RELEASE, START, hexed, last_move


def waiting(bench, seconds, output="horn"):
    """Pressed and lifted again before the controller, which takes its time, has carried out the start."""
    bench.controller.slow_s = seconds
    bench.press(output)
    bench.until(lambda: bench.controller.work)
    bench.run(0.1)
    bench.lift()
    bench.run(0.2)
    return bench


@pytest.mark.parametrize("output", ["horn", "injector_1"])
def test_a_start_carried_out_long_after_the_finger_left_is_released_as_soon_as_it_is_told(ready, output):
    waiting(ready, 3.0, output)
    ready.until(ready.controller.live)
    assert ready.state.phase == "releasing"
    ready.run(0.2)
    assert last_move(ready) <= ready.controller.delay_s + 0.006
    assert ready.state.phase == "ended"
    assert ready.actuation.locked == ""


def test_a_start_that_never_gets_its_answer_is_not_confirmed(ready):
    ready.controller.pending.add(0x2F)
    ready.press("horn")
    ready.run(0.2)
    ready.lift()
    ready.run(5.5)
    assert ready.state.phase == "releasing"
    ready.run(1.5)
    assert ready.state.phase == "not_confirmed"
    assert ready.actuation.locked


def test_a_start_carried_out_when_its_press_is_over_is_released_at_once_and_locks(ready, make_bench):
    waiting(ready, 9.0)
    ready.run(7.0)
    assert ready.state.phase == "not_confirmed"
    ready.run(0.5)
    before = len(ready.sent)
    ready.until(ready.controller.live)
    ready.run(0.2)
    assert last_move(ready) <= ready.controller.delay_s + 0.006
    assert hexed(data for _, _, data in ready.sent[before:]) == [RELEASE["horn"], DEFAULT]
    assert not ready.actuation.busy
    assert ready.actuation.locked
    assert make_bench(ready.journal.entries).actuation.locked
    ready.gate.unlock_outputs()
    ready.turn()
    assert ready.actuation.locked == ""
    assert make_bench(ready.journal.entries).actuation.locked == ""


LATE = {"horn": "056fd12203050000", "fan": "056fd12103050000", "injector_1": "066fd10103143200"}


@pytest.mark.parametrize("output", LATE)
def test_whatever_is_said_to_have_started_unasked_is_released_in_the_very_turn_and_locks(ready, output):
    ready.extra.append((0x7E8, bytes.fromhex(LATE[output])))
    assert hexed(ready.turn()) == [RELEASE[output]]
    assert ready.sent[-1][1] == 0x7E0
    ready.controller.open()
    ready.run(0.2)
    assert ready.actuation.locked == f"{output} went live after its test was over"
    assert ready.journal.of("locked")[0]["press"] == 0
    sent = len(ready.sent)
    ready.press("fan")
    ready.run(1.0)
    assert ready.state.phase == "refused"
    assert len(ready.sent) == sent
    ready.gate.unlock_outputs()
    ready.turn()
    assert ready.actuation.locked == ""


@pytest.mark.parametrize(
    ("ident", "answer"),
    [
        (0x7E9, LATE["horn"]),  # another controller
        (0x7E8, RELEASE["horn"].replace("2f", "6f", 1)),
        (0x7E8, "056fd19903050000"),  # no output of this family
        (0x7E8, "056fd12202050000"),  # another parameter
        (0x7E8, "037f2f7800000000"),
        (0x7E8, "037f2f2200000000"),
        (0x7E8, "10086fd122030500"),  # no single frame
    ],
)
def test_what_is_no_late_start_sends_and_locks_nothing(ready, ident, answer):
    ready.extra.append((ident, bytes.fromhex(answer)))
    ready.run(0.5)
    assert ready.sent == []
    assert ready.actuation.locked == ""


def test_the_yes_to_the_start_of_the_press_under_way_is_no_late_one(ready):
    ready.live("horn")
    ready.run(1.0)
    ready.lift()
    ready.run(1.0)
    assert ready.actuation.locked == ""
    assert ready.journal.of("locked") == []


def test_a_late_start_beside_a_live_output_ends_both(ready):
    ready.live("fan")
    ready.run(0.3)
    ready.extra.append((0x7E8, bytes.fromhex(LATE["horn"])))
    assert hexed(ready.turn())[-1:] == [RELEASE["fan"]]
    assert ready.state.cause == "horn went live after its test was over."
    sent = hexed(ready.run(1.0))
    assert RELEASE["horn"] in sent
    assert START["fan"] not in sent
    assert ready.actuation.locked


def test_a_late_start_while_the_same_output_is_charged_fires_nothing_and_is_released(ready):
    ready.journal.stuck = True
    ready.press("horn")
    ready.run(0.2)
    ready.extra.append((0x7E8, bytes.fromhex(LATE["horn"])))
    ready.run(0.1)
    ready.journal.stuck = False
    ready.run(3.0)
    sent = hexed(data for _, _, data in ready.sent)
    assert sent[0] == RELEASE["horn"]
    assert START["horn"] not in sent
    assert ready.actuation.locked


def test_a_late_start_while_the_same_output_is_about_to_be_fired_is_released_in_the_very_turn(ready):
    ready.controller.delay_s = 0.1
    ready.press("horn")
    ready.until(lambda: ready.sent)
    ready.extra.append((0x7E8, bytes.fromhex(LATE["horn"])))
    assert hexed(ready.turn()) == [RELEASE["horn"]]
    ready.run(3.0)
    assert START["horn"] not in hexed(data for _, _, data in ready.sent)
    assert ready.actuation.locked


def test_a_late_start_of_a_craft_that_has_not_said_its_serial_is_released_all_the_same(make_bench):
    bench = make_bench(serial=None)
    bench.controller.open()
    bench.run(2.0)
    bench.extra.append((0x7E8, bytes.fromhex(LATE["horn"])))
    assert hexed(bench.turn()) == [RELEASE["horn"]]
    bench.run(5.0)
    bench.serial = 20417
    bench.run(0.5)
    assert hexed(data for _, _, data in bench.sent) == [RELEASE["horn"], DEFAULT]
    assert bench.actuation.locked
    bench.gate.unlock_outputs()
    bench.turn()
    assert bench.actuation.locked == ""


def test_a_late_start_of_a_nameless_craft_is_not_released_in_vain_for_ever(make_bench):
    bench = make_bench(serial=None)
    bench.controller.mute = True
    bench.run(2.0)
    bench.extra.append((0x7E8, bytes.fromhex(LATE["horn"])))
    bench.run(10.0)
    sent = hexed(data for _, _, data in bench.sent)
    assert sent.count(DEFAULT) == 2  # at once, and once more because the craft does not say its name
    assert bench.state.phase == "not_confirmed"


def test_what_was_just_heard_is_released_before_what_is_owed_from_earlier(make_bench):
    bench = make_bench(make_bench().make_ready().live("horn").journal.entries)
    bench.wire.listening_only = True
    bench.run(0.5)
    bench.wire.listening_only = False
    bench.controller.open()
    bench.extra.append((0x7E8, bytes.fromhex(LATE["fan"])))
    assert hexed(bench.turn()) == [RELEASE["fan"]]
    assert RELEASE["horn"] in hexed(bench.run(1.0))


def test_a_late_start_is_released_at_the_controller_that_told_of_it(make_bench, output_plans):
    twin = dataclasses.replace(
        output_plans["fan"],
        request=0x7E1,
        response=0x7E9,
        data=dataclasses.replace(output_plans["fan"].data, key="other_fan"),
    )
    bench = make_bench(plans=output_plans | {"other_fan": twin}).make_ready()
    bench.extra.append((0x7E9, bytes.fromhex(LATE["fan"])))
    assert hexed(bench.turn()) == [RELEASE["fan"]]
    assert bench.sent[-1][1] == 0x7E1


@pytest.mark.parametrize("listening", [False, True])
def test_a_controller_that_repeats_a_late_start_for_ever_does_not_fill_the_journal(ready, listening):
    ready.wire.listening_only = listening
    for _ in range(400):
        ready.extra.append((0x7E8, bytes.fromhex(LATE["horn"])))
        ready.turn()
    assert ready.actuation.locked
    assert len(ready.journal.told) < 30


def test_a_late_start_of_fuel_begins_the_venting_and_charges_nothing_twice(ready):
    waiting(ready, 3.0, "injector_1")
    ready.until(ready.controller.live)
    ready.run(3.0)
    ready.extra.append((0x7E8, bytes.fromhex(LATE["injector_1"])))
    ready.run(2.0)
    ready.gate.unlock_outputs()
    ready.consider("injector_1")
    ready.run(0.2)
    assert {"vented", "no_smell"} <= set(ready.missing())
    room = next(need for need in ready.state.needs if need.need == "fuel_room")
    assert "0.5 of 3.0" in room.seen


def test_a_late_start_heard_while_nothing_can_be_sent_is_owed_over_a_restart(ready, make_bench):
    ready.wire.listening_only = True
    ready.extra.append((0x7E8, bytes.fromhex(LATE["horn"])))
    ready.run(0.2)
    assert ready.sent == []
    assert ready.actuation.locked
    again = make_bench(ready.journal.entries)
    again.controller.open()
    assert hexed(again.run(1.0)) == [RELEASE["horn"], DEFAULT]
    assert again.actuation.locked
